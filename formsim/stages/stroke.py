"""Stroke: redraw, rings and dome in one continuous travel of one punch.

Die, rings and dome tool stand behind each other and move up together; the dome tool so far behind
the last ring that the rim is out of it before the base is reached.
"""

from __future__ import annotations

from formsim.case.stage import Stroke
from formsim.case.tools import Clamp, DomeTool, smallest_gap
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Path, Press, Tool
from formsim.solver.state import State
from formsim.stages.dome import clamp_outline
from formsim.stages.iron import (
    STRIDE,
    left_rings,
    rim_guard,
    ring_tools,
    stretched_wall,
    wall_height,
    ways_back,
)
from formsim.stages.outlines import dome_outline
from formsim.stages.plan import SQUEEZE, Plan
from formsim.stages.redraw import enter_cup

CLEAR = 3.0
"""Way from the last ring to the dome tool beyond the height of the ironed wall [mm]."""


def plan_stroke(stage: Stroke, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Tools of a body stroke and their motion; ``thickness`` is that of the blank."""
    entry = enter_cup(stage, stage.sleeve, thickness, body, state, contact)
    lead = stage.rings[0].spacing or 0.0

    def first(stroke: float) -> float:
        return entry.face(stroke) - lead

    gap = smallest_gap(stage.punch, stage.rings)
    rings = ring_tools(stage.rings, stage.friction.ring, first)
    tall = wall_height(body, stage.punch, gap)
    way = lead + ways_back(stage.rings)[-1] + stage.rings[-1].land
    done = left_rings(body, stage.rings, first, len(entry.tools), contact.least_force)
    end = way + tall + CLEAR
    punch_at = float(entry.tools[1].start(entry.begin))
    dome = _dome_tools(stage, stage.dome, thickness, punch_at - thickness, end)
    return Plan(
        tools=(*entry.tools, *rings, *dome),
        begin=entry.begin,
        end=end + (stage.depth or 0.0),
        reach=end + (stage.depth or 0.0),
        frame="die",
        gentle=("sleeve",) if entry.tight else (),
        stride=STRIDE,
        jerky=True,
        done=None if dome else done,
        fails=stretched_wall(body, stage.punch, stage.rings, first),
        guard=rim_guard(body, state, gap),
        squeezed=gap,
    )


def _dome_tools(
    stage: Stroke, dome: DomeTool | None, thickness: float, base: float, arrival: float
) -> tuple[Tool, ...]:
    """Dome tool, and clamp just ahead of it, that reach the base at a stroke.

    Parameters
    ----------
    base : height of the lower face of the base on the punch [mm]
    arrival : stroke at which the dome tool comes to that height [mm]
    """
    if dome is None:
        return ()
    crown = dome_outline(dome)
    friction = stage.friction
    tools = [Tool("dome", crown, "bottom", friction.dome, lambda s: base + s - arrival)]
    if stage.clamp is not None:
        ring = clamp_outline(stage.punch, stage.clamp, 0.5 * dome.diameter, thickness)
        motion = _clamp_motion(stage.clamp, thickness, base, arrival - 2.0 * SQUEEZE * thickness)
        tools.append(Tool("clamp", ring, "bottom", friction.clamp, motion))
    return tuple(tools)


def _clamp_motion(clamp: Clamp, thickness: float, base: float, arrival: float) -> Path | Press:
    """Coming up with the other tools, then pressed by a force or stopped at a gap."""

    def seat(stroke: float) -> float:
        return base + stroke - arrival

    if clamp.force is not None:
        return Press(-clamp.force, seat, clamp.force / (SQUEEZE * thickness))
    stop = base if clamp.gap is None else base + thickness - clamp.gap
    return lambda stroke: min(stop, seat(stroke))
