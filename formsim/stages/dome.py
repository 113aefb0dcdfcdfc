"""Dome: the base of a cup is pressed over a dome tool while its nose is held.

The punch stands still inside the cup; first the clamp ring closes, then the dome tool comes up.
"""

from __future__ import annotations

from formsim.case.stage import Dome
from formsim.case.tools import Clamp, Punch
from formsim.geometry.outline import Outline
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Path, Press, Tool
from formsim.solver.state import State
from formsim.stages import shapes
from formsim.stages.drawn import outline_of
from formsim.stages.outlines import dome_outline
from formsim.stages.plan import (
    APART,
    NEAR,
    PRESS_OUT,
    SQUEEZE,
    Plan,
    closing_press,
    face_points,
    rest_height,
    seat_inside,
)
from formsim.stages.punch import punch_outline
from formsim.stages.roles import clamp_role


def plan_dome(stage: Dome, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Tools of a dome press and their motion.

    The punch comes to rest on the base; a wall that has sprung inwards is pressed out by it.
    """
    top, bottom = (face_points(body, state, edge) for edge in ("top", "bottom"))
    near, apart = NEAR * contact.softness, APART * thickness
    punch = punch_outline(stage.punch)
    crown = dome_outline(stage.dome)
    seat = seat_inside(punch, top, 0.5 * stage.punch.diameter - stage.punch.nose_radius, near)
    punch_at = seat.at
    dome_at = rest_height(crown, bottom, apart, above=False)
    ring, closing = None, 0.0
    if stage.clamp is not None:
        ring = clamp_outline(stage.punch, stage.clamp, 0.5 * stage.dome.diameter, thickness)
        ring_at = rest_height(ring, bottom, apart, above=False)
        closed = punch_at - thickness
        closing = max(0.0, closed - ring_at) + 2.0 * SQUEEZE * thickness
    clamp_begin = -apart - closing
    begin = clamp_begin - (PRESS_OUT * thickness if seat.tight else 0.0)
    tools = [
        Tool("punch", punch, "top", stage.friction.punch, lambda _: punch_at),
        Tool("dome", crown, "bottom", stage.friction.dome, lambda s: dome_at + max(0.0, s + apart)),
    ]
    if ring is not None and stage.clamp is not None:
        motion = _clamp_motion(stage.clamp, ring_at, closed, thickness, clamp_begin)
        tools.append(Tool("clamp", ring, "bottom", stage.friction.clamp, motion))
    return Plan(
        tools=tuple(tools),
        begin=begin,
        end=stage.depth,
        reach=stage.depth,
        frame="punch",
        gentle=("punch",) if seat.tight else (),
    )


def clamp_outline(punch: Punch, clamp: Clamp, dome_radius: float, thickness: float) -> Outline:
    """Clamp ring below the nose: drawn, flat, or along the taper of a ringed punch."""
    role = clamp_role(tapered=punch.nose_ring is not None)
    return outline_of(
        clamp.outline, role, lambda: _built_clamp(punch, clamp, dome_radius, thickness)
    )


def _built_clamp(punch: Punch, clamp: Clamp, dome_radius: float, thickness: float) -> Outline:
    ring = punch.nose_ring
    if ring is not None:
        return shapes.taper_ring(
            0.5 * punch.diameter,
            0.5 * ring.diameter,
            ring.radius,
            ring.height,
            thickness,
            thickness,
        )
    flat_to = 0.5 * punch.diameter - punch.nose_radius
    hollow = punch.cavity.diameter if punch.cavity and punch.cavity.diameter else 2.0 * dome_radius
    inner = 0.5 * (clamp.inner_diameter or hollow)
    outer = 0.5 * (clamp.outer_diameter or 2.0 * flat_to)
    edge = min(2.0 * thickness, 0.3 * (outer - inner))
    return shapes.flat_ring(inner, outer, edge)


def _clamp_motion(
    clamp: Clamp, at: float, closed: float, thickness: float, begin: float
) -> Path | Press:
    """Closing to a fixed gap from the punch face, or pressed up by a force."""
    if clamp.force is not None:
        return closing_press(-clamp.force, thickness, lambda _: at, begin)
    to = closed if clamp.gap is None else closed + thickness - clamp.gap
    return lambda stroke: min(to, at + max(0.0, stroke - begin))
