"""Whatever the metal: its own constants come back out of noisy tests, and curves harden."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formsim.material.flow import Swift, Voce
from formsim.tensile.evaluate import Ranges, evaluate
from formsim.tensile.fit import fit_all, points_of
from formsim.tensile.record import TensileTest
from tests.unit.bars import YOUNG, bar

YIELD = st.floats(60.0, 400.0)
R_VALUES = st.floats(0.3, 2.5)
SEEDS = st.integers(0, 1000)
FEW = settings(max_examples=12)


def evaluated(curve, seed, r=1.0, noise=0.001):
    level = float(curve.stress(0.1))
    strain, stress, width = bar(curve, r=r, noise=noise * level, toe=5e-4, seed=seed, rows=500)
    lines = np.arange(len(strain))
    return evaluate(TensileTest("b.csv", "0", strain, stress, width, lines, ""), Ranges())


@st.composite
def saturating(draw):
    first = draw(YIELD)
    rate = draw(st.floats(8.0, 30.0))
    # A test of some length: the largest force at a plastic strain of 5 % or more.
    rise = draw(st.floats(0.35, 1.2))
    return Voce(first * (1 + rise), first * rise, rate)


@st.composite
def rising(draw):
    exponent = draw(st.floats(0.12, 0.35))
    prestrain = draw(st.floats(0.001, 0.02))
    return Swift(draw(YIELD) / prestrain**exponent, prestrain, exponent)


def level_error(fit, curve, uniform):
    strain = np.linspace(0.002, uniform, 50)
    return np.abs(fit.curve.stress(strain) / curve.stress(strain) - 1.0).max()


@FEW
@given(saturating(), SEEDS)
def test_constants_of_saturating_metal_are_found(curve, seed):
    """A scatter of 0.1 % of the stress: stress to 0.3 %, saturation to 1.5 %, rate to 8 %."""
    values = evaluated(curve, seed)
    fit = next(fit for fit in fit_all(points_of([values]), YOUNG) if fit.kind == "voce")
    assert level_error(fit, curve, values.uniform_true) < 0.003
    assert abs(fit.table.saturation / curve.saturation - 1.0) < 0.015
    assert abs(fit.table.rate / curve.rate - 1.0) < 0.08
    assert abs(fit.table.rate - curve.rate) < 8.0 * fit.errors["rate"] + 0.02 * curve.rate


@pytest.mark.slow
@FEW
@given(rising(), SEEDS)
def test_constants_of_ever_hardening_metal_are_found(curve, seed):
    """A scatter of 0.1 % of the stress: stress to 0.5 %, exponent to 3 %, strength to 2 %.

    The mean point of the first stretch lies below the bent start of a curve of small prestrain.
    """
    values = evaluated(curve, seed)
    fit = next(fit for fit in fit_all(points_of([values]), YOUNG) if fit.kind == "swift")
    assert level_error(fit, curve, values.uniform_true) < 0.005
    assert abs(fit.table.exponent / curve.exponent - 1.0) < 0.03
    assert abs(fit.table.strength / curve.strength - 1.0) < 0.02


@FEW
@given(saturating(), R_VALUES, SEEDS)
def test_r_is_found_to_a_per_cent(curve, r, seed):
    values = evaluated(curve, seed, r)
    assert abs(values.r / r - 1.0) < 0.01


@pytest.mark.slow
@FEW
@given(st.one_of(saturating(), rising()), SEEDS)
def test_every_fitted_law_hardens_and_stays_near_its_points(curve, seed):
    values = evaluated(curve, seed, noise=0.003)
    points = points_of([values])
    strain = np.linspace(0.0, 2.0, 400)
    for fit in fit_all(points, YOUNG):
        assert np.all(np.diff(fit.curve.stress(strain)) >= 0.0)
        assert float(fit.curve.stress(0.0)) > 0.0
        assert fit.rms < 0.05 * values.strength


@FEW
@given(rising(), st.floats(0.2, 5.0), SEEDS)
def test_a_stiffer_unit_of_stress_scales_all_stresses(curve, factor, seed):
    """Values scale with the stress where the elastic slope scales too."""
    strain, stress, _ = bar(curve, seed=seed)
    lines = np.arange(len(strain))
    one = evaluate(TensileTest("b", "0", strain, stress, None, lines, ""), Ranges())
    other = evaluate(TensileTest("b", "0", strain, factor * stress, None, lines, ""), Ranges())
    assert abs(other.proof / (factor * one.proof) - 1.0) < 1e-9
    assert abs(other.uniform - one.uniform) < 1e-9
