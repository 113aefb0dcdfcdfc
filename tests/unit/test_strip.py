"""A strip made from its corners is the one the mesher makes."""

import numpy as np

from formsim.geometry.blank import strip_mesh
from formsim.geometry.strip import strip_of
from formsim.solver.body import build_body


def test_a_strip_from_the_corners_of_a_blank_is_that_blank():
    blank = build_body(strip_mesh(2.0, 30.0, 0.5, columns=24, layers=3, even_to=18.0))
    lines = np.arange(25)[:, None] * blank.columns.stride + 2 * np.arange(4)
    again = build_body(strip_of(blank.nodes[lines]))
    assert again.columns == blank.columns
    np.testing.assert_array_equal(again.elements, blank.elements)
    np.testing.assert_allclose(again.nodes, blank.nodes, atol=1e-14)
    np.testing.assert_allclose(again.gradient, blank.gradient, rtol=1e-11)
    for name, face in blank.faces.items():
        np.testing.assert_array_equal(again.faces[name].nodes, face.nodes)
        np.testing.assert_array_equal(again.faces[name].local, face.local)
