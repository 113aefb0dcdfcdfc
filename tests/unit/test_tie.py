"""A tie holds the mean of an edge by one force and leaves its nodes free to turn and thin."""

import numpy as np

from formsim.solver.march import march
from formsim.solver.newton import System
from formsim.solver.problem import Support, Tie
from formsim.solver.stepping import Steps
from tests.unit.solid import at_rest, block, problem

PULL = 0.01


def pulled(task, positions=()):
    system = System(task)
    *_, (state, rows) = march(system, at_rest(system, positions), 1.0, Steps(0.25, 0.25, 1e-3))
    return state, rows[-1]


def test_tie_pulls_like_a_support_in_uniform_tension():
    body = block()
    base, top = Support(2 * body.edge_nodes("bottom") + 1), body.faces["top"]
    shares = np.einsum("fq,fqa->fa", top.weight, top.shape) / top.weight.sum()
    pattern = np.zeros(body.n_unknowns)
    np.add.at(pattern, 2 * top.nodes + 1, shares)
    tie = Tie(pattern, lambda stroke: PULL * stroke)
    grip = Support(2 * np.unique(top.nodes) + 1, lambda stroke: PULL * stroke)

    tied, row = pulled(problem(body, supports=(base,), ties=(tie,)), [0.0])
    held, _ = pulled(problem(body, supports=(base, grip)))

    np.testing.assert_allclose(pattern @ tied.u, PULL, rtol=1e-9)
    np.testing.assert_allclose(tied.u, held.u, rtol=0, atol=1e-5 * PULL)
    np.testing.assert_allclose(tied.positions[-1], -row.reaction, rtol=1e-6)
