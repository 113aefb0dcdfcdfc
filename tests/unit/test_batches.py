"""Elements are worked out in batches, which no number of them may notice."""

import numpy as np
import pytest

from formsim.geometry.blank import strip_mesh
from formsim.material.flow import Voce
from formsim.material.model import Material
from formsim.solver.balance import no_rest
from formsim.solver.body import Body, build_body
from formsim.solver.element import BATCH, element_forces
from formsim.solver.problem import material_data
from formsim.solver.tempo import NO_PACE

METAL = material_data(Material("m", 69e3, 0.33, 2700.0, Voce(405.0, 105.0, 18.0, 0.0)))
RNG = np.random.default_rng(3)


@pytest.fixture(scope="module")
def body() -> Body:
    return build_body(strip_mesh(0.0, 20.0, 0.28, columns=BATCH + 2, layers=2, even_to=15.0))


@pytest.fixture(scope="module")
def u(body: Body) -> np.ndarray:
    """Half of the strip flows, the rest is elastic."""
    size = np.where(body.nodes[:, :1] > 10.0, 0.02, 1e-4)
    return (body.nodes * [-1.0, 0.5] * size + 1e-6 * RNG.standard_normal(body.nodes.shape)).ravel()


def worked_out(body: Body, u: np.ndarray, first: int, last: int, want: bool = True):
    n = len(body.elements)
    old, new = np.zeros((n, 4, 4)), np.zeros((n, 4, 4))
    block, force = np.zeros((n, 16, 16)), np.zeros((n, 16))
    fixed = (body.unknowns, body.shape, body.along, body.gradient, body.radius, body.volume)
    law, rest = (METAL.constants, METAL.table), no_rest(n)
    kept = (rest.seen, rest.force, rest.stiffness, rest.energy, rest.restful, rest.times)
    given = (old, new, block, force, want, *kept, np.full(n, -1), 0.0, NO_PACE)
    answer = element_forces(first, last, u, *fixed, *law, *given)
    return answer, force, block, new


@pytest.mark.parametrize("count", [1, 2, 3, BATCH - 1, BATCH, BATCH + 1, 2 * BATCH + 3])
def test_any_number_of_elements_gives_the_same(body: Body, u: np.ndarray, count: int) -> None:
    _, *whole = worked_out(body, u, 0, len(body.elements))
    (bad, energy), *part = worked_out(body, u, 1, 1 + count)
    single = sum(worked_out(body, u, e, e + 1)[0][1] for e in range(1, 1 + count))
    assert bad == -1
    assert energy == pytest.approx(single, rel=1e-14)
    for one, other in zip(part, whole, strict=True):
        np.testing.assert_array_equal(one[1 : 1 + count], other[1 : 1 + count])
        assert not one[0].any()
        assert not one[1 + count :].any()


def test_force_alone_is_the_same_force(body: Body, u: np.ndarray) -> None:
    n = len(body.elements)
    _, force, _, new = worked_out(body, u, 0, n)
    _, alone, block, plastic = worked_out(body, u, 0, n, want=False)
    np.testing.assert_array_equal(alone, force)
    np.testing.assert_array_equal(plastic, new)
    assert not block.any()


def test_tangents_are_symmetric(body: Body, u: np.ndarray) -> None:
    _, _, block, _ = worked_out(body, u, 0, len(body.elements))
    np.testing.assert_allclose(block, block.swapaxes(1, 2), atol=1e-13 * np.abs(block).max())


@pytest.mark.parametrize("what", ["inverted", "not a number"])
def test_the_first_bad_element_is_named(body: Body, u: np.ndarray, what: str) -> None:
    e = BATCH + 3
    broken = u.copy()
    node = body.elements[e, 2]
    broken[2 * node + 1] = np.nan if what == "not a number" else -30.0
    (bad, _), *_ = worked_out(body, broken, 0, len(body.elements))
    first = int(np.flatnonzero((body.elements == node).any(axis=1))[0])
    assert bad == first
