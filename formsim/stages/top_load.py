"""Top load: a body between a plate or a lid at its rim and a stand under its base, until it folds.

The stand comes up from below, after the inside pressure; which of the two moves makes no
difference to the body. A plate bears on whatever the rim turns towards it, its end face or its
inner face once it is flanged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from formsim.case.stage import TopLoad
from formsim.errors import ConvergenceError, GeometryError
from formsim.geometry.outline import chain
from formsim.material.model import Material
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Path, Pressure, Support, Tool
from formsim.solver.state import Increment, State
from formsim.stages.gauges import strength_gauges
from formsim.stages.plan import NEAR, GivesWay, Plan
from formsim.stages.pressurise import gave_way, stand
from formsim.stages.wall import held_line, hold_axially, hold_seam, wall_strength

CLEAR = 0.1
"""Gap of the stand while the pressure comes on, over the radius of the body: the base grows."""

RAMP = 5.0
"""Stroke in which the pressure comes on, in thicknesses."""

STRIDE = 0.5
"""Longest increment over the usual one; the crush load changes by 0.2 % with a quarter of it."""

SLIGHT = 0.02
"""Share of the load at which the wall yields below which a peak is only the tools touching."""

FALLEN = 0.8
"""Share of its peak to which the load has fallen when the body is crushed."""

FARTHEST = 0.15
"""Travel over the height of the body at which one that is not crushed is left."""


def plan_top_load(
    stage: TopLoad,
    thickness: float,
    body: Body,
    material: Material,
    state: State,
    contact: Tuning,
) -> Plan:
    """Plate or lid, stand and inside pressure; ``thickness`` is that of the blank.

    Raises
    ------
    GeometryError : the plate is smaller than the rim, or there is no wall to hold
    """
    places = state.places(body)
    bears, _ = wall_strength(body, material, state, held_line(body, state, 0.0))
    end, clear, begin = FARTHEST * float(np.ptp(places[:, 1])), 0.0, 0.0
    tools, supports, pressures = list[Tool](), list[Support](), list[Pressure]()
    if stage.pressure:
        begin, clear = -RAMP * thickness, CLEAR * float(places[:, 0].max())
        inside = stage.pressure
        pressures.append(Pressure("top", 1.0, given=lambda s: inside * min(1.0, 1.0 - s / begin)))
    if stage.base == "held":
        supports.append(_lifted(body, state))
    else:
        base = stand(body, state, contact, stage.friction)
        tools.append(replace(base, motion=_rising(base.start(0.0) - clear)))
    if stage.rim == "lid":
        supports.append(hold_seam(body, state))
    else:
        tools += _plate(stage, body, state, contact)
    return Plan(
        tools=tuple(tools),
        begin=begin,
        end=end + clear,
        reach=clear + 0.2 * end,
        frame="",
        pressures=tuple(pressures),
        supports=tuple(supports),
        done=_fallen(SLIGHT * bears, end + clear),
        gives_way=_burst(stage),
        stride=STRIDE,
        gauges=strength_gauges(body, state),
        lid="support" if stage.rim == "lid" else "",
        load=lambda row: axial_load(row) if row.stroke > 0.0 else 0.0,
        specimen=True,
    )


def axial_load(row: Increment) -> float:
    """Axial load of an increment: on the stand, or on the plate over a held wall [N]."""
    return float(np.maximum(row.forces, -row.forces).max())


def _rising(low: float) -> Path:
    """Path of the stand: it waits until stroke 0."""
    return lambda stroke: low + max(0.0, stroke)


def _lifted(body: Body, state: State) -> Support:
    """The wall above the base, lifted along the axis."""
    line = hold_axially(body, held_line(body, state, 0.0))
    begin = state.u[line.unknowns]
    return Support(line.unknowns, lambda stroke: begin + stroke)


def _plate(stage: TopLoad, body: Body, state: State, contact: Tuning) -> Iterator[Tool]:
    """Flat plate that just touches the rim from above, one tool for each face it may bear on."""
    places = state.places(body)
    widest = 2.0 * float(places[body.edge_nodes("rim"), 0].max())
    size = stage.plate_diameter or 2.0 * widest
    if size < widest:
        message = (
            f"the plate of {size:g} mm is smaller than the rim of {widest:.3f} mm: it would sink"
            " into the body"
        )
        raise GeometryError(message, hint="give the plate at least the diameter of the rim")
    plate = chain([(0.5 * size, 0.0), (-1.0, 0.0)], [])
    at = float(places[:, 1].max()) + NEAR * contact.softness
    for edge, name in (("rim", "plate"), ("top", "plate on the face")):
        yield Tool(name, plate, edge, stage.friction, lambda _: at)


def _burst(stage: TopLoad) -> GivesWay | None:
    """What to say where the inside pressure alone is too much."""
    inside = stage.pressure

    def says(state: State, error: ConvergenceError) -> ConvergenceError:
        return gave_way(
            inside * min(1.0, max(0.0, state.positions[1] / inside)), inside, state, error
        )

    return says if inside else None


def _fallen(least: float, end: float) -> Callable[[State, Increment], bool]:
    """Ends the stage when the load has fallen off a peak above ``least`` [N]."""
    peak = 0.0

    def done(state: State, row: Increment) -> bool:
        nonlocal peak
        load = axial_load(row)
        if state.stroke > 0.0:
            peak = max(peak, load)
        return (peak > least and load < FALLEN * peak) or state.stroke >= end - 1e-9

    return done
