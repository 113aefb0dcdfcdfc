"""What is told of damage beside its number: when it was reached, whether it may be bending."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools
from formsim.results.damage import DamageLaw
from formsim.results.risk_words import BEFORE
from formsim.results.trace import Trace

ONE_SIDED = 1.5
"""Damage of one half of the sheet over that of the other from which bending is named; own."""
LEAST = 0.02
"""Damage below which nothing is said of its side; our own number."""


@dataclass(frozen=True)
class Reached:
    """When a zone first came to its critical damage.

    Attributes
    ----------
    before, after : strokes of the states between which it did [mm]
    stroke : between them as if damage grew evenly [mm]
    in_increment : whether they are the ends of an increment, not two kept states
    """

    before: float
    after: float
    stroke: float
    in_increment: bool


def first_reached(trace: Trace, inside: Bools, critical: float) -> Reached | None:
    """When a zone first came to its critical damage; None where it did not.

    By the increment in which it did, where the stage was watched for it, else by the kept states.
    Of a stage that was read from a result only the last state is known, so that no stroke is.

    Parameters
    ----------
    inside : columns of the zone, (n_columns)
    critical : damage at which the sheet breaks [-]
    """
    worst = trace.damage[:, inside].max(axis=1)
    over = np.flatnonzero(worst > critical)
    if len(worst) != len(trace.strokes) or not over.size:
        return None
    after = int(over[0])
    if after == 0:
        start = float(trace.strokes[0])
        return Reached(start, start, start, in_increment=False)
    if trace.passed is not None and np.isfinite(trace.passed[inside, 2]).any():
        strokes = trace.passed[inside]
        begin, end, between = map(float, strokes[np.nanargmin(strokes[:, 2])])
        return Reached(begin, end, between, in_increment=True)
    pair = slice(after - 1, after + 1)
    begin, end = map(float, trace.strokes[pair])
    between = float(np.interp(critical, worst[pair], trace.strokes[pair]))
    return Reached(begin, end, between, in_increment=False)


def damage_words(trace: Trace, law: DamageLaw, column: int, reached: Reached | None) -> str:
    """Remarks on the damage of a column, empty where there are none.

    Parameters
    ----------
    reached : when its zone came to the limit
    """
    told = []
    if reached is not None and reached.stroke <= float(trace.strokes[0]):
        told.append(BEFORE)
    elif reached is not None:
        ends = "in the increment" if reached.in_increment else "between the kept states"
        told.append(
            f"first reached at a stroke of about {reached.stroke:.2f} mm, {ends} from"
            f" {reached.before:.2f} to {reached.after:.2f} mm"
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
