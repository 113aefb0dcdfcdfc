"""Redraw: a cup is drawn into a narrower one, over its inside or turned inside out.

The punch stands still. In a direct redraw the sleeve closes on the base, then the die moves up; in
a reverse one the ring inside the cup comes down over the base that the punch carries from below.
"""

from __future__ import annotations

from dataclasses import dataclass

from formsim.case.stage import Redraw, Stroke
from formsim.case.tools import Sleeve
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Path, Tool
from formsim.solver.state import Increment, State
from formsim.stages.draw import holder_motion, is_pressed
from formsim.stages.outlines import die_outline, reverse_die_outline, sleeve_outline
from formsim.stages.plan import (
    APART,
    NEAR,
    PRESS_OUT,
    SQUEEZE,
    Plan,
    face_points,
    rest_height,
    seat_inside,
)
from formsim.stages.punch import punch_outline
from formsim.stages.through import land_end, left_die, sharp_height


def plan_redraw(stage: Redraw, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Tools of a redraw and their motion."""
    if stage.sleeve is not None:
        return _direct(stage, stage.sleeve, thickness, body, state, contact)
    return _reverse(stage, thickness, body, state, contact)


@dataclass(frozen=True)
class Entry:
    """Die, punch and sleeve around the base of a cup.

    Attributes
    ----------
    tools : die, punch, sleeve
    face : position of the die face over the stroke [mm]
    begin : stroke at which the tools start to close [mm]
    tight : whether the wall has sprung in over the sleeve
    """

    tools: tuple[Tool, Tool, Tool]
    face: Path
    begin: float
    tight: bool


def enter_cup(
    stage: Redraw | Stroke,
    sleeve: Sleeve,
    thickness: float,
    body: Body,
    state: State,
    contact: Tuning,
) -> Entry:
    """Tools of a direct redraw: the sleeve closes on the base, then the die moves up.

    Parameters
    ----------
    thickness : of the base [mm]
    """
    near, apart = NEAR * contact.softness, APART * thickness
    inside, outside = (face_points(body, state, edge) for edge in ("top", "bottom"))
    punch = punch_outline(stage.punch)
    die = die_outline(stage.die, stage.punch)
    plate = sleeve_outline(sleeve, stage.punch)
    die_at = rest_height(die, outside, near, above=False)
    punch_at = rest_height(punch, inside, apart, above=True)
    seat = seat_inside(plate, inside, 0.5 * sleeve.diameter - sleeve.corner_radius, near)
    closing = max(0.0, seat.at - die_at - thickness) + 2.0 * SQUEEZE * thickness
    close = -apart - (closing if is_pressed(sleeve) else 0.0)

    def face(stroke: float) -> float:
        return die_at + max(0.0, stroke + apart)

    pressed = holder_motion(sleeve, seat.at - die_at, thickness, face, close)
    tools = (
        Tool("die", die, "bottom", stage.friction.die, face),
        Tool("punch", punch, "top", stage.friction.punch, lambda _: punch_at),
        Tool("sleeve", plate, "top", stage.friction.sleeve, pressed),
    )
    begin = close - (PRESS_OUT * thickness if seat.tight else 0.0)
    return Entry(tools, face, begin, seat.tight)


def _direct(
    stage: Redraw, sleeve: Sleeve, thickness: float, body: Body, state: State, contact: Tuning
) -> Plan:
    entry = enter_cup(stage, sleeve, thickness, body, state, contact)
    through = stage.stroke == "through"
    sharp, end = sharp_height(body, stage.punch.diameter), land_end(stage.die)
    done = left_die(body, stage.die, entry.face, contact.least_force)
    return Plan(
        tools=entry.tools,
        begin=entry.begin,
        end=2.0 * sharp + end if through else float(stage.stroke),
        reach=sharp + end if through else float(stage.stroke),
        frame="die",
        gentle=("sleeve",) if entry.tight else (),
        done=done if through else None,
    )


def _reverse(stage: Redraw, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    near, apart = NEAR * contact.softness, APART * thickness
    inside, outside = (face_points(body, state, edge) for edge in ("top", "bottom"))
    punch = punch_outline(stage.punch).mirrored()
    outer, crest = 0.5 * (stage.die.outer_diameter or 0.0), stage.die.outer_radius or 0.0
    ring = reverse_die_outline(stage)
    punch_at = rest_height(punch, outside, apart, above=False)
    seat = seat_inside(ring, inside, outer - crest, near)

    def crest_at(stroke: float) -> float:
        return seat.at - max(0.0, stroke + apart)

    tools = (
        Tool("die", ring, "top", stage.friction.die, crest_at),
        Tool("punch", punch, "bottom", stage.friction.punch, lambda _: punch_at),
    )
    end = land_end(stage.die)

    def done(now: State, row: Increment) -> bool:
        rim = now.places(body)[body.edge_nodes("rim")]
        in_throat = rim[:, 0].max() < 0.5 * stage.die.opening(stage.punch) + stage.die.radius
        deep = rim[:, 1].min() - crest_at(now.stroke)
        pulled = float(row.forces[0]) > contact.least_force
        return bool(in_throat and (deep > end or (deep > 0.5 * stage.die.radius and not pulled)))

    through = stage.stroke == "through"
    sharp = sharp_height(body, stage.punch.diameter)
    return Plan(
        tools=tools,
        begin=-apart - (PRESS_OUT * thickness if seat.tight else 0.0),
        end=2.0 * sharp + end if through else float(stage.stroke),
        reach=sharp + end if through else float(stage.stroke),
        frame="die",
        gentle=("die",) if seat.tight else (),
        done=done if through else None,
    )
