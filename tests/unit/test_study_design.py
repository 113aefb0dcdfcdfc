"""Designs and distributions of a study against what books say of them."""

import numpy as np
import pytest

from formsim.case.study import (
    Lognormal,
    Normal,
    Triangular,
    Uniform,
    build_study,
)
from formsim.errors import CaseError
from formsim.study.design import quantile, rows_of

LEVELS = [{"key": "a", "values": [1, 2]}, {"key": "b", "values": ["x", "y", "z"]}]
EVEN = [{"key": k, "scatter": {"kind": "uniform", "low": 0.0, "high": 1.0}} for k in "abc"]


def rows(vary, **design):
    raw = {"title": "t", "case": "c.toml", "vary": vary, "design": design}
    return rows_of(build_study(raw, "s.toml"), "s.toml")


def test_a_grid_takes_every_combination_once():
    assert rows(LEVELS, kind="grid") == [(a, b) for a in (1, 2) for b in "xyz"]


def test_a_list_takes_values_together():
    same = [{"key": "a", "values": [1, 2, 3]}, LEVELS[1]]
    assert rows(same, kind="list") == [(1, "x"), (2, "y"), (3, "z")]


def test_one_at_a_time_begins_with_the_base_case():
    found = rows([*LEVELS, EVEN[2]], kind="one_at_a_time")
    assert found[:6] == [
        (None, None, None),
        (1, None, None),
        (2, None, None),
        (None, "x", None),
        (None, "y", None),
        (None, "z", None),
    ]
    assert [row[2] for row in found[6:]] == pytest.approx([0.158655, 0.841345])


def test_a_latin_hypercube_has_one_sample_in_every_stratum():
    """M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21, 1979: the definition."""
    found = np.array(rows(EVEN, kind="latin_hypercube", samples=20))
    strata = np.sort((found * 20).astype(int), axis=0)
    assert np.array_equal(strata, np.tile(np.arange(20)[:, None], 3))


def test_sobol_points_are_balanced():
    """I. M. Sobol', 1967 (memory): of 2**m points each of 2**m even intervals holds one."""
    found = np.array(rows(EVEN, kind="sobol", samples=64))
    assert [np.bincount((column * 64).astype(int)).tolist() for column in found.T] == [[1] * 64] * 3


@pytest.mark.parametrize("kind", ["random", "latin_hypercube", "sobol", "pick_freeze"])
def test_the_seed_makes_the_samples(kind):
    first, again = (rows(EVEN, kind=kind, samples=8, seed=3) for _ in range(2))
    assert first == again
    assert first != rows(EVEN, kind=kind, samples=8, seed=4)


def test_pick_and_freeze_changes_one_column_at_a_time():
    found = np.array(rows(EVEN, kind="pick_freeze", samples=8)).reshape(5, 8, 3)
    first, second, *mixed = found
    for place, taken in enumerate(mixed):
        others = [k for k in range(3) if k != place]
        assert np.array_equal(taken[:, place], second[:, place])
        assert np.array_equal(taken[:, others], first[:, others])


def test_listed_values_are_drawn_alike():
    drawn = [row[1] for row in rows([*EVEN[:1], LEVELS[1]], kind="latin_hypercube", samples=9)]
    assert sorted(drawn) == list("xxxyyyzzz")


@pytest.mark.parametrize(
    ("share", "deviations"),
    [(0.5, 0.0), (0.84134, 1.0), (0.97725, 2.0), (0.02275, -2.0), (0.99865, 3.0), (0.95, 1.645)],
)
def test_normal_quantiles(share, deviations):
    """Table of the normal distribution, in any handbook of statistics (memory)."""
    found = quantile(Normal(kind="normal", mean=0.28, deviation=0.01), share)
    assert (found - 0.28) / 0.01 == pytest.approx(deviations, abs=5e-3)


def test_a_cut_normal_distribution_keeps_its_bounds_and_its_middle():
    cut = Normal(kind="normal", mean=1.0, deviation=0.1, low=0.9, high=1.1)
    found = [quantile(cut, share) for share in (1e-9, 0.5, 1.0 - 1e-9)]
    assert found == pytest.approx([0.9, 1.0, 1.1])


def test_quantiles_in_closed_form():
    """Uniform, triangular and lognormal: NIST/SEMATECH e-Handbook, chapter 1.3.6 (memory)."""
    uniform = Uniform(kind="uniform", low=2.0, high=6.0)
    triangle = Triangular(kind="triangular", low=0.0, mode=1.0, high=4.0)
    skewed = Lognormal(kind="lognormal", median=0.08, deviation=0.2)
    assert quantile(uniform, 0.25) == pytest.approx(3.0)
    assert quantile(triangle, 0.25) == pytest.approx(1.0)
    assert quantile(triangle, 0.75) == pytest.approx(4.0 - np.sqrt(0.25 * 4.0 * 3.0))
    assert quantile(skewed, 0.5) == pytest.approx(0.08)
    assert quantile(skewed, 0.8413447) == pytest.approx(0.08 * np.exp(0.2))


def test_too_many_variants_are_refused_before_any_is_made():
    vary = [{"key": k, "range": "1:1000:1"} for k in ("a", "b")]
    with pytest.raises(CaseError, match="makes 1000000 variants"):
        rows(vary, kind="grid")
