"""Ears that the first draw of a case must be expected to have, beside a simulation without any."""

from __future__ import annotations

from typing import Any

import numpy as np

from formsim.case.schema import Case
from formsim.case.stage import Draw, Stage, Trim
from formsim.case.workpiece import Workpiece, workpieces
from formsim.errors import TheoryRangeError
from formsim.results import shape
from formsim.results.curve import middle_line
from formsim.results.record import Line, StageRecord
from formsim.results.theory.earing import Ears, ears


def expected_ears(case: Case, stage: Stage) -> Ears | None:
    """Ears of a first draw through the die from a round blank; None where nothing tells.

    The card must have r-values by angle.
    """
    values = case.sheet.material.r_values
    first = (*case.before, *case.stages)[0]
    if not isinstance(stage, Draw) or stage is not first or case.began_with is not None:
        return None
    if values is None or not values.by_angle or stage.stroke != "through":
        return None
    wall = 0.5 * (stage.punch.diameter + case.sheet.thickness)
    try:
        return ears(values.by_angle, 0.5 * case.sheet.blank_diameter, wall)
    except TheoryRangeError:
        return None


def ears_row(case: Case, found: Ears) -> dict[str, Any]:
    """Ears in numbers: heights in mm at every 15 degrees, metal above the lowest place."""
    at = np.linspace(0.0, 90.0, 7)
    sheet = case.sheet
    blank = 0.25 * np.pi * (sheet.blank_diameter**2 - sheet.hole_diameter**2)
    return {
        "count": found.count,
        "height": found.height,
        "below_mean": found.below_mean,
        "mass": 1e-6 * found.area * sheet.thickness * sheet.material.density,
        "blank_percent": 100.0 * found.area / blank,
        "angles": at.tolist(),
        "heights": np.interp(at, found.angles, found.heights).tolist(),
    }


def earing_row(case: Case, record: StageRecord, stage: Stage) -> dict[str, Any]:
    """Keys that expected ears add to the row of a stage, the highest square cut with them."""
    found = expected_ears(case, stage)
    if found is None or not record.complete:
        return {}
    clear = shape.height(record.body, record.final) - found.below_mean
    return {"ears": ears_row(case, found) | {"highest_cut": clear}}


def foreseen_valley(case: Case, number: int) -> float:
    """How far valleys lie below the mean rim that a trim is given, by nominal sizes [mm].

    Parameters
    ----------
    number : of the trim among the stages of the case, from 0

    The ring model says it of the drawn cup. Behind it a slab of ears keeps its volume, so it gets
    longer as the section of the wall, circumference times thickness, gets smaller: an own estimate,
    which takes the ears to be stretched like the mean of the rim. Zero where nothing tells, and
    behind an earlier trim.
    """
    made = (*case.before, *case.stages[:number])
    found = expected_ears(case, made[0]) if made else None
    if found is None or any(isinstance(stage, Trim) for stage in made):
        return 0.0
    given = tuple(workpieces(case.sheet, (*made, case.stages[number]), case.began_with))
    drawn, received = given[1], given[-1]
    if drawn is None or received is None:
        return found.below_mean
    return found.below_mean * _section(drawn) / _section(received)


def valley(case: Case, line: Line, number: int) -> float:
    """How far valleys lie below the mean rim that a trim of a run was given [mm].

    As ``foreseen_valley``, but the simulated columns at the rim say how much longer it got; where
    the draw belongs to an earlier result, nominal sizes do.
    """
    foreseen = foreseen_valley(case, number)
    found = expected_ears(case, case.stages[0])
    if foreseen == 0.0 or found is None:
        return foreseen
    return _length_now(line.stages[0], line.stages[number - 1], found.below_mean)


def _section(wall: Workpiece) -> float:
    """Section of a wall at its rim, over pi [mm2]."""
    return (wall.inner + wall.thickest) * wall.thickest


def _length_now(then: StageRecord, now: StageRecord, length: float) -> float:
    """Length of the metal at the rim that was so long when an earlier stage had made it [mm]."""
    first, last = (
        middle_line(one.body, one.passed_on.places(one.body)).arc_length() for one in (then, now)
    )
    lines = np.arange(len(first), dtype=np.float64)
    below = float(np.interp(first[-1] - length, first, lines))
    return float(last[-1] - np.interp(below, lines, last))
