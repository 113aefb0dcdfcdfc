"""Ears by the ring model: against a measured cup, and what must hold whatever the r-values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formsim.case.load import load_case, parse_case
from formsim.case.template import template
from formsim.errors import TheoryRangeError
from formsim.report.earing import case_ears_text
from formsim.results.earing import ears_row, expected_ears, foreseen_valley
from formsim.results.findings import ear_findings
from formsim.results.theory.earing import ears, r_round, rim_height
from tests.unit.test_case_schema import CANISTER

ANGLES = np.arange(0.0, 91.0, 15.0)
# A. M. Habraken et al., Int. J. Mater. Form. 15:59, 2022, read through its open data set.
R_CUP = (0.526, 0.344, 0.301, 0.253, 0.294, 0.393, 0.601)
MEASURED = np.array([34.76, 34.36, 33.89, 33.47, 33.78, 34.44, 34.82])
BLANK, WALL = 53.75, 30.5


def at(found, angle):
    return np.interp(angle, found.angles, found.heights)


# Own derivation, computed by hand: h = 30.5/(q + 1) [(53.75/30.5)^(q + 1) - 1], q = r/(1 + r).
def test_rim_of_the_published_cup_by_the_ring_model():
    height = rim_height(np.array(R_CUP)[::-1], BLANK, WALL)
    expected = [26.17, 25.40, 24.96, 24.76, 25.00, 25.19, 25.91]
    np.testing.assert_allclose(height, expected, atol=0.006)


def test_ears_of_the_measured_cup():
    """Habraken et al. 2022: four quarters of the measured rim folded into one."""
    found = ears(tuple(zip(ANGLES, R_CUP, strict=True)), BLANK, WALL)
    above = MEASURED - MEASURED.min()
    forecast = at(found, ANGLES)
    # The model misses the steep sides of the ears by up to 0.55 mm, their height by 4 %.
    np.testing.assert_allclose(forecast, above, atol=0.56)
    assert found.height == pytest.approx(above.max(), rel=0.06)
    assert found.count == 4
    assert np.corrcoef(forecast, above)[0, 1] > 0.9
    assert found.below_mean == pytest.approx(np.mean(above[:-1] + above[1:]) / 2, abs=0.25)


def test_ears_lie_at_45_degrees_where_delta_r_is_negative():
    along = ears(((0.0, 2.0), (45.0, 1.2), (90.0, 2.2)), 50.0, 28.0)
    between = ears(((0.0, 0.6), (45.0, 1.4), (90.0, 0.7)), 50.0, 28.0)
    assert (along.count, between.count) == (4, 4)
    assert at(along, 45.0) == pytest.approx(0.0, abs=0.02)
    assert at(between, 45.0) == pytest.approx(between.height, abs=0.02)
    # The ear of the rolling direction follows from r at 90 degrees, across it.
    assert at(along, 0.0) > at(along, 90.0)


def test_more_and_fewer_ears():
    values = (0.354, 0.239, 0.640, 1.069, 1.279, 1.224, 1.396)
    can = ears(tuple(zip(ANGLES, values, strict=True)), 38.0, 23.0)
    assert can.count in (2, 4, 6, 8)
    two = ears(((0.0, 0.5), (45.0, 0.75), (90.0, 1.0)), 50.0, 28.0)
    assert two.count == 2
    six = ears(((0.0, 1.2), (30.0, 0.8), (60.0, 1.2), (90.0, 0.8)), 50.0, 28.0)
    assert six.count == 6


def test_isotropic_sheet_has_no_ears():
    found = ears(((0.0, 1.0), (45.0, 1.0), (90.0, 1.0)), 50.0, 28.0)
    assert found.count == 0
    assert found.height == pytest.approx(0.0, abs=1e-12)
    assert found.area == pytest.approx(0.0, abs=1e-9)


R = st.floats(0.2, 3.0)


@given(st.tuples(R, R, R), st.floats(1.3, 2.2))
def test_what_holds_for_any_sheet(three, ratio):
    found = ears(tuple(zip((0.0, 45.0, 90.0), three, strict=True)), 30.0 * ratio, 30.0)
    assert found.heights.min() == 0.0
    assert 0.0 <= found.below_mean <= found.height
    assert found.count in (0, 2, 4, 6)
    assert 0.0 <= found.area < np.pi * (30.0 * ratio) ** 2
    # Metal above the cut: at least as thick a ring as the plain sheet, no more than twice.
    wall = 2.0 * np.pi * 30.0 * found.below_mean
    assert 0.9 * wall - 1e-6 <= found.area <= 2.3 * wall + 1e-6


@given(st.lists(st.tuples(st.floats(1.0, 89.0), R), min_size=0, max_size=6), R, R)
def test_r_values_pass_their_points_and_stay_between(inner, first, last):
    middle = dict(sorted((round(angle), r) for angle, r in inner))
    by_angle = ((0.0, first), *((float(angle), r) for angle, r in middle.items()), (90.0, last))
    given_at = np.array([angle for angle, _ in by_angle])
    values = [r for _, r in by_angle]
    np.testing.assert_allclose(r_round(by_angle, given_at), values, rtol=1e-9)
    between = r_round(by_angle, np.linspace(0.0, 90.0, 50))
    assert between.min() >= min(values) - 1e-9
    assert between.max() <= max(values) + 1e-9


def test_a_blank_no_wider_than_the_cup_is_refused():
    with pytest.raises(TheoryRangeError, match="wider than the cup"):
        ears(((0.0, 1.0), (90.0, 1.0)), 28.0, 28.0)


def test_ears_of_a_case():
    case = load_case(CANISTER.with_name("published_cup_aa6016.toml"))
    found = expected_ears(case, case.stages[0])
    row = ears_row(case, found)
    assert row["mass"] == pytest.approx(1e-6 * found.area * 1.0 * 2700.0)
    assert row["blank_percent"] == pytest.approx(100.0 * found.area / (np.pi * 53.75**2))
    text = case_ears_text(case)
    assert "4 ears, 1.4" in text
    assert "simulation is axisymmetric and has no ears" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 100


def test_no_ears_are_told_where_nothing_tells():
    assert case_ears_text(parse_case(template(), "cup.toml")) == ""
    text = CANISTER.with_name("published_cup_aa6016.toml").read_text(encoding="utf-8")
    short = text.replace("friction = 0.09", "friction = 0.09\nstroke = 20.0")
    assert case_ears_text(parse_case(short, "cup.toml")) == ""


EARED = '{ base = "can-body-demo", r_values = { r0 = 0.5, r45 = 1.2, r90 = 0.6 } }'
RING = """
[[stage]]
kind = "iron"
punch = { diameter = 74.0, nose_radius = 3.0 }
rings = [{ bore = 74.4, land = 0.6 }]
"""
TRIM = '[[stage]]\nkind = "trim"\nheight = '


def eared(*stages):
    """The template cup, its draw alone, in a sheet with ears, and other stages behind."""
    text = template().replace('material = "can-body-demo"', f"material = {EARED}")
    start = text.index("[[stage]]")
    end = text.index("[[stage]]", start + 1)
    return parse_case(text[:end] + "\n".join(stages), "cup.toml")


def test_the_valley_a_trim_meets_gets_longer_as_the_wall_gets_thinner():
    """Constant volume by hand: from (74 + t) t to (74 + 0.2) 0.2, with t = 0.31 of the die."""
    at_once, ironed = eared(f"{TRIM}25.0"), eared(RING, f"{TRIM}35.0")
    found = expected_ears(at_once, at_once.stages[0])
    assert foreseen_valley(at_once, 1) == pytest.approx(found.below_mean)
    clearance = at_once.stages[0].die.clearance
    longer = (74.0 + clearance) * clearance / (74.2 * 0.2)
    assert foreseen_valley(ironed, 2) == pytest.approx(found.below_mean * longer)


def test_a_trim_above_the_valleys_is_told_before_the_run():
    low, high = eared(f"{TRIM}20.0"), eared(f"{TRIM}29.3")
    assert [one.verdict for one in ear_findings(low)] == ["good"]
    (told,) = ear_findings(high)
    assert told.verdict == "watch"
    assert told.value < foreseen_valley(high, 1)
    assert "cut at" in told.consequence
    assert not list(ear_findings(eared()))


def test_a_second_trim_meets_no_ears():
    twice = eared(f"{TRIM}25.0", f'{TRIM}20.0\nname = "again"')
    assert foreseen_valley(twice, 2) == 0.0
