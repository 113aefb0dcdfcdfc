"""Linear solvers: columns, band and scipy give one answer, on a strip or not."""

import numpy as np
import pytest
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import spsolve
from skfem import MeshQuad

from formsim.solver.band import band_solver, best_solver
from formsim.solver.body import build_body
from formsim.solver.columns import ColumnSolver, column_solver
from formsim.solver.march import march
from formsim.solver.newton import System
from formsim.solver.problem import Support
from formsim.solver.stability import loose_shapes, negative_pivots
from formsim.solver.stepping import Steps
from tests.unit.solid import at_rest, block, block_mesh, dense, problem


def blocks(body, seed=1):
    """Random element blocks, dominated by their diagonal, and three right-hand sides."""
    rng = np.random.default_rng(seed)
    k = rng.standard_normal((len(body.elements), 16, 16))
    k += 20.0 * np.eye(16)
    return k, rng.standard_normal((3, body.n_unknowns))


@pytest.mark.parametrize("count", [1, 2, 3])
@pytest.mark.parametrize("layers", [1, 2, 3, 4])
def test_columns_band_and_scipy_agree(layers, count):
    body = block(columns=9, layers=layers)
    k, rhs = blocks(body)
    rhs = np.ascontiguousarray(rhs[:count])
    by_columns = column_solver(body).solve(k.copy(), rhs.copy())
    by_band = band_solver(body).solve(k.copy(), rhs.copy())
    exact = spsolve(csc_matrix(dense(body, k)), rhs.T).reshape(-1, count).T
    scale = np.abs(exact).max()
    np.testing.assert_allclose(by_columns, exact, atol=1e-10 * scale)
    np.testing.assert_allclose(by_band, exact, atol=1e-10 * scale)


def test_solvers_can_be_used_again():
    body = block()
    first, second = blocks(body, 1), blocks(body, 2)
    for solver in (column_solver(body), band_solver(body)):
        before = np.array(solver.solve(first[0].copy(), first[1].copy()))
        solver.solve(second[0].copy(), second[1].copy())
        after = solver.solve(first[0].copy(), first[1].copy())
        np.testing.assert_array_equal(before, after)


def test_singular_system_is_refused():
    body = block()
    k, rhs = blocks(body)
    for solver in (column_solver(body), band_solver(body)):
        assert solver.solve(np.zeros_like(k), rhs.copy()) is None


def test_column_solver_wants_columns():
    body = build_body(without_centre(block_mesh()))
    with pytest.raises(ValueError, match="no columns"):
        column_solver(body)


def without_centre(mesh):
    """The same mesh, which does not say where its columns begin."""
    named = {name: facets for name, facets in mesh.boundaries.items() if name != "centre"}
    left = np.asarray(mesh.boundaries["centre"])
    return MeshQuad(mesh.p, mesh.t, named | {"inner": left})


def pulled(mesh, inner):
    """Places of the nodes after the inner edge is pulled in, in the order of a grid."""
    body = build_body(mesh)
    edge = body.edge_nodes(inner)
    supports = (
        Support(2 * edge, lambda s: -s),
        Support(2 * body.edge_nodes("bottom") + 1),
    )
    system = System(problem(body, supports=supports))
    *_, (state, (*_, increment)) = march(system, at_rest(system), 0.5, Steps(0.01, 0.05, 1e-5))
    rows = np.lexsort(np.round(body.nodes, 6).T)
    return system, state.places(body)[rows], increment


def test_any_other_mesh_falls_back_and_gives_the_same():
    strip, places, increment = pulled(block_mesh(columns=8, layers=2), "centre")
    other, expected, _ = pulled(without_centre(block_mesh(columns=8, layers=2)), "inner")
    assert isinstance(strip.solver, ColumnSolver)
    assert other.problem.body.columns is None
    assert isinstance(other.solver, type(band_solver(other.problem.body)))
    assert isinstance(best_solver(strip.problem.body), ColumnSolver)
    np.testing.assert_allclose(places, expected, atol=1e-7)
    assert not increment.loose


@pytest.mark.parametrize("layers", [1, 2, 3])
def test_negative_pivots_are_as_many_as_negative_eigenvalues(layers):
    """Sylvester's law of inertia: G. Golub and C. Van Loan, Matrix Computations, 1996 (memory)."""
    body = block(columns=9, layers=layers)
    rng = np.random.default_rng(3)
    k = rng.standard_normal((len(body.elements), 16, 16))
    k = k + k.transpose(0, 2, 1)
    for shift in (0.0, 4.0, 9.0, 20.0):
        shifted = k + shift * np.eye(16)
        negative = int((np.linalg.eigvalsh(dense(body, shifted)) < 0.0).sum())
        assert negative_pivots(column_solver(body), shifted) == negative
    assert negative == 0


def test_a_mesh_without_columns_counts_no_pivots():
    system = System(problem(build_body(without_centre(block_mesh()))))
    assert loose_shapes(system, at_rest(system), at_rest(system)) == 0
