"""Iron: the wall of a cup is squeezed between its punch and rings that come up outside it.

The punch stands still inside the cup; all rings move together, their lands at fixed distances.
"""

from __future__ import annotations

from formsim.case.stage import Iron
from formsim.case.tools import Ring, smallest_gap
from formsim.geometry.outline import Outline
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Tool
from formsim.solver.state import Increment, State
from formsim.stages import shapes
from formsim.stages.plan import (
    APART,
    NEAR,
    PRESS_OUT,
    Plan,
    face_points,
    rest_height,
    seat_inside,
)
from formsim.stages.punch import punch_outline

GUARDED = 6
"""Columns before the rim that are kept from folding up behind the last ring."""


def ring_outline(ring: Ring) -> Outline:
    """Outline of a ring with the entry side of its land at z = 0."""
    return shapes.ironing_ring(
        0.5 * ring.bore, ring.entry_angle, ring.entry_radius, ring.land, ring.exit_angle
    )


def plan_iron(stage: Iron, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Tools of an ironing stroke and their motion; ``thickness`` is the smallest gap."""
    near, apart = NEAR * contact.softness, APART * thickness
    inside, outside = (face_points(body, state, edge) for edge in ("top", "bottom"))
    punch = punch_outline(stage.punch)
    seat = seat_inside(punch, inside, 0.5 * stage.punch.diameter - stage.punch.nose_radius, near)
    outlines = [ring_outline(ring) for ring in stage.rings]
    behind = [0.0]
    for ring in stage.rings[1:]:
        behind.append(behind[-1] + (ring.spacing or 0.0))
    first = min(
        rest_height(outline, outside, apart, above=False) + back
        for outline, back in zip(outlines, behind, strict=True)
    )
    tools = [Tool("punch", punch, "top", stage.friction.punch, lambda _: seat.at)]
    for number, (outline, back) in enumerate(zip(outlines, behind, strict=True), start=1):
        name = "ring" if len(outlines) == 1 else f"ring-{number}"
        at = first - back

        def path(stroke: float, at: float = at) -> float:
            return at + max(0.0, stroke + apart)

        tools.append(Tool(name, outline, "bottom", stage.friction.ring, path))
    through = stage.stroke == "through"
    out = stage.rings[-1].land + behind[-1]

    def done(now: State, row: Increment) -> bool:
        top = now.places(body)[body.edge_nodes("rim"), 1].max()
        pressed = abs(row.forces[1:]).max() > contact.least_force
        return bool(first + now.stroke + apart - out > top and not pressed)

    places = state.places(body)
    height = float(places[:, 1].max()) - first
    wall = float(body.volume.sum()) / (3.14159 * stage.punch.diameter * thickness)
    return Plan(
        tools=tuple(tools),
        begin=-apart - (PRESS_OUT * thickness if seat.tight else 0.0),
        end=height + 2.0 * wall + out if through else float(stage.stroke),
        reach=height + out if through else float(stage.stroke),
        frame="ring" if len(outlines) == 1 else "ring-1",
        gentle=("punch",) if seat.tight else (),
        done=done if through else None,
        guarded=GUARDED,
        squeezed=smallest_gap(stage.punch, stage.rings),
    )
