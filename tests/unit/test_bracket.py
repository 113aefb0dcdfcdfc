"""The bracket of a search: invariants for any monotone measure, number of steps, closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from formsim.study.bracket import bracket_of, step_into
from formsim.study.guided import expected_gain
from formsim.study.trial import Trial, is_mixed, is_monotone, way_back


def trial(place, excess, sign=1.0):
    kept = None if excess is None else (excess,)
    return Trial((place,), (place,), 1, "done", "", "", (excess,), kept, sign * place)


def searched(law, within, sign=1.0):
    """Trials and widths of a search from both ends until the bracket is narrow."""
    trials = [trial(place, law(place), sign) for place in (0.0, 1.0)]
    widths = []
    while (bracket := bracket_of(trials)) and bracket.width > within:
        widths.append(bracket.width)
        place = step_into(bracket, within, trials)
        ends = sorted((bracket.inner.place[0], bracket.outer.place[0]))
        assert ends[0] < place < ends[1]
        trials.append(trial(place, law(place), sign))
        assert is_monotone(trials) and not is_mixed(trials)
    return trials, widths


@given(st.floats(0.001, 0.999), st.floats(0.1, 20.0), st.sampled_from([0.1, 0.01, 0.001]))
def test_a_border_is_enclosed_whatever_the_shape(border, power, within):
    def law(x):
        return border**power - x**power if x < border else -abs(x**power - border**power)

    trials, widths = searched(law, within)
    bracket = bracket_of(trials)
    assert bracket.outer.place[0] < border <= bracket.inner.place[0] or border == pytest.approx(
        bracket.outer.place[0], abs=1e-12
    )
    assert bracket.width <= within
    assert all(after < before for before, after in zip(widths, widths[1:], strict=False))
    assert len(trials) <= 2 + 3 * math.ceil(math.log2(1.0 / within))


@given(st.floats(0.01, 0.99))
def test_largest_is_smallest_seen_from_the_other_end(border):
    up, _ = searched(lambda x: border - x, 0.01)
    down, _ = searched(lambda x: x - (1.0 - border), 0.01, sign=-1.0)
    mirrored = [1.0 - one.place[0] for one in down[2:]]
    assert [one.place[0] for one in up[2:]] == pytest.approx(mirrored, abs=1e-9)


@given(st.floats(0.02, 0.98))
def test_a_straight_measure_takes_few_steps(border):
    trials, _ = searched(lambda x: border - x, 0.01)
    assert len(trials) <= 5


@given(st.floats(0.05, 0.95))
def test_a_bent_measure_takes_a_few_more(border):
    trials, _ = searched(lambda x: np.log(border + 0.5) - np.log(x + 0.5), 0.01)
    assert len(trials) <= 7


def test_failing_variants_are_bisected():
    trials, _ = searched(lambda x: None if x < 0.3 else -1.0, 0.01)
    bracket = bracket_of(trials)
    assert bracket.outer.place[0] < 0.3 <= bracket.inner.place[0]
    assert len(trials) == 2 + 7


def test_nothing_to_enclose():
    assert bracket_of([trial(0.0, 1.0), trial(1.0, 2.0)]) is None
    assert bracket_of([trial(0.0, -1.0), trial(1.0, 2.0)]) is None


def test_order_of_what_was_found():
    rising = [trial(x, x - 0.5) for x in (0.0, 0.4, 1.0)]
    assert is_monotone(rising) and way_back(rising) == 0.0
    bent = [trial(0.0, 1.0), trial(0.3, 1.5), trial(1.0, -0.5)]
    assert way_back(bent) == pytest.approx(0.5 / 2.0)
    assert not is_mixed(bent) and not is_monotone(bent)
    turns = [trial(0.0, 1.0), trial(0.5, -0.1), trial(1.0, 0.01)]
    assert is_mixed(turns) and not is_monotone(turns)
    assert is_mixed([trial(0.0, 1.0), trial(0.5, -0.1), trial(1.0, None)])


@pytest.mark.parametrize(("gain", "spread"), [(0.3, 0.5), (-1.0, 0.4), (2.0, 1.0), (0.0, 0.1)])
def test_expected_gain_is_its_integral(gain, spread):
    """Jones, Schonlau and Welch 1998, eq. 15 (memory), against plain quadrature."""

    def share(x):
        return max(x, 0.0) * math.exp(-0.5 * ((x - gain) / spread) ** 2)

    whole = quad(share, 0.0, gain + 12.0 * spread)[0] / (spread * math.sqrt(2.0 * math.pi))
    found = expected_gain(np.array([gain]), np.array([spread]))[0]
    assert found == pytest.approx(whole, rel=1e-6, abs=1e-9)


def test_without_doubt_the_gain_is_the_gain():
    assert expected_gain(np.array([0.3, -0.3]), np.zeros(2)) == pytest.approx([0.3, 0.0])
