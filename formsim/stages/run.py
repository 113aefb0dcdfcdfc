"""One stage from its plan to its springback."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from formsim.case.stage import Bulge, Dome, Draw, Stage, Stretch
from formsim.material.model import Material
from formsim.solver.body import Body
from formsim.solver.contact import Tuning, no_grip, tuning
from formsim.solver.newton import Newton, System
from formsim.solver.problem import Problem, Scales, material_data
from formsim.solver.release import release
from formsim.solver.state import Increment, State
from formsim.solver.stepping import Steps, march
from formsim.stages.bulge import plan_bulge
from formsim.stages.dome import plan_dome
from formsim.stages.draw import plan_draw
from formsim.stages.plan import Plan
from formsim.stages.stretch import plan_stretch

FIRST, LONGEST, FLOOR = 0.007, 0.35, 4e-5
"""First and shortest increment in thicknesses, longest one in columns."""

GENTLE = -4.0
"""First logarithm of the contact stiffness of a tool that overlaps the sheet."""


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
    body: Body,
    material: Material,
    state: State,
    contact_factor: float = 1.0,
) -> Setup:
    """Tools around the sheet as the last stage left it.

    Parameters
    ----------
    thickness : of the blank [mm]
    contact_factor : multiplies the first contact stiffness; results must not depend on it
    """
    scales = Scales(thickness, float(material.yield_stress))
    contact = tuning(scales.length, scales.stress, contact_factor)
    plan = _plan(stage, thickness, body, state, contact)
    problem = Problem(
        body=body,
        material=material_data(material),
        scales=scales,
        contact=contact,
        tools=plan.tools,
        pressures=plan.pressures,
        supports=plan.supports,
        ties=plan.ties,
    )
    n_faces = sum(len(body.faces[edge].element) for edge in {t.edge for t in plan.tools})
    points = body.faces["top"].weight.shape[1]
    positions = [tool.start(plan.begin) for tool in plan.tools] + [0.0] * (
        len(plan.pressures) + len(plan.ties)
    )
    start = State(
        stroke=plan.begin,
        u=state.u,
        plastic=state.plastic,
        positions=np.array(positions),
        grip=replace(
            no_grip(len(plan.tools), n_faces, points),
            log_stiffness=np.array([GENTLE if t.name in plan.gentle else 0.0 for t in plan.tools]),
        ),
    )
    return Setup(plan, problem, start)


def _plan(stage: Stage, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    match stage:
        case Draw():
            return plan_draw(stage, thickness, body, state, contact)
        case Dome():
            return plan_dome(stage, thickness, body, state, contact)
        case Stretch():
            return plan_stretch(stage, thickness, body, state, contact)
        case Bulge():
            return plan_bulge(stage, thickness, body, state, contact)


def form(
    setup: Setup, marks: tuple[float, ...] = (), method: Newton | None = None
) -> Iterator[tuple[State, Increment]]:
    """Accepted states of the stage under load; ``marks`` are strokes to hit exactly [mm]."""
    plan, scales = setup.plan, setup.problem.scales
    r = np.sort(np.unique(setup.problem.body.mesh.p[0]))
    steps = Steps(
        first=FIRST * scales.length,
        longest=LONGEST * float(np.diff(r).max()),
        floor=FLOOR * scales.length,
    )
    return march(
        System(setup.problem),
        setup.start,
        plan.end,
        steps,
        method=method,
        scheduled=(0.0, *marks),
        done=plan.done,
    )


def spring_back(setup: Setup, state: State) -> Iterator[tuple[State, Increment]]:
    """Accepted states of the release after a stage."""
    return release(setup.problem, state, setup.plan.kept)
