"""Slopes, ranks, Sobol indices, spread and reject rates against published numbers."""

import numpy as np
import pytest
from scipy.stats import binomtest

from formsim.case.study import build_study
from formsim.study.design import rows_of
from formsim.study.scatter import reject_rate, spread
from formsim.study.sensitivity import (
    difference,
    rank_correlation,
    regression,
    sobol_shares,
)

NORRIS = """0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3
449.1 448.6 778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5
10.8 11.6 557.7 556.0 228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8
339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1
449.2 448.9 0.2 0.5"""


def test_regression_against_certified_values():
    """Norris, NIST Statistical Reference Datasets, linear regression (memory)."""
    y, x = np.array(NORRIS.split(), dtype=float).reshape(-1, 2).T
    found = regression(x[:, None], y)
    assert len(y) == 36
    assert found.slopes[0].value == pytest.approx(1.00211681802045, rel=1e-12)
    assert found.slopes[0].error == pytest.approx(0.429796848199937e-3, rel=1e-9)
    assert found.determination == pytest.approx(0.999993745883712, rel=1e-12)


def test_regression_finds_a_plane_whatever_the_group():
    rng = np.random.default_rng(1)
    x, group = rng.random((30, 2)), rng.integers(0, 2, 30).astype(float)[:, None]
    y = 3.0 - 2.0 * x[:, 0] + 1e-3 * x[:, 1] + 7.0 * group[:, 0]
    found = regression(x * [1.0, 1e4], y, group)
    assert [one.value for one in found.slopes] == pytest.approx([-2.0, 1e-7])
    assert found.determination == pytest.approx(1.0)


def test_regression_needs_points_to_spare():
    assert regression(np.array([[0.0], [1.0]]), np.array([1.0, 2.0])) is None
    twice = np.repeat(np.arange(6.0)[:, None], 2, axis=1)
    assert regression(twice, np.arange(6.0)) is None


def test_difference_is_exact_for_a_parabola():
    x = np.array([1.0, 1.5, 3.0, 4.0])
    found = difference((2.0, 5.0 * 2.0**2), np.column_stack([x, 5.0 * x**2]))
    assert found.value == pytest.approx(20.0)
    assert found.error == pytest.approx(0.5 * 5.0 * 1.5)


def test_difference_on_one_side_knows_no_error():
    found = difference((2.0, 4.0), np.array([[3.0, 9.0], [4.0, 16.0]]))
    assert (found.value, found.error) == (5.0, None)
    assert difference((2.0, 4.0), np.array([[2.0, 4.0]])) is None


def test_rank_correlation_by_hand():
    """1 - 6 sum(d**2) / (n (n**2 - 1)), C. Spearman, 1904: ranks 1 2 3 4 5 and 2 1 4 3 5."""
    x, y = np.arange(5.0), np.array([4.0, 1.0, 16.0, 9.0, 25.0])
    assert rank_correlation(x, y) == pytest.approx(1.0 - 6.0 * 4.0 / (5.0 * 24.0))
    assert rank_correlation(x, np.ones(5)) == 0.0


@pytest.mark.slow
def test_sobol_indices_of_the_ishigami_function():
    """A. Saltelli et al., Global Sensitivity Analysis, 2008 (memory): a = 7, b = 0.1.

    First order 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437. The design is that of a study.
    """
    even = {"kind": "uniform", "low": -np.pi, "high": np.pi}
    raw = {"title": "t", "case": "c", "design": {"kind": "pick_freeze", "samples": 4096}}
    study = build_study({**raw, "vary": [{"key": k, "scatter": even} for k in "abc"]}, "s")
    x = np.array(rows_of(study, "s")).T
    values = np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])
    found = sobol_shares(values.reshape(5, 4096))
    assert found.samples == 4096
    assert found.first == pytest.approx([0.3139, 0.4424, 0.0], abs=0.02)
    assert found.total == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.02)
    assert (found.first_low <= found.first).all() and (found.first <= found.first_high).all()
    assert (found.total_low <= found.total).all() and (found.total <= found.total_high).all()


def test_sobol_indices_leave_out_samples_without_a_number():
    rng = np.random.default_rng(2)
    values = rng.random((4, 20))
    values[2, 3] = np.nan
    found = sobol_shares(values)
    assert found.samples == 16
    kept = np.delete(values, 3, axis=1)[:, :16]
    assert found.first == pytest.approx(sobol_shares(kept).first)
    assert sobol_shares(values[:, :6]) is None
    assert sobol_shares(np.ones((4, 8))) is None


@pytest.mark.parametrize(
    ("rejects", "count", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0, 0.1684),
        (1, 29, 0.0009, 0.1776),
    ],
)
def test_reject_rates_against_a_published_table(rejects, count, low, high):
    """R. G. Newcombe, Statistics in Medicine 17, 1998, table I, method 5 (memory)."""
    found = reject_rate(rejects, count)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-4)
    assert found.share == rejects / count


def test_the_interval_turns_the_test_around():
    """At its ends the binomial tail is 2.5 %: Clopper and Pearson, Biometrika 26, 1934."""
    found = reject_rate(3, 64)
    for end, side in ((found.low, "greater"), (found.high, "less")):
        assert binomtest(3, 64, end, alternative=side).pvalue == pytest.approx(0.025)
    assert reject_rate(0, 0) is None


def test_spread_by_hand():
    found = spread(np.array([1.0, 2.0, 3.0, 4.0, np.nan]))
    assert (found.count, found.mean, found.median) == (4, 2.5, 2.5)
    assert found.deviation == pytest.approx(np.sqrt(5.0 / 3.0))
    assert (found.least, found.most) == (1.0, 4.0)
    assert spread(np.array([np.nan])) is None
    assert spread(np.array([2.0])).deviation is None
