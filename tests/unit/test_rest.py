"""Elements at rest follow from their last tangent; all others are worked out again."""

import numpy as np
import pytest

from formsim.geometry.blank import strip_mesh
from formsim.material.flow import Voce
from formsim.material.model import Material
from formsim.solver.balance import Rest, no_rest
from formsim.solver.body import Body, build_body
from formsim.solver.element import element_forces
from formsim.solver.problem import material_data
from formsim.solver.tempo import NO_PACE

METAL = material_data(Material("m", 69e3, 0.33, 2700.0, Voce(405.0, 105.0, 18.0, 0.0)))
REACH = 1e-5


@pytest.fixture(scope="module")
def body() -> Body:
    return build_body(strip_mesh(0.0, 20.0, 0.28, columns=30, layers=2, even_to=15.0))


def worked_out(body: Body, u: np.ndarray, rest: Rest, *, reach: float = REACH, want: bool = True):
    """Forces, tangents, new plastic state and energy."""
    n = len(body.elements)
    old, new = np.zeros((n, 4, 4)), np.full((n, 4, 4), np.nan)
    block, force = np.zeros((n, 16, 16)), np.zeros((n, 16))
    fixed = (body.unknowns, body.shape, body.along, body.gradient, body.radius, body.volume)
    law = (METAL.constants, METAL.table)
    kept = (rest.seen, rest.force, rest.stiffness, rest.energy, rest.restful, rest.times)
    given = (old, new, block, force, want, *kept, np.full(n, -1), reach, NO_PACE)
    bad, energy = element_forces(0, n, u, *fixed, *law, *given)
    assert bad == -1
    return force, block, new, energy


def bent(body: Body, size: float) -> np.ndarray:
    """Displacement of an elastic, bent and stretched disc."""
    r, z = body.nodes.T
    return np.stack([size * (r - 0.3 * r * (z - 0.14)), size * 0.15 * r**2], axis=1).ravel()


def test_small_strain_since_gives_the_same_forces(body: Body) -> None:
    """The error is of second order: ten times the way, a hundred times the error."""
    u, shake = bent(body, 1e-3), np.random.default_rng(1).standard_normal(body.n_unknowns)
    errors = []
    for size in (1e-6, 1e-5):
        rest = no_rest(len(body.elements))
        worked_out(body, u, rest)
        assert rest.restful.all()
        now = u + size * shake / np.abs(shake).max()
        found, exact = (
            worked_out(body, now, r, reach=2.1 * size) for r in (rest, no_rest(len(body.elements)))
        )
        errors.append(np.abs(found[0] - exact[0]).max())
        assert found[3] == pytest.approx(exact[3], rel=1e-6)
        assert np.array_equal(found[2], exact[2])
        assert not np.array_equal(found[1], exact[1])
    assert errors[1] == pytest.approx(100.0 * errors[0], rel=0.3)
    assert errors[0] < 1e-6 * np.abs(exact[0]).max()


def test_travel_along_the_axis_is_no_strain(body: Body) -> None:
    u, rest = bent(body, 1e-3), no_rest(len(body.elements))
    force, block, _, _ = worked_out(body, u, rest)
    lifted = u + 50.0 * (np.arange(body.n_unknowns) % 2)
    again = worked_out(body, lifted, rest)
    np.testing.assert_allclose(again[0], force, atol=1e-9 * np.abs(force).max())
    np.testing.assert_array_equal(again[1], block)


def test_flowing_elements_are_never_at_rest(body: Body) -> None:
    rest = no_rest(len(body.elements))
    _, _, new, _ = worked_out(body, bent(body, 6e-3), rest)
    flows = new[..., 3].max(axis=1) > 0.0
    assert flows.mean() > 0.0
    assert not rest.restful[flows].any()


def test_what_goes_beyond_the_reach_is_worked_out(body: Body) -> None:
    rest = no_rest(len(body.elements))
    worked_out(body, bent(body, 1e-3), rest)
    found = worked_out(body, bent(body, 1.2e-3), rest)
    exact = worked_out(body, bent(body, 1.2e-3), no_rest(len(body.elements)))
    for one, other in zip(found[:3], exact[:3], strict=True):
        np.testing.assert_array_equal(one, other)


def test_a_force_alone_leaves_nothing_to_rest_on(body: Body) -> None:
    rest = no_rest(len(body.elements))
    worked_out(body, bent(body, 1e-3), rest, want=False)
    assert not rest.restful.any()
