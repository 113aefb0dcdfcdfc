"""Springback: the tools leave, their forces fade, the body finds its own equilibrium."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from formsim.arrays import Ints
from formsim.solver.balance import internal_force
from formsim.solver.contact import no_grip
from formsim.solver.march import Advance, march
from formsim.solver.newton import Newton, System
from formsim.solver.problem import NodalLoad, Problem, Support
from formsim.solver.state import State
from formsim.solver.stepping import Steps
from formsim.solver.tempo import pace_of, slowed

RELEASE = Steps(first=0.25, longest=0.5, floor=1e-4, second_order=False)


THROUGH = 1.0
"""Way of the tools in thicknesses in which they let go of the body; our own."""


def release(
    problem: Problem, state: State, supports: tuple[Support, ...] = ()
) -> Iterator[Advance]:
    """Unload a body to equilibrium without tools and pressures.

    The forces of tools and pressures, and of supports that are not kept, are replaced by equal
    nodal forces which are then ramped to zero. One node is held along the axis.

    Parameters
    ----------
    problem : stage that has ended
    state : its last state
    supports : supports that stay

    Returns
    -------
    Accepted states of the free body; the stage parameter runs from 0 to 1.
    """
    system = System(problem)
    pace = pace_of(problem.tempo, state, state.stroke)
    force = internal_force(problem, state.u, state.plastic, system.scratch, pace)
    held = Support(np.array([2 * _anchor(problem, state) + 1]))
    free = replace(
        problem,
        tools=(),
        pressures=(),
        ties=(),
        supports=(*supports, held),
        loads=NodalLoad(force, lambda stroke: 1.0 - stroke),
        tempo=slowed(problem.tempo, THROUGH * problem.scales.length),
    )
    start = replace(
        state,
        stroke=0.0,
        positions=np.zeros(0),
        grip=no_grip(0, 0),
        reached=np.zeros_like(state.reached),
    )
    return march(System(free), start, 1.0, RELEASE, method=Newton(most=40))


def _anchor(problem: Problem, state: State) -> int:
    """Node held along the axis: on the axis, or the innermost one of a sheet with a hole."""
    axis: Ints = problem.body.axis_nodes()
    return int(axis[0]) if len(axis) else int(problem.body.nodes[:, 0].argmin())
