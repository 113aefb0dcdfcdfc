"""Ironing: slab values, bounds, limits, volume."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formsim.errors import TheoryRangeError
from formsim.material.flow import Swift, Voce
from formsim.results.theory import heating, ironing
from formsim.results.theory.plastic_work import (
    mean_flow_stress,
    plane_strain_factor,
    work_density,
)

FLAT = Voce(300.0, 0.0, 1.0)
SHARES = (0.1, 0.2, 0.3, 0.4)
# Sachs; Hill, strip drawing slab (computed from the stated equation), angle 8 degrees.
SLAB = {
    (0.0, 0.0): (0.1054, 0.2231, 0.3567, 0.5108),
    (0.05, 0.0): (0.1402, 0.2908, 0.4541, 0.6333),
    (0.05, 0.10): (0.0692, 0.1496, 0.2450, 0.3609),
}


@pytest.mark.parametrize("friction", SLAB)
def test_slab_values(friction):
    got = [ironing.slab_factor(share, 8.0, *friction) for share in SHARES]
    assert got == pytest.approx(SLAB[friction], abs=5.1e-5)


def marched_slab(share, angle, ring, punch, back=0.0, n=20_000):
    """Pull and ring load by marching ``d(s t) = p (1 + B) |dt|``, s + p = 1, from t = 1."""
    slope = np.tan(np.radians(angle))
    t, dt = 1.0, share / n
    pull, load = back, 0.0
    for _ in range(n):
        half = pull + 0.5 * dt * (1.0 - pull / t) * (1.0 + (ring - punch) / slope)
        pressure = 1.0 - half / (t - 0.5 * dt)
        pull += dt * pressure * (1.0 + (ring - punch) / slope)
        load += dt * pressure * (1.0 + ring / slope)
        t -= dt
    return pull / t, load / t


@pytest.mark.parametrize(
    ("share", "angle", "ring", "punch", "back"),
    [(0.3, 8.0, 0.05, 0.10, 0.0), (0.4, 5.0, 0.1, 0.02, 0.2), (0.2, 12.0, 0.0, 0.0, 0.1)],
)
def test_stress_and_force_against_a_march(share, angle, ring, punch, back):
    pull, load = marched_slab(share, angle, ring, punch, back)
    assert ironing.slab_factor(share, angle, ring, punch, back) == pytest.approx(pull, rel=1e-6)
    force = ironing.ring_force(1.0, 1.0, share, angle, ring, punch, back)
    assert force == pytest.approx(load, rel=1e-6)


@given(st.floats(0.01, 0.7), st.floats(2.0, 20.0), st.floats(0.0, 0.2), st.floats(0.0, 0.03))
def test_friction_on_the_punch_moves_load_from_wall_to_punch(share, angle, ring, punch):
    """The wall is pulled less than the ring pushes, by what the punch rubs along."""
    wall = ironing.slab_factor(share, angle, ring, punch)
    force = ironing.ring_force(1.0, 1.0, share, angle, ring, punch)
    assert wall <= force * (1.0 + 1e-9)
    assert wall <= ironing.slab_factor(share, angle, ring, 0.0) * (1.0 + 1e-9)
    assert force == pytest.approx(wall) or punch > 0.0


@given(st.floats(0.05, 0.6), st.floats(2.0, 20.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_the_upper_bound_lies_above_the_ideal_work(share, angle, ring, punch):
    ideal = ironing.ideal_factor(share)
    assert ironing.upper_bound_factor(share, angle, ring, punch) > ideal
    assert ironing.upper_bound_factor(share, angle) > ironing.slab_factor(share, angle, 0.0)


def test_upper_bound_against_numerical_powers():
    """Powers of the field u = q/t, w = -q y tan/t**2 integrated by brute force."""
    share, angle, m, mp = 0.3, 10.0, 0.2, 0.3
    t0, t1, slope = 1.0, 0.7, np.tan(np.radians(angle))
    t = np.linspace(t1, t0, 2001)
    y = np.linspace(0.0, 1.0, 2001)
    rate = np.sqrt(1.0 + (slope * y) ** 2)
    flow = np.trapezoid(rate, y) * np.trapezoid(1.0 / t, t)
    shear = 0.5 * (t0 * slope / (2.0 * t0) + t1 * slope / (2.0 * t1))
    ring = 0.5 * m * np.trapezoid(1.0 / t, t) / np.sin(np.radians(angle))
    ring /= np.cos(np.radians(angle))
    punch = 0.5 * mp * np.trapezoid(1.0 / t1 - 1.0 / t, t) / slope
    total = flow + shear + ring + punch
    assert ironing.upper_bound_factor(share, angle, m, mp) == pytest.approx(total, rel=1e-5)


def test_largest_reduction():
    """Perfectly plastic; frictionless it is 1 - 1/e less the shear (closed form)."""
    best = ironing.largest_reduction(FLAT, 0.0, 8.0, 0.0)
    shear = ironing.redundant_factor(8.0)
    assert best == pytest.approx(1.0 - np.exp(-(1.0 - shear)), rel=1e-6)
    rough = ironing.largest_reduction(FLAT, 0.0, 8.0, 0.10)
    helped = ironing.largest_reduction(FLAT, 0.0, 8.0, 0.10, 0.05)
    assert rough < helped < best
    assert ironing.wall_load(FLAT, 0.0, rough, 8.0, 0.10) == pytest.approx(1.0)


def test_hardening_allows_more():
    hard = ironing.largest_reduction(Swift(500.0, 0.01, 0.2), 0.0, 8.0, 0.05)
    assert hard > ironing.largest_reduction(FLAT, 0.0, 8.0, 0.05)
    assert ironing.largest_reduction(FLAT, 0.0, 8.0, 0.0, 0.13) == 0.75


def test_volume():
    assert ironing.ironed_height(40.0, 0.28, 0.14) == 80.0
    assert ironing.exit_speed_ratio(0.28, 0.14) == 2.0
    assert ironing.wall_area(74.0, 0.28) == pytest.approx(np.pi / 4 * (74.56**2 - 74.0**2))
    assert ironing.equal_reduction(0.3, 0.075, 2) == pytest.approx(0.5)
    assert ironing.reduction(0.28, 0.21) == pytest.approx(0.25)


def test_strains_and_work():
    curve = Swift(500.0, 0.01, 0.2)
    exact = 500.0 / 1.2 * (1.01**1.2 - 0.01**1.2)
    assert work_density(curve, 0.0, 1.0) == pytest.approx(exact, rel=1e-5)
    assert mean_flow_stress(curve, 0.3, 0.3) == pytest.approx(float(curve.stress(0.3)))
    assert plane_strain_factor() == pytest.approx(2.0 / np.sqrt(3.0))
    assert ironing.ironing_strain(0.5) == pytest.approx(2.0 / np.sqrt(3.0) * np.log(2.0))
    stress = ironing.ring_yield_stress(FLAT, 0.0, 0.3)
    assert stress == pytest.approx(300.0 * plane_strain_factor()) == ironing.exit_strength(FLAT, 1)


def test_heat_and_rate():
    """Aluminium, 300 MPa over a strain of 1: 0.9 x 3e8/(2700 x 900) K."""
    assert heating.temperature_rise(300.0, 2700.0, 900.0) == pytest.approx(111.11, abs=0.01)
    time = heating.transit_time(0.2, 0.1, 8.0, 1000.0)
    x = np.linspace(0.0, 0.1 / np.tan(np.radians(8.0)), 4001)
    t = 0.2 - x * np.tan(np.radians(8.0))
    assert time == pytest.approx(np.trapezoid(t / (0.1 * 1000.0), x), rel=1e-6)
    rate = heating.ring_strain_rate(0.2, 0.1, 8.0, 1000.0)
    assert rate == pytest.approx(ironing.ironing_strain(0.5) / time)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: ironing.slab_factor(0.8, 8.0, 0.05),
        lambda: ironing.slab_factor(0.3, 30.0, 0.05),
        lambda: ironing.slab_factor(0.3, 1.0, 0.05),
        lambda: ironing.slab_factor(0.3, 8.0, 0.0, 0.2),
        lambda: ironing.slab_factor(0.3, 8.0, -0.1),
        lambda: ironing.slab_factor(0.3, 8.0, 0.1, 0.0, 1.0),
        lambda: ironing.upper_bound_factor(0.3, 8.0, 1.2),
        lambda: ironing.upper_bound_factor(0.3, 8.0, 0.0, -0.1),
        lambda: ironing.reduction(0.2, 0.3),
        lambda: ironing.ironed_height(0.0, 0.2, 0.1),
        lambda: ironing.equal_reduction(0.3, 0.1, 0),
        lambda: ironing.ironing_strain(1.0),
        lambda: ironing.exit_strength(FLAT, -0.1),
        lambda: work_density(FLAT, 0.2, 0.1),
        lambda: mean_flow_stress(FLAT, -0.1, -0.1),
        lambda: plane_strain_factor(0.0),
        lambda: heating.temperature_rise(-1.0, 2700.0, 900.0),
        lambda: heating.temperature_rise(1.0, 2700.0, 900.0, 1.1),
        lambda: heating.ring_strain_rate(0.2, 0.2, 8.0, 100.0),
        lambda: heating.transit_time(0.2, 0.1, 45.0, 100.0),
    ],
)
def test_ranges(wrong):
    with pytest.raises(TheoryRangeError):
        wrong()
