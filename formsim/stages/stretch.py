"""Stretch: a sheet clamped at a diameter is stretched over a punch."""

from __future__ import annotations

import numpy as np

from formsim.case.stage import Stretch
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Support, Tool
from formsim.solver.state import State
from formsim.stages.outlines import stretch_die_outline
from formsim.stages.plan import APART, Plan, face_points, rest_height
from formsim.stages.punch import punch_outline


def plan_stretch(
    stage: Stretch, thickness: float, body: Body, state: State, contact: Tuning
) -> Plan:
    """Tools of a stretching test and their motion; the sheet ends at the clamped diameter."""
    top, bottom = (face_points(body, state, edge) for edge in ("top", "bottom"))
    apart = APART * thickness
    punch = punch_outline(stage.punch)
    die = stretch_die_outline(stage, thickness)
    die_at = rest_height(die, bottom, apart, above=False)
    punch_at = rest_height(punch, top, apart, above=True)
    rim = body.edge_nodes("rim")
    clamped = np.concatenate([2 * rim, 2 * rim + 1])
    tools = (
        Tool("die", die, "bottom", stage.friction.die, lambda _: die_at),
        Tool("punch", punch, "top", stage.friction.punch, lambda s: punch_at - apart - s),
    )
    return Plan(
        tools=tools,
        end=stage.depth,
        reach=stage.depth,
        frame="die",
        begin=-apart,
        supports=(Support(clamped),),
    )
