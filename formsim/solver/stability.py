"""Whether an equilibrium is stable, by the pivots of its tangent."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats
from formsim.solver.columns import ColumnSolver
from formsim.solver.newton import System
from formsim.solver.state import State

STATIC = 3e-5
"""Residual without lent viscosity, over the internal forces, up to which a state could stay."""


def loose_shapes(system: System, begin: State, new: State) -> int:
    """In how many shapes a state would run away, none of a stable equilibrium.

    Negative pivots of its tangent; 0 of a mesh without columns, 1 at least of a state that only a
    lent viscosity keeps in balance. What moves with the stroke and a load along the path count as
    held. A tie holds the body in one direction ``b``: it takes away one negative eigenvalue where
    ``b K^-1 b`` is negative.

    Parameters
    ----------
    begin, new : accepted states before and behind an increment
    """
    if not isinstance(system.solver, ColumnSolver):
        return 0
    balance = system.evaluate(begin, new.stroke, new.u, new.positions, True)
    if balance is None or balance.norm > STATIC:
        return 1
    system.hold()
    block = system.scratch.block
    held = np.array([tie.pattern for tie in system.problem.ties])
    if not len(held):
        return negative_pivots(system.solver, block)
    system.stiffen()
    held[:, system.problem.fixed] = 0.0
    x = system.solver.solve(block, held.copy())
    if x is None:
        return 1
    tied = int((np.linalg.eigvals(held @ x.T).real > 0.0).sum())
    return negative_pivots(system.solver, block) + tied - len(held)


def negative_pivots(solver: ColumnSolver, block: Floats) -> int:
    """Negative pivots of an assembled matrix: of a symmetric one as many as eigenvalues.

    Sylvester's law of inertia; friction, and pressure at an open rim, leave a tangent a little
    unsymmetric.

    Parameters
    ----------
    block : element matrices with supports built in, (n_el, 16, 16) [N/mm]
    """
    nothing = np.zeros((1, solver.count * solver.n_out + solver.n - solver.n_out))
    strip = solver.eliminate(block, nothing)
    return strip.negative + int((np.linalg.eigvals(strip.stiffness).real < 0.0).sum())
