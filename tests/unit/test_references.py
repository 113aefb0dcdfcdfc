"""The reference solvers give the published or independently computed numbers.

Sources stand in the docstrings of the modules under tests/references.
"""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from tests.references import (
    bar_neck,
    cup_geometry,
    dome_membrane,
    flange_draw,
    plate,
    thick_tube,
    thin_wall,
)


def first_quick(values):
    """The first value in every run, the others in slow ones."""
    first, *rest = values
    return [first, *(pytest.param(value, marks=pytest.mark.slow) for value in rest)]


FLANGES, BULGES = first_quick(flange_draw.TABLE), first_quick(dome_membrane.BULGE)


def test_perfect_tube_inner_stress():
    for a, expected in thick_tube.PERFECT_INNER_STRESS.items():
        got = thick_tube.perfect_radial_stress(10.0, a, 10.0, 20.0, 0.5)
        assert got == pytest.approx(expected, abs=6e-6)


def test_hardening_tube_pressure():
    for a, expected in thick_tube.SWIFT_PRESSURE.items():
        got = thick_tube.hardening_pressure(a, 10.0, 20.0, lambda e: 500.0 * (0.01 + e) ** 0.2)
        assert got == pytest.approx(expected, abs=6e-4)


def test_elastic_plastic_tube_reaches_the_rigid_limit():
    full = thick_tube.elastic_plastic_pressure(20.0, 10.0, 20.0, 0.5)
    assert full == pytest.approx(-thick_tube.perfect_radial_stress(10.0, 10.0, 10.0, 20.0, 0.5))


def test_bar_neck_considere_point():
    strain, stress, force, elongation = bar_neck.considere()
    assert strain == pytest.approx(0.12207, abs=6e-6)
    assert stress == pytest.approx(697.23, abs=6e-3)
    assert force == pytest.approx(79.73, abs=6e-3)
    assert elongation == pytest.approx(3.462, abs=6e-4)


@pytest.mark.parametrize("n", [0.05, 0.2, 0.4])
def test_thin_wall_peaks(n):
    for peak, pressure in (
        (thin_wall.tube_peak, thin_wall.tube_pressure),
        (thin_wall.sphere_peak, thin_wall.sphere_pressure),
    ):
        assert peak(n) == pytest.approx(thin_wall.searched_peak(pressure, n), rel=1e-6)


@pytest.mark.parametrize("r_value", FLANGES)
def test_flange_table(r_value):
    rims = flange_draw.TABLE[r_value]
    got = flange_draw.draw(flange_draw.Flange(r_value=r_value), list(rims))
    for (force, h, rim_h), (f0, h0, rim_h0) in zip(got, rims.values(), strict=True):
        assert force == pytest.approx(f0, abs=6e-4)
        assert (h, rim_h) == pytest.approx((h0, rim_h0), abs=6e-5)


@pytest.mark.slow
@pytest.mark.parametrize("r_value", flange_draw.PEAK)
def test_flange_peak_force(r_value):
    force, rim = flange_draw.PEAK[r_value]
    rims = np.arange(rim + 0.4, rim - 0.4, -0.05)
    got = [row[0] for row in flange_draw.draw(flange_draw.Flange(r_value=r_value), list(rims))]
    assert max(got) == pytest.approx(force, abs=6e-3)
    assert rims[np.argmax(got)] == pytest.approx(rim, abs=0.06)


@pytest.mark.slow
@pytest.mark.parametrize("r_value", FLANGES)
def test_flange_rim_thickness_is_exact(r_value):
    (_, _, rim_h), *_ = flange_draw.draw(flange_draw.Flange(r_value=r_value), [40.0])
    assert rim_h == pytest.approx((50.0 / 40.0) ** (1.0 / (1.0 + r_value)), rel=1e-6)


def test_flange_incipient_stress():
    for ratio, expected in flange_draw.INCIPIENT.items():
        assert flange_draw.incipient_stress(ratio) == pytest.approx(expected, abs=6e-5)


def test_cup_of_constant_thickness():
    assert cup_geometry.rim_height(53.75, 30.0, 5.0, 1.0) == pytest.approx(35.04, abs=6e-3)


@pytest.mark.slow
def test_clamped_plate():
    got = plate.central_deflection(list(plate.DEFLECTION))
    assert got[:4] == pytest.approx(list(plate.DEFLECTION.values())[:4], abs=6e-5)
    assert got[4:] == pytest.approx(list(plate.DEFLECTION.values())[4:], abs=6e-4)


@pytest.mark.parametrize("exponent", BULGES)
def test_bulge(exponent):
    rows = dome_membrane.bulge(dome_membrane.Sheet(exponent=exponent), 0.26, steps=12, rings=40)
    at = CubicSpline(rows[:, 0], rows[:, 1:])
    for height, (pressure, thinning) in dome_membrane.BULGE[exponent].items():
        assert at(height)[0] == pytest.approx(pressure, rel=1e-3)
        assert at(height)[1] == pytest.approx(thinning, rel=5e-3)


@pytest.mark.slow
@pytest.mark.parametrize(("friction", "edge", "steps"), [(0.0, 64.0, 20), (0.3, 45.0, 30)])
def test_hemispherical_punch(friction, edge, steps):
    table = dome_membrane.HEMISPHERE[friction]
    ring = np.linspace(0.0, dome_membrane.STRETCHED.radius, dome_membrane.RINGS + 1)
    punch = dome_membrane.Punch(friction=friction)
    rows = dome_membrane.stretch(punch, list(table), edge, steps)
    for (depth, (force, pole, thinning)), (f, radial, hoop) in zip(
        table.items(), rows, strict=True
    ):
        assert f == pytest.approx(force, rel=4e-3)
        assert radial[0] == pytest.approx(pole, abs=4e-3)
        assert -radial[0] - hoop[0] == pytest.approx(thinning, abs=8e-3)
        if friction:
            peak, where, thinnest = dome_membrane.HEMISPHERE_PEAK[depth]
            assert radial.max() == pytest.approx(peak, abs=1.5e-3)
            assert ring[radial.argmax()] == pytest.approx(where, abs=0.5)
            assert (radial + hoop).max() == pytest.approx(thinnest, abs=2e-3)
