"""Iron: the wall of a cup is squeezed between its punch and rings that come up outside it.

The punch stands still inside the cup; all rings move together, their lands at fixed distances.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from formsim.case.stage import Iron
from formsim.case.tools import Punch, Ring, smallest_gap
from formsim.errors import ConvergenceError
from formsim.geometry.outline import Outline
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Path, Tool
from formsim.solver.state import Increment, State
from formsim.stages import shapes
from formsim.stages.drawn import outline_of
from formsim.stages.plan import (
    APART,
    NEAR,
    PRESS_OUT,
    Fails,
    Plan,
    face_points,
    rest_height,
    seat_inside,
)
from formsim.stages.punch import punch_outline
from formsim.stages.roles import RING
from formsim.stages.shapes import CONE
from formsim.stages.wall import rim_thickness

STRETCHED, RIM = 0.93, 8
"""Share of a ring's gap below which the wall behind it has been stretched and not ironed; the
columns before the rim that are left out."""

REMEDY = "a wider ring or one more ring, less friction at the rings, more at the punch"

STRIDE = 0.3
"""Longest increment over the usual one: elements pass a land one by one, and the work of the press
is off by 1 per cent with the usual one, by a third of that here."""

GUARD = 1.2
"""Resistance that keeps the rim from folding up behind the last ring, in yield stresses, for a
logarithmic reduction of one."""


def ring_outline(ring: Ring) -> Outline:
    """Outline of a ring with the entry side of its land at z = 0."""
    return outline_of(
        ring.outline,
        RING,
        lambda: shapes.ironing_ring(
            0.5 * ring.bore, ring.entry_angle, ring.entry_radius, ring.land, ring.exit_angle
        ),
    )


def ways_back(rings: Sequence[Ring]) -> list[float]:
    """Way of every ring's land behind that of the first one [mm]."""
    ways = [0.0]
    for ring in rings[1:]:
        ways.append(ways[-1] + (ring.spacing or 0.0))
    return ways


def ring_names(rings: Sequence[Ring]) -> list[str]:
    """``ring``, or ``ring-1``, ``ring-2``, ... where there are several."""
    return ["ring"] if len(rings) == 1 else [f"ring-{n}" for n in range(1, len(rings) + 1)]


def ring_tools(rings: Sequence[Ring], friction: float, first: Path) -> list[Tool]:
    """Rings that move together; ``first`` is the position of the first one's land."""

    def behind(way: float) -> Path:
        return lambda stroke: first(stroke) - way

    return [
        Tool(name, ring_outline(ring), "bottom", friction, behind(way))
        for name, ring, way in zip(ring_names(rings), rings, ways_back(rings), strict=True)
    ]


def left_rings(
    body: Body, rings: Sequence[Ring], first: Path, number: int, least_force: float
) -> Callable[[State, Increment], bool]:
    """Whether the rim is out of the last ring and no ring is pressed any more.

    Parameters
    ----------
    number : of the first ring among the tools
    """
    out = ways_back(rings)[-1] + rings[-1].land

    def done(now: State, row: Increment) -> bool:
        top = now.places(body)[body.edge_nodes("rim"), 1].max()
        pressed = np.abs(row.forces[number : number + len(rings)]).max() > least_force
        return bool(first(now.stroke) - out > top and not pressed)

    return done


def stretched_wall(body: Body, punch: Punch, rings: Sequence[Ring], first: Path) -> Fails:
    """Says when the wall behind a ring is thinner than its gap: it has yielded there."""
    volume = body.volume.sum(axis=1)
    columns = body.columns
    gaps = [0.5 * (ring.bore - punch.diameter) for ring in rings]
    names = ring_names(rings)

    def fails(now: State, _: tuple[Increment, ...]) -> ConvergenceError | None:
        if columns is None:
            return None
        lines = now.places(body)[columns.lines + columns.layers]
        middle, step = 0.5 * (lines[1:] + lines[:-1]), np.diff(lines, axis=0)
        area = 2.0 * np.pi * middle[:, 0] * np.hypot(step[:, 0], step[:, 1])
        thickness = volume.reshape(columns.count, -1).sum(axis=1) / area
        upright = (middle[:, 0] > 0.5 * punch.diameter) & (np.abs(step[:, 1]) > np.abs(step[:, 0]))
        allowed = np.zeros(columns.count)
        for way, ring, gap in zip(ways_back(rings), rings, gaps, strict=True):
            land = first(now.stroke) - way
            entered = (allowed > 0.0) & (middle[:, 1] < land + CONE * 0.5 * ring.bore)
            allowed[entered | (middle[:, 1] < land - ring.land)] = gap
        thin = np.flatnonzero(upright[:-RIM] & (thickness < STRETCHED * allowed)[:-RIM])
        if not thin.size:
            return None
        k = int(thin[(thickness[thin] / allowed[thin]).argmin()])
        name = names[gaps.index(allowed[k])]
        message = (
            f"the wall has yielded behind {name}: it is {thickness[k]:.4f} mm thick there,"
            f" {100.0 * thickness[k] / allowed[k]:.0f} % of the gap of {allowed[k]:.4f} mm,"
            f" stroke {now.stroke:.3f} mm"
        )
        facts = {"stroke": now.stroke}
        return ConvergenceError(message, reason="broken", facts=facts, hint=REMEDY)

    return fails


def rim_guard(body: Body, state: State, gap: float) -> float:
    """Strength of the resistance at the rim, as much as the reduction asks for [-]."""
    return GUARD * max(0.0, float(np.log(rim_thickness(body, state) / gap)))


def wall_height(body: Body, punch: Punch, thickness: float) -> float:
    """Height the wall would have if all metal stood in it, ironed to a thickness [mm]."""
    return float(body.volume.sum()) / (np.pi * (punch.diameter + thickness) * thickness)


def plan_iron(stage: Iron, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Tools of an ironing stroke and their motion."""
    near, apart = NEAR * contact.softness, APART * thickness
    inside, outside = (face_points(body, state, edge) for edge in ("top", "bottom"))
    punch, ways = punch_outline(stage.punch), ways_back(stage.rings)
    seat = seat_inside(punch, inside, 0.5 * stage.punch.diameter - stage.punch.nose_radius, near)
    start = min(
        rest_height(ring_outline(ring), outside, apart, above=False) + way
        for ring, way in zip(stage.rings, ways, strict=True)
    )

    def first(stroke: float) -> float:
        return start + max(0.0, stroke + apart)

    tools = [
        Tool("punch", punch, "top", stage.friction.punch, lambda _: seat.at),
        *ring_tools(stage.rings, stage.friction.ring, first),
    ]
    through = stage.stroke == "through"
    now = float(state.places(body)[:, 1].max()) - start
    gap = smallest_gap(stage.punch, stage.rings)
    tallest = wall_height(body, stage.punch, gap)
    return Plan(
        tools=tuple(tools),
        begin=-apart - (PRESS_OUT * thickness if seat.tight else 0.0),
        end=now + tallest + ways[-1] if through else float(stage.stroke),
        reach=min(tallest, 1.3 * now) + ways[-1] if through else float(stage.stroke),
        frame=ring_names(stage.rings)[0],
        gentle=("punch",) if seat.tight else (),
        stride=STRIDE,
        jerky=True,
        done=left_rings(body, stage.rings, first, 1, contact.least_force) if through else None,
        fails=stretched_wall(body, stage.punch, stage.rings, first),
        guard=rim_guard(body, state, gap),
        squeezed=gap,
    )
