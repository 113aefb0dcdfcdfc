"""How flow stress goes with the strain rate: one factor on the whole flow curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from formsim.arrays import Floats

QUASI_STATIC = 1.0e-3
"""Strain rate of a slow tensile test, below which a root of the rate is made a straight line [1/s];
common practice, no source."""


class RateLaw(Protocol):
    """Factor on the flow stress over the plastic strain rate."""

    def factor(self, rate: npt.ArrayLike) -> Floats:
        """Flow stress over that of the card [-] at plastic strain rates [1/s], any shape."""
        ...

    @property
    def constants(self) -> tuple[float, float, float, float]:
        """Offset, slowest rate, unit of the rate and power, see ``_factor``."""
        ...


def _factor(law: RateLaw, rate: npt.ArrayLike) -> Floats:
    """``offset + (rate/unit)**power`` from the slowest rate on, a straight line from 1 before."""
    offset, slowest, unit, power = law.constants
    given = np.asarray(rate, dtype=np.float64)
    least = offset + (slowest / unit) ** power
    power_part = offset + (np.maximum(given, slowest) / unit) ** power
    straight = 1.0 + (least - 1.0) * np.maximum(given, 0.0) / slowest
    return np.where(given < slowest, straight, power_part)


@dataclass(frozen=True)
class CowperSymonds:
    """``factor = 1 + (rate/doubling_rate)**(1/exponent)``; the card holds the static curve.

    At zero rate the root is vertical; below ``QUASI_STATIC`` it is a straight line from 1.
    Source: G. R. Cowper and P. S. Symonds, Technical Report 28, Brown University, 1957, as given
    in N. Jones, Structural Impact (memory).

    Attributes
    ----------
    doubling_rate : plastic strain rate at which the flow stress is twice the static one [1/s]
    exponent : root of the rate that is taken, 1 or more [-]
    """

    doubling_rate: float
    exponent: float

    def factor(self, rate: npt.ArrayLike) -> Floats:
        """Flow stress over the static one [-] at plastic strain rates [1/s], any shape."""
        return _factor(self, rate)

    @property
    def constants(self) -> tuple[float, float, float, float]:
        """Offset, slowest rate, unit of the rate and power."""
        return 1.0, QUASI_STATIC, self.doubling_rate, 1.0 / self.exponent


@dataclass(frozen=True)
class PowerLaw:
    """``factor = (rate/card_rate)**exponent``; at rest 1.

    Up to 2.7 times the rate of the card's tests, ``card_rate (1 - exponent)**(-1/exponent)``, it is
    the straight line from 1 that touches the power: a corner there would have no return mapping.
    Source: common practice for sheet (the rate sensitivity m of a tensile test), no source.

    Attributes
    ----------
    card_rate : plastic strain rate at which the flow curve of the card holds [1/s]
    exponent : rate sensitivity m [-]
    """

    card_rate: float
    exponent: float

    def factor(self, rate: npt.ArrayLike) -> Floats:
        """Flow stress over that of the card [-] at plastic strain rates [1/s], any shape."""
        return _factor(self, rate)

    @property
    def constants(self) -> tuple[float, float, float, float]:
        """Offset, slowest rate, unit of the rate and power."""
        m = self.exponent
        touches = (1.0 - m) ** (-1.0 / m) if m > 0.0 else 1.0
        return 0.0, self.card_rate * touches, self.card_rate, m
