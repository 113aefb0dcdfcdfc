"""Mesh of the blank: sizes, edges, grading, faults."""

import sys

import numpy as np
import pytest

from formsim.errors import DependencyError, MeshError
from formsim.geometry.blank import Rim, column_lengths, load_gmsh, strip_mesh
from formsim.solver.body import build_body


def lines(mesh):
    """Radii of the lines between columns."""
    return np.unique(np.round(mesh.p[0], 9))


@pytest.mark.parametrize("layers", [1, 2, 3])
@pytest.mark.parametrize("inner", [0.0, 4.0])
def test_size_and_edges(inner, layers):
    mesh = strip_mesh(inner, 30.0, 0.5, columns=24, layers=layers, even_to=30.0)
    assert mesh.nelements == 24 * layers
    assert set(mesh.boundaries) == {"bottom", "top", "centre", "rim"}
    for name, axis, value, count in [
        ("bottom", 1, 0.0, 24),
        ("top", 1, 0.5, 24),
        ("centre", 0, inner, layers),
        ("rim", 0, 30.0, layers),
    ]:
        facets = mesh.boundaries[name]
        assert len(facets) == count
        np.testing.assert_allclose(mesh.p[axis, mesh.facets[:, facets]], value, atol=1e-12)
    np.testing.assert_allclose(np.diff(lines(mesh)), (30.0 - inner) / 24, rtol=1e-6)


def test_volume_is_that_of_the_disc():
    body = build_body(strip_mesh(4.0, 30.0, 0.5, columns=24, layers=2, even_to=15.0))
    assert body.volume.sum() == pytest.approx(np.pi * (30.0**2 - 4.0**2) * 0.5, rel=1e-12)


def test_columns_shrink_towards_the_rim():
    """Even to the given radius, then a series whose last column is even_to/outer of the first."""
    even_to, outer = 15.0, 30.0
    mesh = strip_mesh(0.0, outer, 0.5, columns=40, layers=1, even_to=even_to)
    radii = lines(mesh)
    length = np.diff(radii)
    assert len(length) == 40
    even = radii[1:] <= even_to + 1e-6
    np.testing.assert_allclose(length[even], length[0], rtol=1e-6)
    graded = length[~even]
    ratio = graded[1:] / graded[:-1]
    np.testing.assert_allclose(ratio, ratio[0], rtol=1e-5)
    assert graded[-1] / graded[0] == pytest.approx(even_to / outer, rel=1e-3)
    assert graded[0] == pytest.approx(length[0], rel=0.1)


def test_columns_of_a_rim_are_finer_by_the_stated_ratio():
    rim = Rim(24.0, 2.0)
    mesh = strip_mesh(0.0, 30.0, 0.5, columns=60, layers=1, even_to=15.0, rim=rim)
    radii = lines(mesh)
    length = np.diff(radii)
    assert len(length) == 60
    np.testing.assert_allclose(length, column_lengths(0.0, 30.0, 60, 15.0, 1.0, rim), rtol=1e-6)
    at = int(np.abs(radii - 24.0).argmin())
    assert radii[at] == pytest.approx(24.0, abs=1e-6)
    assert length[at - 1] / length[at] == pytest.approx(2.0, rel=0.1)
    assert length[-1] / length[0] == pytest.approx(0.25, rel=0.1)


@pytest.mark.parametrize(
    "change",
    [
        {"columns": 3},
        {"layers": 0},
        {"inner": -1.0},
        {"inner": 20.0},
        {"even_to": 31.0},
        {"even_to": 0.0},
    ],
)
def test_impossible_strip_is_refused(change):
    sizes = {"inner": 0.0, "outer": 30.0, "columns": 20, "layers": 2, "even_to": 15.0} | change
    inner, outer = sizes.pop("inner"), sizes.pop("outer")
    with pytest.raises(MeshError, match="cannot be made"):
        strip_mesh(inner, outer, 0.5, **sizes)


def test_same_blank_gives_the_same_mesh():
    first, second = (
        strip_mesh(0.0, 30.0, 0.5, columns=20, layers=2, even_to=15.0) for _ in range(2)
    )
    np.testing.assert_array_equal(first.p, second.p)
    np.testing.assert_array_equal(first.t, second.t)


def test_missing_system_library_is_named(monkeypatch):
    class Broken:
        def find_spec(self, name, path=None, target=None):
            if name == "gmsh":
                message = "libGLU.so.1: cannot open shared object file"
                raise OSError(message)

    monkeypatch.delitem(sys.modules, "gmsh", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Broken(), *sys.meta_path])
    with pytest.raises(DependencyError, match="libGLU.so.1") as caught:
        load_gmsh()
    assert "libglu1-mesa" in caught.value.hint
