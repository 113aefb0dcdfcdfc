"""Domes: cap geometry and Hill's bulge."""

import numpy as np
import pytest

from formsim.errors import TheoryRangeError
from formsim.material.flow import Swift
from formsim.results.theory import doming
from tests.references import dome_membrane


def test_cap_geometry():
    assert doming.cap_area(30.0, 30.0) == pytest.approx(2 * np.pi * 900.0)
    assert doming.cap_radius(30.0, 10.0) == pytest.approx(50.0)
    assert doming.cap_height(30.0, 50.0) == pytest.approx(10.0)
    assert doming.mean_cap_thickness(0.28, 30.0, 10.0) == pytest.approx(0.28 * 0.9)


@pytest.mark.parametrize("height", [5.0, 20.0, 40.0])
def test_bulge_thickness_lies_on_a_sphere_and_keeps_the_volume(height):
    a, t0 = 50.0, 1.0
    ring = np.linspace(0.0, a, 4001)
    thickness = doming.bulge_thickness(t0, a, height, ring)
    radius = doming.bulge_radius(a, height, ring)
    sphere = doming.cap_radius(a, height)
    area = 2 * np.pi * sphere**2 * (1 - np.cos(np.arcsin(radius / sphere)))
    volume = np.sum(0.5 * (thickness[1:] + thickness[:-1]) * np.diff(area))
    assert volume == pytest.approx(np.pi * a**2 * t0, rel=1e-6)
    assert thickness[-1] == pytest.approx(t0)
    assert np.all(np.diff(thickness) > 0.0)


def test_bulge_pole():
    """Hill 1950: thinning strain 2 ln(1 + h**2/a**2)."""
    strain = doming.bulge_pole_strain(50.0, 20.0)
    assert strain == pytest.approx(2 * np.log(1.16))
    pole = float(doming.bulge_thickness(1.0, 50.0, 20.0, 0.0))
    assert np.log(1.0 / pole) == pytest.approx(strain)


@pytest.mark.parametrize("exponent", dome_membrane.BULGE)
def test_bulge_pressure_lies_near_the_membrane_solution(exponent):
    """Membrane solution computed; the special solution is a guide: 10 % from h/a = 0.2 on."""
    curve = Swift(500.0, 0.002, exponent)
    for height, (pressure, _) in dome_membrane.BULGE[exponent].items():
        if height >= 0.2:
            got = doming.bulge_pressure(curve, 1.0, 50.0, 50.0 * height)
            assert got == pytest.approx(pressure, rel=0.10)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: doming.cap_area(30.0, 31.0),
        lambda: doming.cap_radius(30.0, 0.0),
        lambda: doming.cap_height(30.0, 29.0),
        lambda: doming.mean_cap_thickness(0.0, 30.0, 10.0),
        lambda: doming.bulge_thickness(1.0, 50.0, 20.0, [60.0]),
        lambda: doming.bulge_pressure(Swift(500.0, 0.002, 0.2), 6.0, 50.0, 20.0),
    ],
)
def test_outside_its_range_no_number_is_given(ask):
    with pytest.raises(TheoryRangeError):
        ask()
