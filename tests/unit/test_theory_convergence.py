"""Observed order and error bars on manufactured numbers and on a published example."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formsim.errors import TheoryRangeError
from formsim.results.theory import convergence
from formsim.results.theory.convergence import judged, observed_order, step_bar

SIZES = (1.0, 1.5, 2.0)
RATIOS = st.floats(1.2, 3.0)


def manufactured(exact, error, order, sizes):
    """Numbers of known order: exact + error h**order."""
    return [exact + error * h**order for h in sizes]


def test_the_worked_example_of_celik():
    """Celik et al. 2008, table 1, reattachment length (memory): 18000, 8000, 4500 cells."""
    sizes = [cells**-0.5 for cells in (18000, 8000, 4500)]
    values = [6.063, 5.972, 5.863]
    found = judged(values, sizes)
    assert sizes[1] / sizes[0] == pytest.approx(1.5)
    assert sizes[2] / sizes[1] == pytest.approx(1.333, abs=5e-4)
    assert found.kind == "monotone"
    assert found.order == pytest.approx(1.53, abs=0.01)
    assert found.extrapolated == pytest.approx(6.1685, abs=5e-4)
    assert abs(values[1] / values[0] - 1.0) == pytest.approx(0.015, abs=5e-4)
    assert 1.0 - values[0] / found.extrapolated == pytest.approx(0.017, abs=5e-4)
    assert found.uncertainty / values[0] == pytest.approx(0.022, abs=5e-4)


@pytest.mark.parametrize("order", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("sizes", [SIZES, (1.0, 2.0, 4.0), (1.0, 1.3, 2.6)])
def test_known_orders_with_equal_and_unequal_ratios(order, sizes):
    found = judged(manufactured(3.0, -0.2, order, sizes), sizes)
    assert found.kind == "monotone"
    assert found.order == pytest.approx(order, abs=1e-8)
    assert found.extrapolated == pytest.approx(3.0, rel=1e-9)
    assert found.uncertainty == pytest.approx(1.25 * 0.2, rel=1e-6)


@given(
    st.floats(-100.0, 100.0),
    st.floats(0.01, 10.0),
    st.booleans(),
    st.floats(0.5, 4.0),
    RATIOS,
    RATIOS,
)
def test_the_bar_holds_the_exact_number(exact, error, up, order, near, far):
    sizes = (1.0, near, near * far)
    values = manufactured(exact, error if up else -error, order, sizes)
    found = judged(values, sizes)
    if 0.501 < order < 3.999:
        assert found.kind == "monotone"
        assert found.order == pytest.approx(order, abs=1e-5)
        assert found.extrapolated == pytest.approx(exact, abs=1e-5 * error)
    assert abs(values[0] - exact) <= found.uncertainty * (1.0 + 1e-6)


@given(st.floats(-3.0, 6.0), RATIOS, RATIOS)
def test_one_order_fits_also_where_numbers_run_away(order, near, far):
    if abs(order) < 1e-3:
        return
    coarse = near * far
    changes = (coarse**order - near**order) / (near**order - 1.0)
    assert observed_order(changes, near, far) == pytest.approx(order, abs=1e-6)


def test_equal_changes_are_of_no_order():
    assert observed_order(1.0, 2.0, 2.0) == pytest.approx(0.0, abs=1e-9)
    assert judged([1.0, 2.0, 3.0], (1.0, 2.0, 4.0)).kind == "diverging"


@given(st.floats(0.01, 10.0), st.floats(0.01, 10.0), st.booleans())
def test_numbers_that_swing_get_three_times_their_spread(near, far, up):
    sign = 1.0 if up else -1.0
    values = [5.0, 5.0 + sign * near, 5.0 + sign * (near - far)]
    found = judged(values, SIZES)
    assert (found.kind, found.order, found.extrapolated) == ("oscillatory", None, None)
    assert found.uncertainty == pytest.approx(3.0 * (max(values) - min(values)))


@pytest.mark.parametrize(
    ("values", "kind"),
    [
        ([1.0, 1.2, 1.25], "diverging"),
        ([1.0, 1.0001, 1.5], "out of range"),
        ([1.0, 1.2, 1.5], "monotone"),
        ([1.0, 1.2, 1.42], "out of range"),
        ([1.0, 1.0, 1.5], "out of range"),
        ([1.0, 1.5, 1.5], "diverging"),
    ],
)
def test_orders_that_are_no_orders(values, kind):
    found = judged(values, (1.0, 2.0, 4.0), noise=1e-9)
    assert found.kind == kind
    if kind != "monotone":
        assert found.extrapolated is None
        assert found.uncertainty >= 3.0 * (max(values) - min(values))


def test_slow_convergence_is_not_trusted_with_its_spread_alone():
    """Order 0.2: the error is 1 / (2**0.2 - 1) = 6.7 changes, the spread 2.1."""
    values = manufactured(1.0, 0.1, 0.2, (1.0, 2.0, 4.0))
    found = judged(values, (1.0, 2.0, 4.0))
    assert found.kind == "out of range"
    assert found.order == pytest.approx(0.2, abs=1e-9)
    assert found.uncertainty > values[0] - 1.0


def test_fast_convergence_counts_as_second_order_with_the_large_factor():
    values = manufactured(1.0, 0.01, 3.0, (1.0, 2.0, 4.0))
    assert judged(values, (1.0, 2.0, 4.0)).uncertainty == pytest.approx(3.0 * 0.07 / 3.0)


def test_equal_numbers_have_no_order():
    assert judged([2.0, 2.0, 2.0], SIZES) == convergence.Convergence("equal", None, None, 0.0)
    found = judged([2.0, 2.0 + 1e-8, 2.0 - 1e-8], SIZES, noise=1e-6)
    assert found.kind == "equal"
    assert found.uncertainty == pytest.approx(6e-8)


@given(st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=3))
def test_noise_never_has_a_bar_below_its_own_change(noise):
    """Second order bears down to the last change, everything else to three times the spread."""
    values = [10.0 + one for one in noise]
    found = judged(values, (1.0, math.sqrt(2.0), 2.0), noise=1e-12)
    assert found.uncertainty >= abs(values[1] - values[0]) * (1.0 - 1e-9)


def test_missing_meshes():
    assert judged([None, 1.0, 1.0], SIZES) == convergence.Convergence(
        "not enough", None, None, None
    )
    assert judged([1.0, None, None], SIZES).uncertainty is None
    assert judged([1.0, None, 1.1], SIZES).uncertainty == pytest.approx(3.0 * 0.1 / (2.0 - 1.0))
    assert judged([1.0, 1.1, None], SIZES).uncertainty == pytest.approx(3.0 * 0.1 / (1.5 - 1.0))
    assert judged([1.0, 1.1, None], SIZES).kind == "not enough"


def test_halved_increments_of_first_order():
    """Error 0.1 with the own increments, 0.05 with half of them; the factor of two is 3."""
    assert step_bar(1.1, 1.05, 2.0) == pytest.approx(3.0 * 0.1)
    assert step_bar(1.0, 1.0, 2.0) == 0.0


def test_meshes_in_a_wrong_order_are_refused():
    with pytest.raises(TheoryRangeError):
        observed_order(2.0, 0.5, 2.0)
    with pytest.raises(TheoryRangeError):
        observed_order(-2.0, 2.0, 2.0)
