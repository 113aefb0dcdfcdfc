"""Characteristic values: the definitions on curves made by hand, and on bars of known metal."""

from dataclasses import replace

import numpy as np
import pytest

from formsim.errors import TensileError
from formsim.material.flow import Swift, Voce
from formsim.results.theory.instability import considere_strain
from formsim.tensile.elastic import elastic_line, proof_stress
from formsim.tensile.evaluate import Ranges, evaluate, hardening_exponent, r_value
from formsim.tensile.record import TensileTest
from tests.unit.bars import YOUNG, bar

SOFT = Swift(478.2, 0.0068, 0.2895)
HARD = Voce(405.0, 105.0, 18.0)


def test_of(strain, stress, width=None):
    lines = np.arange(2, len(strain) + 2)
    return TensileTest("bar.csv", "0", np.asarray(strain), np.asarray(stress), width, lines, "")


test_of.__test__ = False


def piecewise(points, rows=400):
    strain, stress = np.array(points).T
    fine = np.unique(np.concatenate([np.linspace(0.0, strain[-1], rows), strain]))
    return fine, np.interp(fine, strain, stress)


# ISO 6892-1, 3.10 and 3.15 (numbers of the definitions from memory): a curve of straight lines.
# E = 200 GPa to 200 MPa, then 2 GPa: the line moved by 0.2 % meets it where
# 200e3 (e - 0.002) = 200 + 2e3 (e - 0.001), e = 598/198e3, stress 204.04 MPa.
def test_values_of_a_curve_of_straight_lines():
    strain, stress = piecewise([(0.0, 0.0), (0.001, 200.0), (0.101, 400.0), (0.151, 340.0)], 6000)
    values = evaluate(test_of(strain, stress), Ranges())
    assert values.line.slope == pytest.approx(200e3, rel=1e-6)
    assert values.line.r2 == pytest.approx(1.0)
    assert values.proof == pytest.approx(200.0 + 2e3 * (598.0 / 198e3 - 0.001), abs=0.02)
    assert values.strength == pytest.approx(400.0)
    assert values.uniform == pytest.approx(0.101, abs=0.004)
    assert values.uniform - values.uniform_plastic == pytest.approx(400.0 / 200e3)


def test_a_toe_and_an_offset_move_nothing_but_the_origin():
    strain, stress, _ = bar(HARD)
    plain = evaluate(test_of(strain, stress), Ranges())
    settled, _, _ = bar(HARD, toe=0.002)
    moved = evaluate(test_of(settled + 0.001, stress), Ranges())
    assert moved.line.origin == pytest.approx(0.003, abs=2e-5)
    for name in ("proof", "strength", "uniform", "uniform_true", "hardening"):
        assert getattr(moved, name) == pytest.approx(getattr(plain, name), rel=2e-3), name
    assert moved.line.low > 10.0


@pytest.mark.parametrize("curve", [SOFT, HARD])
@pytest.mark.parametrize("noise", [0.0, 0.3, 1.0])
def test_values_of_a_bar_of_known_metal(curve, noise):
    strain, stress, width = bar(curve, noise=noise, toe=0.001, r=0.7)
    values = evaluate(test_of(strain, stress, width), Ranges())
    fine = np.linspace(0.0, 0.5, 100_001)
    true = curve.stress(fine)
    force = true * np.exp(-fine - true / YOUNG)
    top = int(force.argmax())
    assert values.line.slope == pytest.approx(YOUNG, rel=0.015)
    assert values.strength == pytest.approx(force[top], abs=0.01 + 4 * noise)
    assert values.uniform_true == pytest.approx(fine[top], rel=0.03)
    # Considere: the elastic change of section moves the largest force by less than 1 %.
    assert values.uniform_true == pytest.approx(considere_strain(curve), rel=0.035)
    assert values.r == pytest.approx(0.7, rel=0.01)
    assert not values.yielded


# Considere 1885 for a power law in plastic strain: n is the uniform strain (closed form).
def test_exponent_of_a_power_law_is_found_over_any_range():
    plastic = np.linspace(0.01, 0.2, 200)
    true = 500.0 * np.log1p(plastic) ** 0.21
    for between in ((0.02, 0.2), (0.1, 0.15)):
        assert hardening_exponent(plastic, true, between) == pytest.approx(0.21, rel=1e-9)
    assert hardening_exponent(plastic, true, (0.1, 0.102)) is None


# ISO 10113: r = ln(b/b0)/ln(L0 b0/(L b)). By hand: L 80 to 96, b 20 to 18.2 gives
# ln 0.91 / ln(1600/(96 18.2)) = -0.094311/-0.088011 = 1.0716.
def test_r_value_by_hand():
    length, width = np.log(96.0 / 80.0), np.log(18.2 / 20.0)
    assert width / np.log(80.0 * 20.0 / (96.0 * 18.2)) == pytest.approx(1.0716, abs=1e-4)
    path = np.linspace(0.0, 1.0, 50)
    found = r_value(path * length, path * width, (0.10, 0.20))
    assert found == pytest.approx(1.0716, abs=1e-4)
    assert r_value(path * length, -path * width, (0.10, 0.20)) is None
    assert r_value(path * length, path * width, (0.30, 0.40)) is None


def test_ranges_that_were_asked_for_are_taken():
    strain, stress, width = bar(SOFT, r=1.8)
    values = evaluate(test_of(strain, stress, width), Ranges((0.04, 0.06), (0.05, 0.1)))
    assert values.hardening_range == (0.04, 0.06)
    assert values.r_range == (0.05, 0.1)
    assert values.r == pytest.approx(1.8, rel=0.005)


def test_ranges_beyond_the_uniform_strain_are_refused():
    """Both values belong to uniform elongation: ISO 10275 and ISO 10113 (memory)."""
    strain, stress, width = bar(SOFT, r=1.8)
    uniform = evaluate(test_of(strain, stress, width), Ranges()).uniform_plastic
    with pytest.raises(TensileError) as it:
        evaluate(test_of(strain, stress, width), Ranges((0.1, 0.5), (0.4, 0.5)))
    assert [fault.key for fault in it.value.faults] == ["--n-range", "--r-range"]
    assert f"{100.0 * uniform:.1f} % here" in str(it.value)
    assert evaluate(test_of(strain, stress, width), Ranges(None, (0.05, uniform))).r is not None


def test_a_yield_point_is_told_and_not_fitted():
    points = [
        (0.0, 0.0),
        (0.0012, 240.0),
        (0.0015, 215.0),
        (0.02, 216.0),
        (0.2, 330.0),
        (0.3, 280.0),
    ]
    strain, stress = piecewise(points, 3000)
    values = evaluate(test_of(strain, stress), Ranges())
    assert 0.015 < values.yielded < 0.06
    assert "yield point" in values.notes[0]


def test_extension_of_the_machine_is_told():
    strain, stress, _ = bar(HARD)
    values = evaluate(test_of(strain + stress / 10e3, stress), Ranges())
    assert values.line.slope < 10e3
    assert "give of the machine" in values.notes[0]
    plain = evaluate(test_of(strain, stress), Ranges())
    assert values.uniform_plastic == pytest.approx(plain.uniform_plastic, rel=0.02)
    inside = np.linspace(0.005, 0.08, 40)
    level = np.interp(inside, values.strain, values.stress)
    # What is left is the true stress over the plastic strain alone: 0.5 % too low.
    np.testing.assert_allclose(level, HARD.stress(inside), rtol=0.006)


def test_a_test_that_ends_at_its_largest_force_is_used():
    strain, stress, _ = bar(SOFT)
    end = int(stress.argmax()) + 1
    values = evaluate(test_of(strain[:end], stress[:end]), Ranges())
    assert values.uniform_true == pytest.approx(considere_strain(SOFT), rel=0.05)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda e, s: (e[: len(e) // 2], s[: len(s) // 2]), "no maximum was reached"),
        (lambda e, s: (e[e < 0.002], s[e < 0.002]), "plastic strain of 0.2 %|no maximum"),
        (lambda e, s: (100.0 * e, s), "per cent and was read as a fraction"),
        (lambda e, s: (0.01 * e, s), "fraction and was read in per cent"),
        (lambda e, s: (e, 0.001 * s), "thousand times larger"),
        (lambda e, s: (e, 1000.0 * s), "thousand times smaller"),
        (lambda e, s: (0.1 * e, s), "see units, gauge length"),
        (lambda e, s: (e[s > 300.0], s[s > 300.0]), "elastic line|no metal|metal"),
    ],
)
def test_tests_that_give_no_values(change, said):
    strain, stress = change(*bar(HARD)[:2])
    with pytest.raises(TensileError, match=said):
        evaluate(test_of(strain, stress), Ranges())


def test_proof_stress_of_a_line_alone_is_not_there():
    strain = np.linspace(0.0, 0.002, 50)
    line = elastic_line(strain, 200e3 * strain)
    assert line.slope == pytest.approx(200e3)
    assert proof_stress(strain, 200e3 * strain, line) is None
    assert replace(line, points=3).points == 3
    assert elastic_line(strain[:3], 200e3 * strain[:3]) is None
