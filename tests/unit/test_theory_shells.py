"""Shells under pressure against published numbers and hand calculation."""

import math

import pytest

from formsim.errors import TheoryRangeError
from formsim.results.theory import shells


def test_pressure_that_yields_a_can_wall():
    """A wall of 0.115 mm on a radius of 28 mm at 400 MPa, by hand."""
    assert shells.hoop_yield(400.0, 28.0, 0.115) == pytest.approx(1.6429, abs=1e-4)


def test_sphere_of_steel():
    """R/t = 100, E = 200 GPa, nu = 0.3: 24.21 MPa, the unit of Budiansky's caps."""
    assert shells.sphere_buckling(200e3, 0.3, 100.0, 1.0) == pytest.approx(24.21, abs=0.01)


def test_size_of_a_shallow_cap_by_both_definitions():
    """``lambda^2 = 4 sqrt(3 (1 - nu^2)) H / t`` (VALIDATION of shallow caps) and SP-8032's."""
    angle, radius = 0.1, 500.0
    height = radius * (1.0 - math.cos(angle))
    by_height = math.sqrt(4.0 * math.sqrt(3.0 * (1.0 - 0.3**2)) * height)
    # 2 R (1 - cos phi) = (2 R sin(phi / 2))^2 / R
    assert shells.cap_size(0.3, radius, 1.0, angle) == pytest.approx(by_height, rel=1e-9)


@pytest.mark.parametrize(("size", "share"), [(4.0, 0.34), (8.0, 0.19), (12.0, 0.162)])
def test_knock_down_of_sp_8032_by_hand(size, share):
    assert shells.cap_knock_down(size) == pytest.approx(share, abs=5e-4)


@pytest.mark.parametrize(
    ("size", "huang"), [(6.0, 0.775), (7.0, 0.760), (8.0, 0.766), (10.0, 0.776), (12.0, 0.780)]
)
def test_tests_lie_below_the_bifurcation_of_perfect_caps(size, huang):
    """Huang, J. Appl. Mech. 31, 1964 (read): perfect caps, buckling round the circumference."""
    assert shells.cap_knock_down(size) < huang < 1.0


def test_pull_of_a_lid():
    """2 bar over 28 mm: 493 N have to be overcome before the wall is pressed at all."""
    assert shells.lid_pull(0.2, 28.0) == pytest.approx(492.6, abs=0.1)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: shells.cap_knock_down(1.5),
        lambda: shells.hoop_yield(300.0, 5.0, 1.0),
        lambda: shells.sphere_buckling(200e3, 0.3, -1.0, 1.0),
    ],
)
def test_outside_their_range_formulas_say_so(ask):
    with pytest.raises(TheoryRangeError):
        ask()
