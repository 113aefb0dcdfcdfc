"""Marciniak-Kuczynski limit strains against closed forms, Hill's neck and a second solver."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formsim.errors import TheoryRangeError
from formsim.material.flow import HockettSherby, Ludwik, Swift, Voce
from formsim.results.theory.groove import groove_strains
from formsim.results.theory.instability import hill_localised_strain
from tests.references import groove

POWER = Swift(500.0, 1e-9, 0.2)
PLANE = np.array([0.0])


@pytest.mark.parametrize(
    ("n", "imperfection", "strain"),
    [(0.2, 0.99, 0.1431), (0.2, 0.995, 0.1585), (0.1, 0.99, 0.0616), (0.05, 0.99, 0.0246)],
)
def test_plane_strain_in_closed_form(n, imperfection, strain):
    """(e/n)**n exp(n - e) = f, Marciniak and Kuczynski 1967 (computed)."""
    found = groove_strains(Swift(500.0, 1e-9, n), PLANE, imperfection)[0]
    assert groove.plane_strain(n, imperfection) == pytest.approx(strain, abs=5e-5)
    assert found == pytest.approx(groove.plane_strain(n, imperfection), rel=2e-3)


@pytest.mark.parametrize("r_bar", [0.5, 1.0, 2.0])
@pytest.mark.parametrize(
    "curve", [POWER, Voce(405.0, 105.0, 18.0), HockettSherby(400.0, 150.0, 8.0, 0.8)]
)
def test_a_vanishing_groove_tends_to_hills_local_neck(curve, r_bar):
    """Hill 1952 on the left side; the rest falls with the root of the imperfection."""
    paths = np.linspace(-0.9 * r_bar / (1.0 + r_bar), 0.0, 4)
    hill = np.array([hill_localised_strain(curve, float(path), r_bar) for path in paths])
    misses = [1.0 - groove_strains(curve, paths, f, r_bar) / hill for f in (1 - 1e-4, 1 - 1e-6)]
    assert np.all(misses[0] > 0.0)
    assert np.all(misses[1] < 0.3 * misses[0] + 5e-3)
    assert np.all(misses[1] < 0.025)


@pytest.mark.parametrize(("path", "r_bar"), [(0.5, 1.0), (1.0, 1.0), (0.5, 2.0), (0.3, 0.6)])
def test_right_side_against_a_solver_in_stresses(path, r_bar):
    """tests/references/groove.py, whose march stops up to two of its steps early."""
    curve, step = Swift(500.0, 0.01, 0.2), 1e-3
    wanted = groove.runaway(lambda e: 500.0 * (0.01 + e) ** 0.2, path, 0.97, r_bar, step=step)
    found = groove_strains(curve, np.array([path]), 0.97, r_bar)[0]
    assert 0.0 < found - wanted < 2.5 * step


def test_left_side_against_a_solver_in_stresses():
    """The least of inclinations near the one with no strain along the groove."""
    step = 1e-3
    wanted = min(
        groove.runaway(
            lambda e: 500.0 * (0.01 + e) ** 0.2, -0.25, 0.98, angle=np.radians(a), step=step
        )
        for a in (18.0, 21.0)
    )
    found = groove_strains(Swift(500.0, 0.01, 0.2), np.array([-0.25]), 0.98)[0]
    assert abs(found - wanted) < 1.5 * step


@pytest.mark.slow
def test_finer_steps_change_little():
    paths = np.array([-0.4, 0.0, 0.5, 1.0])
    coarse, fine = (groove_strains(POWER, paths, 0.99, steps=n) for n in (200, 800))
    assert coarse == pytest.approx(fine, rel=2e-3)


@pytest.mark.slow
@settings(max_examples=12, deadline=None)
@given(
    n=st.floats(0.05, 0.35),
    imperfection=st.floats(0.96, 0.995),
    r_bar=st.floats(0.5, 2.0),
)
def test_laws_of_the_curve(n, imperfection, r_bar):
    """A thinner groove runs away earlier; the curve is least near plane strain and rises beyond;
    the strength of the metal has no part in it."""
    curve, share = Swift(500.0, 0.005, n), r_bar / (1.0 + r_bar)
    paths = np.array([-0.9 * share, -0.5 * share, 0.0, 0.4, 0.7, 1.0])
    deep, shallow = (
        groove_strains(curve, paths, f, r_bar, steps=100)
        for f in (imperfection, 1.0 - 0.5 * (1.0 - imperfection))
    )
    assert np.all(deep < shallow)
    assert np.all(np.diff(deep[:3]) < 0.0)
    assert np.all(np.diff(deep[3:]) > 0.0)
    strong = groove_strains(Swift(800.0, 0.005, n), paths, imperfection, r_bar, steps=100)
    assert strong == pytest.approx(deep, rel=1e-9)


def test_a_groove_too_deep_for_the_card_runs_away_at_once():
    """The groove alone would reach its peak before the sheet yields."""
    assert groove_strains(Ludwik(300.0, 20.0, 0.5), PLANE, 0.9)[0] == 0.0


def test_outside_its_range_no_number_is_given():
    with pytest.raises(TheoryRangeError):
        groove_strains(POWER, PLANE, 1.0)
    with pytest.raises(TheoryRangeError):
        groove_strains(POWER, np.array([-0.7]), 0.99)
