"""A cut tube springs as shell theory says: the moment that stays in the wall is let go at the cut.

Source: S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., 1959, chapter
on circular cylindrical shells, edge moment on a long tube (memory; it solves the bending equation
``D w'''' + E t w/R^2 = 0``, which the test checks by differences as well).
"""

import numpy as np
import pytest

from formsim.material.model import Material
from formsim.solver.contact import no_grip, tuning
from formsim.solver.problem import Problem, Scales, material_data
from formsim.solver.release import release
from formsim.solver.state import State
from formsim.stages.cut import cut_square
from formsim.stages.remesh import point_places
from formsim.stages.sheet import Sheet
from tests.physics.support import NEVER, strip

RADIUS, THICKNESS, LENGTH = 50.0, 0.5, 90.0
YOUNG, POISSON = 70e3, 0.3
CURL = 1e-3
"""Slope of the residual strain across the wall [1/mm]: 17 MPa tension at the outer face."""

METAL = Material("elastic", YOUNG, POISSON, 2700.0, NEVER)
DECAY = (3.0 * (1.0 - POISSON**2)) ** 0.25 / np.sqrt(RADIUS * THICKNESS)
EDGE = CURL * (1.0 - POISSON) / (2.0 * DECAY**2)
"""Outward spring of the edge ``M/(2 DECAY^2 D)`` with the moment ``M = 2 G CURL t^3/12`` [mm]."""


def tube(columns: int) -> Sheet:
    """Tube whose wall carries a moment along the axis, tension outside, and no force."""
    across = np.linspace(-RADIUS - 0.5 * THICKNESS, -RADIUS + 0.5 * THICKNESS, 3)
    body = strip(np.linspace(0.0, LENGTH, columns + 1), across, lambda s, r: (-r, s))
    out = point_places(body)[..., 0] - RADIUS
    plastic = np.zeros((*body.radius.shape, 4))
    plastic[..., 1] = -CURL * out * np.sqrt(2.0)
    return Sheet(
        body, METAL, State(0.0, np.zeros(body.n_unknowns), plastic, np.zeros(0), no_grip(0, 0))
    )


def freed(sheet: Sheet) -> Sheet:
    scales = Scales(THICKNESS, 300.0)
    contact = tuning(scales.length, scales.stress)
    task = Problem(sheet.body, material_data(METAL), scales, contact)
    state = sheet.state
    for now, _ in release(task, state):
        state = now
    return Sheet(sheet.body, METAL, state)


def middle(sheet: Sheet) -> np.ndarray:
    columns = sheet.body.columns
    lines = columns.stride * np.arange(columns.count + 1) + columns.layers
    return sheet.state.places(sheet.body)[lines]


def spring(distance: np.ndarray) -> np.ndarray:
    """Outward displacement at a distance from the edge [mm]."""
    x = DECAY * distance
    return EDGE * np.exp(-x) * (np.cos(x) - np.sin(x))


def test_the_formula_solves_the_bending_equation():
    h, x = 0.05, np.linspace(1.0, 20.0, 9)
    fourth = sum(k * spring(x + j * h) for j, k in enumerate((1.0, -4.0, 6.0, -4.0, 1.0), start=-2))
    stiffness = YOUNG * THICKNESS**3 / (12.0 * (1.0 - POISSON**2))
    foundation = YOUNG * THICKNESS / RADIUS**2 * spring(x)
    np.testing.assert_allclose(stiffness * fourth / h**4, -foundation, atol=2e-3 * foundation.max())
    moment = stiffness * (spring(h) - 2.0 * spring(np.array(0.0)) + spring(-h)) / h**2
    shear = YOUNG / (1.0 + POISSON)
    assert -moment == pytest.approx(-shear * CURL * THICKNESS**3 / 12.0, rel=1e-2)


@pytest.mark.parametrize("height", [45.0, 45.4, 45.75])
def test_the_edge_of_a_cut_tube_springs_out_as_shell_theory_says(height):
    uncut = freed(tube(columns=90))
    cut = cut_square(uncut, height)
    after = freed(cut)
    moved = middle(after)[:, 0] - middle(cut)[:, 0]
    distance = height - (middle(cut)[:, 1] - middle(cut)[0, 1])
    near = distance < 25.0
    np.testing.assert_allclose(moved[near], spring(distance[near]), atol=0.02 * EDGE)
    np.testing.assert_allclose(moved[distance > 35.0], 0.0, atol=0.01 * EDGE)
