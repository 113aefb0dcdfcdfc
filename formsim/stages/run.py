"""One stage from its plan to its springback."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from formsim.arrays import Floats
from formsim.case.stage import (
    Bake,
    Bulge,
    Dome,
    Draw,
    Flange,
    Formed,
    Iron,
    Neck,
    Pressurise,
    Redraw,
    Stage,
    Stretch,
    Stroke,
    TopLoad,
    Trim,
)
from formsim.case.tools import smallest_gap
from formsim.errors import ConvergenceError
from formsim.material.model import Material
from formsim.solver.body import Body, swept_areas
from formsim.solver.contact import Tuning, no_grip, tuning
from formsim.solver.hourglass import guard_rim
from formsim.solver.march import Advance, march
from formsim.solver.newton import Newton, System
from formsim.solver.problem import Problem, Scales, Tempo, material_data
from formsim.solver.release import release
from formsim.solver.state import State
from formsim.solver.stepping import Steps
from formsim.solver.tempo import cold, cooled, rested
from formsim.solver.window import Windows
from formsim.stages.bulge import plan_bulge
from formsim.stages.dome import plan_dome
from formsim.stages.draw import plan_draw
from formsim.stages.flange import plan_flange
from formsim.stages.iron import plan_iron
from formsim.stages.neck import plan_neck
from formsim.stages.plan import Plan
from formsim.stages.pressurise import plan_pressurise
from formsim.stages.redraw import plan_redraw
from formsim.stages.sheet import Sheet
from formsim.stages.stretch import plan_stretch
from formsim.stages.stroke import plan_stroke
from formsim.stages.top_load import plan_top_load
from formsim.stages.wall import rim_thickness

FIRST, LONGEST, FLOOR = 0.007, 0.45, 4e-5
"""First and shortest increment in thicknesses, longest one in columns."""

GENTLE = -4.0
"""First logarithm of the contact stiffness of a tool that overlaps the sheet."""

GUARDED = 3
"""Columns before a free rim whose hourglass modes are resisted."""

TORN = 0.4
"""Thickness of a column over that at the start of the stage below which the sheet has torn."""

SPENT = 0.98
"""Load over its peak below which a body under test has given way, so that a tear ends the test."""

NECK, BESIDE, THICKER = 0.6, 5.0, 1.4
"""Torn too: a column below NECK, when within BESIDE thicknesses on both sides there is one that
is THICKER times as thick. Sheet metals part in a neck long before; both are our own choice."""


@dataclass(frozen=True)
class Setup:
    """A stage ready to be solved.

    Attributes
    ----------
    plan : tools and motion
    problem : the same for the solver
    start : state of the sheet with the tools at their first positions
    """

    plan: Plan
    problem: Problem
    start: State


def set_up(
    stage: Stage,
    thickness: float,
    sheet: Sheet,
    contact_factor: float = 1.0,
    *,
    stride: float = 1.0,
) -> Setup:
    """Tools around the sheet as the last stage left it.

    Parameters
    ----------
    thickness : of the blank [mm]
    contact_factor : multiplies the first contact stiffness; results must not depend on it
    stride : multiplies the longest increment
    """
    body, material, state = sheet.body, sheet.material, sheet.state
    gauge = thickness
    if isinstance(stage, Neck | Flange):
        gauge = thickness = rim_thickness(body, state)
    if isinstance(stage, Iron | Stroke):
        gauge = smallest_gap(stage.punch, stage.rings)
    scales = Scales(gauge, float(material.yield_stress))
    contact = tuning(scales.length, scales.stress, contact_factor)
    plan = _plan(stage, thickness, sheet, contact)
    plan = replace(plan, stride=stride * plan.stride)
    problem = Problem(
        body=body,
        material=material_data(material),
        scales=scales,
        contact=contact,
        tools=plan.tools,
        pressures=plan.pressures,
        supports=plan.supports,
        ties=plan.ties,
        guard=guard_rim(body, GUARDED, plan.guard * scales.stress) if plan.guard else None,
        tempo=_tempo(stage, material),
        watched=bool(plan.gauges),
    )
    n_faces = sum(len(body.faces[edge].element) for edge in {t.edge for t in plan.tools})
    points = body.faces["top"].weight.shape[1]
    positions = [tool.start(plan.begin) for tool in plan.tools] + [0.0] * (
        len(plan.pressures) + len(plan.ties)
    )
    heat, reached = _heat(stage, sheet, plan.begin)
    start = State(
        stroke=plan.begin,
        u=state.u,
        plastic=state.plastic,
        damage=state.damage,
        heat=heat,
        reached=reached,
        positions=np.array(positions),
        grip=replace(
            no_grip(len(plan.tools), n_faces, points),
            log_stiffness=np.array([GENTLE if t.name in plan.gentle else 0.0 for t in plan.tools]),
        ),
    )
    return Setup(plan, problem, start)


def _tempo(stage: Stage, material: Material) -> Tempo | None:
    """How fast a stage is made; None where the metal knows neither rate nor heat."""
    if material.rate_law is None and material.heating is None:
        return None
    speed = stage.speed if isinstance(stage, Formed) else None
    return Tempo(speed or 0.0, material.heating)


def _heat(stage: Stage, sheet: Sheet, begin: float) -> tuple[Floats, Floats]:
    """Heat of the sheet as a stage receives it, and the stroke its elements stand at."""
    body, material, heat = sheet.body, sheet.material, sheet.state.heat
    if _tempo(stage, material) is None:
        return heat, np.zeros(0)
    warm = isinstance(stage, Formed) and stage.warm
    ambient = np.nan if material.heating is None else material.heating.ambient
    if not heat.size:
        heat = cold(body.volume.shape, ambient)
    return rested(heat) if warm else cooled(heat, ambient), np.full(len(body.elements), begin)


def _plan(stage: Stage, thickness: float, sheet: Sheet, contact: Tuning) -> Plan:
    body, state = sheet.body, sheet.state
    match stage:
        case Draw():
            return plan_draw(stage, thickness, body, state, contact)
        case Redraw():
            return plan_redraw(stage, thickness, body, state, contact)
        case Iron():
            return plan_iron(stage, thickness, body, state, contact)
        case Neck():
            return plan_neck(stage, thickness, body, sheet.material, state, contact)
        case Flange():
            return plan_flange(stage, thickness, body, state, contact)
        case Stroke():
            return plan_stroke(stage, thickness, body, state, contact)
        case Dome():
            return plan_dome(stage, thickness, body, state, contact)
        case Stretch():
            return plan_stretch(stage, thickness, body, state, contact)
        case Bulge():
            return plan_bulge(stage, thickness, body, state, contact)
        case Pressurise():
            return plan_pressurise(stage, thickness, body, sheet.material, state, contact)
        case TopLoad():
            return plan_top_load(stage, thickness, body, sheet.material, state, contact)
        case Trim() | Bake():
            return Plan(tools=(), end=0.0, frame="")


def form(
    setup: Setup,
    marks: tuple[float, ...] = (),
    method: Newton | None = None,
    *,
    exact: bool = False,
) -> Iterator[Advance]:
    """Accepted states of the stage under load, each with the increments since the one before.

    None for a stage that only cuts or bakes the sheet.

    Parameters
    ----------
    marks : strokes to hit exactly [mm]
    exact : work on all columns in every increment

    Raises
    ------
    ConvergenceError : no equilibrium was found, the sheet has torn (reason ``torn``), or the
        longest stroke was not enough (``unfinished``), or the part gives way (``broken``)
    """
    plan, last = setup.plan, setup.start
    if plan.idle:
        return
    try:
        for advance in _formed(setup, marks, method, exact=exact):
            last = advance[0]
            yield advance
    except ConvergenceError as error:
        if plan.gives_way is None:
            raise
        raise plan.gives_way(last, error) from error


def _formed(
    setup: Setup, marks: tuple[float, ...], method: Newton | None, *, exact: bool
) -> Iterator[Advance]:
    plan, scales = setup.plan, setup.problem.scales
    body = setup.problem.body
    place, first = _middles(body), _columns(body, setup.start)
    volume = body.volume.sum(axis=1).reshape(len(first), -1).sum(axis=1)
    before = first * np.maximum(1.0, volume / first / plan.squeezed)

    def torn(part: Body, state: State, columns: slice) -> bool:
        left = before[columns] / _columns(part, state)
        return torn_column(left, place[columns], scales.length) is not None

    states = march(
        System(setup.problem),
        setup.start,
        plan.end,
        _steps(setup),
        method=method,
        scheduled=(0.0, *marks),
        done=plan.done,
        look=torn,
        windows=None if exact or plan.gauges else Windows(),
    )
    most = 0.0
    for state, rows in states:
        yield state, rows
        most = max(most, 0.0 if plan.load is None else max(map(plan.load, rows)))
        failure = None if plan.fails is None else plan.fails(state, rows)
        if failure is not None:
            raise failure
        left = before / _columns(body, state)
        column = torn_column(left, place, scales.length)
        if column is not None:
            given_way = plan.load is not None and plan.load(rows[-1]) < SPENT * most
            if plan.specimen and given_way:
                return
            raise _torn(float(left[column]), float(place[column]), state)
    if plan.done is not None and not plan.done(state, rows[-1]):
        raise _unfinished(plan.end)


def _steps(setup: Setup) -> Steps:
    plan, thickness = setup.plan, setup.problem.scales.length
    return Steps(
        first=FIRST * thickness,
        longest=plan.stride * LONGEST * float(_lengths(setup.problem.body).max()),
        floor=FLOOR * thickness,
        second_order=not plan.jerky,
    )


def _middle_line(body: Body, places: Floats) -> Floats:
    """Middle of the sheet at every line between columns, none without columns, (n, 2) [mm]."""
    if body.columns is None:
        return np.zeros((0, 2))
    lines = body.columns.lines + body.columns.layers
    middle: Floats = places[lines]
    return middle


def _lengths(body: Body) -> Floats:
    """Length of every column before the first stage; the steps of radius without columns [mm]."""
    steps = np.diff(_middle_line(body, body.nodes), axis=0)
    if not steps.size:
        return np.diff(np.unique(body.mesh.p[0]))
    length: Floats = np.hypot(steps[:, 0], steps[:, 1])
    return length


def _middles(body: Body) -> Floats:
    """Place of the columns along the sheet before the first stage, (n_columns) [mm].

    The radius in a flat blank, from the axis or the lower end in a cup or tube.
    """
    if body.columns is None:
        return np.zeros(0)
    lengths = _lengths(body)
    start = 0.0 if body.along[:, 1].any() else float(_middle_line(body, body.nodes)[0, 0])
    middles: Floats = start + np.cumsum(lengths) - 0.5 * lengths
    return middles


def _columns(body: Body, state: State) -> Floats:
    """Area the middle of every column sweeps round the axis, (n_columns) [mm2]."""
    if body.columns is None:
        return np.zeros(0)
    area = np.empty(body.columns.count)
    swept_areas(body.nodes, state.u, body.columns.layers, body.columns.stride, area)
    return area


def torn_column(left: Floats, radius: Floats, thickness: float) -> int | None:
    """Column in which the sheet has torn, None for none.

    Parameters
    ----------
    left : thickness over that at the start of the stage, by areas, (n_columns) [-]
    radius : of the columns in the blank, (n_columns) [mm]
    thickness : of the blank [mm]
    """
    if not left.size or left.min() >= NECK:
        return None
    worst = int(left.argmin())
    near = np.abs(radius - radius[worst]) <= BESIDE * thickness
    sides = near & (radius < radius[worst]), near & (radius > radius[worst])
    necked = all(left[side].max(initial=0.0) > THICKER * left[worst] for side in sides)
    return worst if necked or left[worst] < TORN else None


def _torn(left: float, place: float, state: State) -> ConvergenceError:
    message = (
        f"the sheet has torn at R = {place:.1f} mm of the blank, stroke {state.stroke:.4f} mm:"
        f" {100.0 * left:.0f} % of its thickness is left there"
    )
    facts = {"stroke": state.stroke, "radius": place, "left": left}
    return ConvergenceError(message, reason="torn", facts=facts)


def _unfinished(stroke: float) -> ConvergenceError:
    message = f"the sheet is not through its tools at the longest stroke, {stroke:.2f} mm"
    hint = "see the last section; give the stroke in mm instead of through to end the stage earlier"
    return ConvergenceError(message, reason="unfinished", facts={"stroke": stroke}, hint=hint)


def spring_back(setup: Setup, state: State) -> Iterator[Advance]:
    """Accepted states of the release after a stage."""
    return release(setup.problem, state, setup.plan.kept)
