"""Draw: a flat blank is drawn into a cup under a holder.

The punch stands still and the die comes up, so that the finished base does not move; the press
holds the die, to which stroke and work are told.
"""

from __future__ import annotations

from formsim.case.stage import Draw
from formsim.case.tools import Holder
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Path, Press, Tool
from formsim.solver.state import State
from formsim.stages.outlines import die_outline, holder_outline
from formsim.stages.plan import APART, NEAR, SQUEEZE, Plan, closing_press, face_points, rest_height
from formsim.stages.punch import punch_outline
from formsim.stages.through import land_end, left_die, sharp_height


def plan_draw(stage: Draw, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Tools of a draw and their motion."""
    near, apart = NEAR * contact.softness, APART * thickness
    top, bottom = (face_points(body, state, edge) for edge in ("top", "bottom"))
    punch = punch_outline(stage.punch)
    die = die_outline(stage.die, stage.punch)
    plate = holder_outline(stage.holder, stage.punch)
    at = {
        "punch": rest_height(punch, top, apart, above=True),
        "die": rest_height(die, bottom, near, above=False),
        "holder": rest_height(plate, top, near, above=True),
    }

    closing = 2.0 * SQUEEZE * thickness if is_pressed(stage.holder) else 0.0
    begin = -apart - closing

    def face(stroke: float) -> float:
        return at["die"] + max(0.0, stroke + apart)

    tools = (
        Tool("die", die, "bottom", stage.friction.die, face),
        Tool("punch", punch, "top", stage.friction.punch, lambda _: at["punch"]),
        Tool(
            "holder",
            plate,
            "top",
            stage.friction.holder,
            holder_motion(stage.holder, at["holder"] - at["die"], thickness, face, begin),
        ),
    )
    through = stage.stroke == "through"
    sharp = sharp_height(body, stage.punch.diameter)
    end = land_end(stage.die)
    done = left_die(body, stage.die, face, contact.least_force) if through else None
    return Plan(
        tools=tools,
        begin=begin,
        end=2.0 * sharp + end if through else float(stage.stroke),
        reach=sharp + end if through else float(stage.stroke),
        frame="die",
        done=done,
    )


def is_pressed(holder: Holder) -> bool:
    """Whether a force closes the holder, alone or to a gap at most."""
    return holder.force is not None or holder.max_force is not None


def holder_motion(
    holder: Holder, clear: float, thickness: float, face: Path, begin: float
) -> Path | Press:
    """Fixed gap to the die face, or a press that stops at the gap or the sheet thickness."""
    gap = thickness if holder.gap is None else holder.gap

    def lowest(stroke: float) -> float:
        return face(stroke) + gap

    force = holder.force if holder.force is not None else holder.max_force
    if force is None:
        return lowest
    return closing_press(force, thickness, lambda s: face(s) + clear, begin, lowest)
