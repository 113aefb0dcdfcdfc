"""Elements: patch test, tangent by differences, the plain scikit-fem assembly."""

import numpy as np
import pytest

from formsim.solver.balance import internal_force
from formsim.solver.march import march
from formsim.solver.newton import System
from formsim.solver.problem import Support
from formsim.solver.reference import reference_system
from formsim.solver.stepping import Steps
from tests.unit.solid import SHEET, at_rest, block, dense, problem, rough, slopes

MESHES = {"regular": 0.0, "distorted": 0.25}


@pytest.mark.parametrize("wobble", MESHES.values(), ids=MESHES)
@pytest.mark.parametrize("stretch", [(1e-4, -3e-4), (0.2, -0.3)], ids=["elastic", "plastic"])
def test_patch(wobble, stretch):
    """Even stretching imposed on the boundary is found inside, with one stress throughout."""
    body = block(columns=4, layers=3, wobble=wobble)
    edges = [body.edge_nodes(name) for name in ("centre", "rim", "bottom", "top")]
    outer = np.unique(np.concatenate(edges))
    unknowns = np.concatenate([2 * outer, 2 * outer + 1])
    even = (body.nodes * stretch).ravel()
    task = problem(body, supports=(Support(unknowns, lambda s: s * even[unknowns]),))
    system = System(task)
    *_, (state, (*_, increment)) = march(system, at_rest(system), 1.0, Steps(2e-4, 0.1, 1e-6))
    assert len(outer) < len(body.nodes)
    np.testing.assert_allclose(state.u, even, atol=2e-7 * abs(stretch[1]) * 16)
    spread = np.ptp(state.plastic, axis=(0, 1))
    assert spread.max() < 1e-7 * max(state.plastic.max(), 1.0)
    assert (state.strain.min() > 0) == (stretch[0] > 0.1)
    assert not increment.loose


def strained(body):
    """System, a rough plastic state and a displacement that goes on from it."""
    system = System(problem(body))
    first, second = rough(body, 0.03), rough(body, 0.04, seed=4)
    balance = system.evaluate(at_rest(system), 0.0, first, np.zeros(0), False)
    assert (balance.plastic[..., 3] > 0).mean() > 0.5
    return system, balance.plastic, second


@pytest.mark.parametrize("wobble", MESHES.values(), ids=MESHES)
def test_tangent_is_the_derivative_of_the_force(wobble):
    body = block(columns=2, layers=2, height=4.0, length=4.0, wobble=wobble)
    system, old, u = strained(body)
    start = at_rest(system)
    start = type(start)(0.0, u, old, start.positions, start.grip)
    system.evaluate(start, 0.0, u, np.zeros(0), True)
    stiff = dense(body, system.scratch.block)
    found = slopes(lambda x: internal_force(system.problem, x, old, system.scratch), u, 3e-6)
    assert np.abs(stiff - found).max() < 1e-6 * np.abs(stiff).max()


@pytest.mark.parametrize("inner", [0.0, 10.0])
@pytest.mark.parametrize("wobble", MESHES.values(), ids=MESHES)
def test_kernels_obey_the_plain_forms(wobble, inner):
    """To 1e-10 of the largest force and stiffness, on the axis and away from it."""
    body = block(columns=4, layers=2, inner=inner, wobble=wobble)
    system, old, u = strained(body)
    u[2 * body.axis_nodes()] = 0.0
    start = at_rest(system)
    start = type(start)(0.0, u, old, start.positions, start.grip)
    balance = system.evaluate(start, 0.0, u, np.zeros(0), True)
    force = internal_force(system.problem, u, old, system.scratch)
    expected, tangent, plastic = reference_system(body, system.problem.material, u, old)
    assert np.abs(force - expected).max() < 1e-10 * np.abs(expected).max()
    stiff = dense(body, system.scratch.block)
    assert np.abs(stiff - tangent.toarray()).max() < 1e-10 * np.abs(stiff).max()
    np.testing.assert_allclose(balance.plastic, plastic, atol=1e-13)


def test_volume_of_the_points():
    """The points carry the volume of the ring (geometry)."""
    body = block(inner=10.0, length=6.0, height=2.0, wobble=0.1)
    assert body.volume.sum() == pytest.approx(np.pi * (16.0**2 - 10.0**2) * 2.0, rel=1e-12)
    assert SHEET.yield_stress == 300.0
