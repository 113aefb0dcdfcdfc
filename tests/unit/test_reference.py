"""The compiled kernels against a plain scikit-fem-forms assembly of the same system."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import coo_matrix
from skfem import MeshQuad

from formsim.geometry.blank import strip_mesh
from formsim.material.flow import Swift, Voce
from formsim.material.model import Material
from formsim.solver.balance import no_rest
from formsim.solver.body import build_body
from formsim.solver.element import element_forces
from formsim.solver.problem import material_data
from formsim.solver.reference import reference_system
from formsim.solver.tempo import NO_PACE


def _distorted() -> MeshQuad:
    """Quadrilaterals without any strip structure or named edges that matter."""
    mesh = MeshQuad.init_tensor(np.linspace(3.0, 6.0, 6), np.linspace(0.0, 2.0, 4)).refined(1)
    r, z = mesh.p
    moved = np.stack([r + 0.05 * np.sin(7 * z) * np.sin(5 * r), z + 0.04 * np.cos(4 * r) * z])
    return MeshQuad(moved, mesh.t).with_boundaries({"bottom": lambda x: x[1] < 1e-9})


MESHES = {
    "strip": lambda: strip_mesh(0.0, 20.0, 0.28, columns=30, layers=2, even_to=15.0),
    "distorted": _distorted,
}
MATERIALS = {
    "mises": Material("m", 69e3, 0.33, 2700.0, Voce(405.0, 105.0, 18.0, 0.0)),
    "hill": Material("h", 69e3, 0.33, 2700.0, Swift(500.0, 0.01, 0.2), r_bar=0.6),
}


@pytest.mark.parametrize("mesh", MESHES)
@pytest.mark.parametrize("material", MATERIALS)
def test_kernels_equal_the_forms(mesh: str, material: str) -> None:
    body, data = build_body(MESHES[mesh]()), material_data(MATERIALS[material])
    n = len(body.elements)
    rng = np.random.default_rng(0)
    stretch = body.nodes * [-0.02, 0.01] + 2e-4 * rng.standard_normal(body.nodes.shape)
    u = stretch.ravel()
    old, new = np.zeros((n, 4, 4)), np.zeros((n, 4, 4))
    block, force = np.zeros((n, 16, 16)), np.zeros((n, 16))
    fixed = (body.unknowns, body.shape, body.along, body.gradient, body.radius, body.volume)
    law = (data.constants, data.table)
    rest = no_rest(n)
    kept = (rest.seen, rest.force, rest.stiffness, rest.energy, rest.restful, rest.times)
    never = (*kept, np.full(n, -1), 0.0, NO_PACE)
    element_forces(0, n, 0.9 * u, *fixed, *law, old, new, block, force, False, *never)
    old = new.copy()
    bad, _ = element_forces(0, n, u, *fixed, *law, old, new, block, force, True, *never)
    total = np.zeros(body.n_unknowns)
    np.add.at(total, body.unknowns, force)
    rows, cols = np.repeat(body.unknowns, 16, axis=1), np.tile(body.unknowns, (1, 16))
    tangent = coo_matrix((block.ravel(), (rows.ravel(), cols.ravel()))).tocsr()

    expected, matrix, state = reference_system(body, data, u, old)

    assert bad == -1
    assert (new[..., 3] > old[..., 3]).mean() > 0.5
    np.testing.assert_allclose(total, expected, rtol=0, atol=1e-10 * abs(expected).max())
    np.testing.assert_allclose(new, state, rtol=0, atol=1e-12)
    assert abs(tangent - matrix).max() < 1e-10 * abs(matrix).max()
