"""Drawing stresses, forces and limits."""

import numpy as np
import pytest

from formsim.errors import TheoryRangeError
from formsim.material.flow import Swift
from formsim.results.theory import drawing
from tests.references import flange_draw

EXTENDED = {
    "die_radius": 6.0,
    "holder_force": 20_000.0,
    "die_friction": 0.05,
    "holder_friction": 0.05,
}


def extended(**changes):
    return drawing.extended_drawing_force(400.0, 90.0, 50.0, 1.0, **(EXTENDED | changes))


def test_ideal_force():
    assert drawing.ideal_drawing_stress(400.0, 90.0, 50.0) == pytest.approx(400 * np.log(1.8))
    force = drawing.ideal_drawing_force(400.0, 90.0, 50.0, 1.0)
    assert force == pytest.approx(np.pi * 50.0 * 400 * np.log(1.8))


def test_mean_flange_stress_of_a_flat_curve_and_at_the_start():
    assert drawing.mean_flange_stress(Swift(400.0, 1.0, 0.0), 100.0, 90.0, 50.0) == 400.0
    curve = Swift(500.0, 0.01, 0.2)
    start = float(curve.stress(0.0))
    assert drawing.mean_flange_stress(curve, 100.0, 100.0, 50.0) == pytest.approx(start)


def test_ideal_peak_force_against_the_marched_flange():
    """Hill 1950; Chiang and Kobayashi 1966 (computed 37.79 kN, r = 1): 15 %."""
    curve = Swift(500.0, 0.01, 0.2)
    force = drawing.ideal_peak_force(curve, 100.0, 50.0, 1.0)
    assert force / 1e3 == pytest.approx(flange_draw.PEAK[1.0][0], rel=0.15)


def test_extended_force_is_the_sum_of_its_terms():
    plain = extended(holder_force=0.0, die_friction=0.0)
    bending = np.pi * 50.0 * 2 / np.sqrt(3) * 400.0 / (2 * 6.5)
    ideal = 1.1 * drawing.ideal_drawing_force(400.0, 90.0, 50.0, 1.0)
    assert plain == pytest.approx(ideal + bending)
    held = extended(die_friction=0.0) - plain
    assert held == pytest.approx(2 * 0.05 * 20_000.0 * 50.0 / 90.0)


def test_extended_force_trends():
    """More friction, more holder force or a tighter die: more force."""
    base = extended()
    assert extended(die_friction=0.1) > base
    assert extended(holder_friction=0.1) > base
    assert extended(holder_force=40_000.0) > base
    assert extended(die_radius=5.0) > base > extended(die_radius=10.0)


def test_extended_and_efficiency_forces_agree_within_a_quarter():
    """Rival forms of the same books (memory): 25 %."""
    lumped = drawing.efficiency_drawing_force(400.0, 90.0, 50.0, 1.0, 0.7)
    assert extended() == pytest.approx(lumped, rel=0.25)


def test_shop_force_on_the_small_steel_cup():
    """Manufacturing Review 3, 2016, art. 160005, table 1: design punch force 39 kN.

    With UTS 750, t 0.5, blank 52, punch 30 mm the shop formula gives 36.5 kN.
    """
    force = drawing.shop_drawing_force(750.0, 52.0, 30.0, 0.5)
    assert force == pytest.approx(np.pi * 30.0 * 0.5 * 750.0 * (52.0 / 30.0 - 0.7))
    assert force == pytest.approx(39_000.0, rel=0.15)


def test_holder_force_and_pressure():
    force = drawing.shop_holder_force(300.0, 107.5, 60.0, 1.0, 10.0)
    assert force == pytest.approx(0.015 * 300 * np.pi * (107.5**2 - 82.2**2))
    pressure = drawing.holder_pressure(400.0, 100.0, 50.0, 1.0)
    assert pressure == pytest.approx(2.5e-3 * 1.5 * 400.0)
    assert drawing.holder_pressure(400.0, 100.0, 50.0, 0.5) > pressure


def test_limiting_ratio():
    """Whiteley 1960: r = 1 and efficiency ln 2.1 give 2.1; a higher r draws deeper."""
    assert drawing.limiting_ratio(1.0, np.log(2.1)) == pytest.approx(2.1)
    assert drawing.limiting_ratio(1.8, 0.75) > drawing.limiting_ratio(1.0, 0.75)


def test_bend_unbend_and_capstan():
    """Yp t**2/(2 rho), Yp = 2 Y/sqrt3, by integrating the plastic work of bending twice."""
    y = np.linspace(-0.5, 0.5, 20_001)
    flow = 2 / np.sqrt(3) * 300.0
    work = 2 * np.trapezoid(flow * np.abs(y) / 10.0, y)
    assert drawing.bend_unbend_tension(300.0, 1.0, 10.0) == pytest.approx(work, rel=1e-6)
    assert drawing.capstan_tension(100.0, 0.1, np.pi / 2) == pytest.approx(100 * np.exp(np.pi / 20))


def test_incipient_stress():
    for ratio, expected in flange_draw.INCIPIENT.items():
        assert drawing.incipient_drawing_stress(ratio) == pytest.approx(expected, abs=6e-5)
        marched = flange_draw.incipient_stress(ratio)
        assert drawing.incipient_drawing_stress(ratio) == pytest.approx(marched, rel=1e-6)
    assert drawing.incipient_drawing_stress(1.0) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: drawing.ideal_drawing_stress(400.0, 40.0, 50.0),
        lambda: drawing.ideal_drawing_force(400.0, 90.0, 50.0, 0.0),
        lambda: drawing.mean_flange_stress(Swift(500.0, 0.01, 0.2), 100.0, 101.0, 50.0),
        lambda: drawing.ideal_peak_force(Swift(500.0, 0.01, 0.2), 130.0, 50.0, 1.0),
        lambda: drawing.efficiency_drawing_force(400.0, 90.0, 50.0, 1.0, 0.9),
        lambda: extended(holder_force=-1.0),
        lambda: extended(die_radius=2.0),
        lambda: drawing.shop_drawing_force(400.0, 55.0, 50.0, 1.0),
        lambda: drawing.shop_holder_force(300.0, 80.0, 60.0, 1.0, 10.0),
        lambda: drawing.holder_pressure(400.0, 100.0, 50.0, 1.0, 4.0),
        lambda: drawing.limiting_ratio(1.0, 1.2),
        lambda: drawing.capstan_tension(1.0, -0.1, 1.0),
        lambda: drawing.incipient_drawing_stress(3.0),
    ],
)
def test_outside_its_range_no_number_is_given(ask):
    with pytest.raises(TheoryRangeError):
        ask()
