"""What is told of damage beside its number: when it was reached, whether it may be bending."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Bools
from formsim.results.damage import DamageLaw
from formsim.results.risk_words import BEFORE
from formsim.results.trace import Trace

ONE_SIDED = 1.5
"""Damage of one half of the sheet over that of the other from which bending is named; own."""
LEAST = 0.02
"""Damage below which nothing is said of its side; our own number."""


def stroke_reached(trace: Trace, inside: Bools, critical: float) -> float | None:
    """Stroke at which a zone first came to its critical damage [mm]; None where it did not.

    Between the kept states damage is taken to grow evenly. Of a stage that was read from a result
    only the last state is known, so that no stroke is.

    Parameters
    ----------
    inside : columns of the zone, (n_columns)
    critical : damage at which the sheet breaks [-]
    """
    worst = trace.damage[:, inside].max(axis=1)
    over = np.flatnonzero(worst > critical)
    if len(worst) != len(trace.strokes) or not over.size:
        return None
    first = int(over[0])
    if first == 0:
        return float(trace.strokes[0])
    pair = slice(first - 1, first + 1)
    return float(np.interp(critical, worst[pair], trace.strokes[pair]))


def _kept_around(trace: Trace, stroke: float) -> tuple[float, float]:
    """Strokes of the kept states between which a stroke lies [mm]."""
    after = int(np.searchsorted(trace.strokes, stroke))
    return float(trace.strokes[max(after - 1, 0)]), float(trace.strokes[after])


def damage_words(trace: Trace, law: DamageLaw, column: int, stroke: float | None) -> str:
    """Remarks on the damage of a column, empty where there are none.

    Parameters
    ----------
    stroke : at which its zone came to the limit [mm]
    """
    told = []
    if stroke is not None and stroke <= float(trace.strokes[0]):
        told.append(BEFORE)
    elif stroke is not None:
        before, after = _kept_around(trace, stroke)
        told.append(
            f"first reached at a stroke of about {stroke:.2f} mm, between the kept states at"
            f" {before:.2f} and {after:.2f} mm"
        )
    layers = law.layers(trace.integrals[-1, column])
    most, other = float(max(layers[0], layers[-1])), float(min(layers[0], layers[-1]))
    one_sided = most >= ONE_SIDED * max(other, 0.0) and most >= float(layers.max())
    if len(layers) > 1 and most >= LEAST and one_sided:
        side = "top (in a cup the inside)" if layers[-1] == most else "bottom"
        told.append(
            f"most of it at the {side} face, {most:.3g} against {max(other, 0.0):.3g} at the other:"
            " it may be bending over a small radius, of which tensile tests say little"
        )
    return "; ".join(told)
