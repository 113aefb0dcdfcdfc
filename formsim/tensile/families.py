"""The laws that are fitted: their constants, bands, and where to start."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from types import MappingProxyType
from typing import Any

import numpy as np
from pydantic import BaseModel

from formsim.arrays import Floats
from formsim.case import card
from formsim.case.quantity import Quantity
from formsim.material.flow import FlowCurve
from formsim.material.model import curve_of

Constants = dict[str, float]

_SMALL_RATE = 1e-3
"""Saturation rate below which a law is a straight line; it keeps its logarithm finite [-]."""


@dataclass(frozen=True)
class Points:
    """Mean points of all tests, evenly spread over the plastic strain, (n).

    Attributes
    ----------
    strain : plastic logarithmic strain [-]
    stress : true stress [MPa]
    """

    strain: Floats
    stress: Floats


def stretch_means(points: Points, count: int, begin: float, end: float) -> Points:
    """Means over equal stretches between two plastic strains, without those that are empty."""
    place = np.minimum((count * (points.strain - begin) / (end - begin)).astype(int), count - 1)
    number = np.bincount(place, minlength=count)
    there = number > 0
    strain, stress = (
        np.bincount(place, values, count)[there] / number[there]
        for values in (points.strain, points.stress)
    )
    return Points(strain, stress)


@dataclass(frozen=True)
class Family:
    """One law, in unknowns that a least-squares search moves evenly.

    Attributes
    ----------
    kind : as a card names it
    constants : constants of the card from the unknowns
    low, high : bounds of the unknowns, from the bands of the card
    starts : first unknowns of several searches
    """

    kind: str
    constants: Callable[[Floats], Constants]
    low: tuple[float, ...]
    high: tuple[float, ...]
    starts: Callable[[Points], list[tuple[float, ...]]]

    def curve(self, u: Floats, young: float) -> FlowCurve:
        """Flow curve of the unknowns, for a Young's modulus [MPa]."""
        return curve_of(self.kind, self.constants(u), young)


def band(table: type[BaseModel], name: str) -> tuple[float, float]:
    """Band of a constant of a card."""
    notes: Sequence[Any] = table.model_fields[name].metadata
    quantity = next(note for note in notes if isinstance(note, Quantity))
    return quantity.low, quantity.high


def _log(table: type[BaseModel], name: str, least: float = 0.0) -> tuple[float, float]:
    low, high = band(table, name)
    return float(np.log(max(low, least))), float(np.log(high))


def _bounds(*bands: tuple[float, float]) -> dict[str, tuple[float, ...]]:
    low, high = zip(*bands, strict=True)
    return {"low": low, "high": high}


def _saturating(points: Points, power: float) -> list[tuple[float, ...]]:
    """Yield stress, drop and log rate of a law that saturates over a power of the strain."""
    first, last = float(points.stress[0]), float(points.stress[-1])
    reach = float(points.strain[-1])
    rise = max(last - first, 1.0)
    return [
        (0.95 * first, drop * rise, float(np.log(turns / reach**power)))
        for turns, drop in product((1.0, 3.0), (1.2, 2.0))
    ]


def _hockett_starts(points: Points) -> list[tuple[float, ...]]:
    return [(*start, power) for power in (0.6, 1.0) for start in _saturating(points, power)]


def _swift_starts(points: Points) -> list[tuple[float, ...]]:
    last, reach = float(points.stress[-1]), float(points.strain[-1])
    return [
        (float(np.log(last / (before + reach) ** power)), float(np.log(before)), power)
        for before, power in product((1e-4, 3e-3, 3e-2), (0.1, 0.3))
    ]


def _hollomon_starts(points: Points) -> list[tuple[float, ...]]:
    last, reach = float(points.stress[-1]), float(points.strain[-1])
    return [(float(np.log(last / reach**power)), power) for power in (0.1, 0.3)]


def _ludwik_starts(points: Points) -> list[tuple[float, ...]]:
    first, last, reach = (
        float(points.stress[0]),
        float(points.stress[-1]),
        float(points.strain[-1]),
    )
    rise = max(last - first, 1.0)
    return [(0.9 * first, rise / reach**power, power) for power in (0.2, 0.4, 0.7)]


FAMILIES: Mapping[str, Family] = MappingProxyType(
    {
        "voce": Family(
            "voce",
            lambda u: {"saturation": u[0] + u[1], "drop": u[1], "rate": float(np.exp(u[2]))},
            starts=lambda points: _saturating(points, 1.0),
            **_bounds(
                band(card.Voce, "saturation"),
                band(card.Voce, "drop"),
                _log(card.Voce, "rate", _SMALL_RATE),
            ),
        ),
        "swift": Family(
            "swift",
            lambda u: {
                "strength": float(np.exp(u[0])),
                "prestrain": float(np.exp(u[1])),
                "exponent": u[2],
            },
            starts=_swift_starts,
            **_bounds(
                _log(card.Swift, "strength"),
                _log(card.Swift, "prestrain"),
                band(card.Swift, "exponent"),
            ),
        ),
        "hollomon": Family(
            "hollomon",
            lambda u: {"strength": float(np.exp(u[0])), "exponent": u[1]},
            starts=_hollomon_starts,
            **_bounds(_log(card.Hollomon, "strength"), band(card.Hollomon, "exponent")),
        ),
        "ludwik": Family(
            "ludwik",
            lambda u: {"yield_stress": u[0], "strength": u[1], "exponent": u[2]},
            starts=_ludwik_starts,
            **_bounds(
                band(card.Ludwik, "yield_stress"),
                band(card.Ludwik, "strength"),
                band(card.Ludwik, "exponent"),
            ),
        ),
        "hockett_sherby": Family(
            "hockett_sherby",
            lambda u: {
                "saturation": u[0] + u[1],
                "drop": u[1],
                "rate": float(np.exp(u[2])),
                "exponent": u[3],
            },
            starts=_hockett_starts,
            **_bounds(
                band(card.HockettSherby, "saturation"),
                band(card.HockettSherby, "drop"),
                _log(card.HockettSherby, "rate", _SMALL_RATE),
                band(card.HockettSherby, "exponent"),
            ),
        ),
    }
)
