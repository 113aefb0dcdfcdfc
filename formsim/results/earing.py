"""Ears that the first draw of a case must be expected to have, beside a simulation without any."""

from __future__ import annotations

from typing import Any

import numpy as np

from formsim.case.schema import Case
from formsim.case.stage import Draw, Stage
from formsim.errors import TheoryRangeError
from formsim.results import shape
from formsim.results.record import StageRecord
from formsim.results.theory.earing import Ears, ears


def expected_ears(case: Case, stage: Stage) -> Ears | None:
    """Ears of a first draw through the die from a round blank; None where nothing tells.

    The card must have r-values by angle.
    """
    values = case.sheet.material.r_values
    if not isinstance(stage, Draw) or stage is not case.stages[0] or case.start is not None:
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
