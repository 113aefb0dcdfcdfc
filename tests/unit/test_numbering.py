"""Numbering: columns along a strip whatever the mesh's own order, a small band otherwise."""

import numpy as np
import pytest
from skfem import MeshQuad

from formsim.geometry.blank import strip_mesh
from formsim.solver.body import build_body
from formsim.solver.numbering import number_nodes
from tests.unit.solid import block_mesh


def shuffled(mesh, seed=0):
    """The same strip with corners and elements in random order and elements turned."""
    rng = np.random.default_rng(seed)
    corners, elements = rng.permutation(mesh.nvertices), rng.permutation(mesh.nelements)
    new = np.empty_like(corners)
    new[corners] = np.arange(mesh.nvertices)
    t = new[mesh.t[:, elements]]
    for k in range(t.shape[1]):
        t[:, k] = np.roll(t[:, k], rng.integers(4))
    plain = MeshQuad(mesh.p[:, corners], t)
    ends = {"centre": (0, 10.0), "rim": (0, 16.0), "bottom": (1, 0.0), "top": (1, 2.0)}
    return plain.with_boundaries(
        {name: lambda x, a=a, v=v: np.abs(x[a] - v) < 1e-9 for name, (a, v) in ends.items()}
    )


@pytest.mark.parametrize("layers", [1, 2, 3])
def test_strip_is_numbered_column_by_column(layers):
    mesh = block_mesh(columns=6, layers=layers)
    body = build_body(mesh)
    columns = body.columns
    assert (columns.count, columns.layers) == (6, layers)
    assert (columns.line_nodes, columns.stride) == (2 * layers + 1, 3 * layers + 2)
    lines = body.nodes[:, 0].reshape(-1)[:: columns.stride]
    np.testing.assert_allclose(lines, np.linspace(10.0, 16.0, 7))
    first = body.nodes[: columns.line_nodes]
    np.testing.assert_allclose(first[:, 0], 10.0)
    np.testing.assert_allclose(first[:, 1], np.linspace(0.0, 2.0, columns.line_nodes))
    spread = np.ptp(body.elements, axis=1)
    assert spread.max() <= columns.stride + columns.line_nodes


def test_every_node_and_element_is_numbered_once():
    mesh = block_mesh()
    found = number_nodes(mesh)
    assert sorted(found.nodes) == list(range(mesh.nvertices + mesh.nfacets))
    assert sorted(found.elements) == list(range(mesh.nelements))


@pytest.mark.parametrize("seed", range(4))
def test_order_of_the_mesh_does_not_matter(seed):
    mesh = block_mesh()
    expected, found = build_body(mesh), build_body(shuffled(mesh, seed))
    assert found.columns == expected.columns
    np.testing.assert_allclose(found.nodes, expected.nodes, atol=1e-12)
    np.testing.assert_allclose(np.sort(found.volume, axis=1), np.sort(expected.volume, axis=1))


def test_mesh_of_the_blank_is_a_strip():
    body = build_body(strip_mesh(0.0, 30.0, 0.5, columns=20, layers=2, even_to=15.0))
    assert (body.columns.count, body.columns.layers) == (20, 2)


def bent(mesh):
    """An L of quadrilaterals, which is no strip."""
    keep = ~((mesh.p[:, mesh.t].mean(axis=1)[0] > 12.0) & (mesh.p[:, mesh.t].mean(axis=1)[1] > 1.0))
    part = mesh.restrict(np.flatnonzero(keep))
    return part.with_boundaries(
        {"centre": lambda x: x[0] < 10.0 + 1e-9, "bottom": lambda x: x[1] < 1e-9}
    )


def test_a_mesh_that_is_no_strip_gets_a_small_band():
    mesh = bent(block_mesh(columns=12, layers=4))
    found = number_nodes(mesh)
    assert found.columns is None
    body = build_body(mesh)
    plain = np.concatenate([mesh.t, mesh.nvertices + mesh.t2f])
    assert np.ptp(body.elements, axis=1).max() < 0.5 * np.ptp(plain, axis=0).max()


def test_faces_run_from_centre_to_rim():
    body = build_body(block_mesh())
    for name, z in (("bottom", 0.0), ("top", 2.0)):
        nodes = body.faces[name].nodes
        assert (np.diff(body.nodes[nodes, 0], axis=1) > 0).all()
        assert (nodes[1:, 0] == nodes[:-1, 2]).all()
        np.testing.assert_allclose(body.nodes[nodes, 1], z)
        area = body.faces[name].weight.sum()
        assert area == pytest.approx(np.pi * (16.0**2 - 10.0**2))
