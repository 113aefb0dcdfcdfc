"""Damage of a tensile specimen and buckling of rings against closed forms."""

import numpy as np
import pytest

from formsim.errors import TheoryRangeError
from formsim.material.flow import Swift
from formsim.results.theory.fracture import tension_damage
from formsim.results.theory.rings import ring_buckling_stress

CURVE = Swift(500.0, 1e-12, 0.2)
YOUNG, NU = 70_000.0, 0.3


def test_a_specimen_that_breaks_before_its_neck():
    """Simple tension: Cockcroft-Latham integral is the strain, mean stress a third of it."""
    taken = tension_damage(CURVE, 1.0, 0.1)
    assert (taken.tension, taken.strain) == pytest.approx((0.2, 0.2))
    assert taken.mean == pytest.approx(0.2 / 3.0)


def test_a_specimen_that_breaks_in_its_neck():
    """Hill 1952, isotropic: local neck at a strain of 2 n, then plane strain, in which the
    principal stress is 2/sqrt3 and the mean stress 1/sqrt3 of the flow stress (closed form)."""
    taken = tension_damage(CURVE, 1.0, 0.6)
    thinner = 0.6 - 0.2
    assert taken.strain == pytest.approx(0.4 + 2.0 / np.sqrt(3.0) * thinner, rel=1e-6)
    assert taken.tension == pytest.approx(0.4 + 4.0 / 3.0 * thinner, rel=1e-6)
    assert taken.mean == pytest.approx(0.4 / 3.0 + 2.0 / 3.0 * thinner, rel=1e-6)


def test_a_specimen_of_anisotropic_sheet():
    """Local neck of Hill's metal: e1 + e2 = n, so e1 = n (1 + r), thickness strain n."""
    taken = tension_damage(CURVE, 2.0, 0.2)
    assert taken.tension == pytest.approx(0.6, rel=1e-6)


def test_elastic_strips_of_timoshenko():
    """Timoshenko and Gere 1961 (memory): coefficients 4 and 0.43 of pi**2 D/b**2 h."""
    plate = np.pi**2 * YOUNG / (12.0 * (1.0 - NU**2)) * 0.05**2
    held = ring_buckling_stress(YOUNG, NU, YOUNG, YOUNG, 0.5, 10.0)
    free = ring_buckling_stress(YOUNG, NU, YOUNG, YOUNG, 0.5, 10.0, free=True)
    assert held == pytest.approx(4.0 * plate)
    assert free == pytest.approx(0.43 * plate)


@pytest.mark.parametrize("tension", [0.0, 50.0, 400.0])
def test_tension_across_by_the_least_over_wave_lengths(tension):
    """Strip of width b in waves of length a: P (a/b + b/a)**2 + s (a/b)**2, least over a."""
    plate = np.pi**2 * YOUNG / (12.0 * (1.0 - NU**2)) * 0.05**2
    ratio = np.linspace(0.05, 2.0, 200_001)
    least = (plate * (ratio + 1.0 / ratio) ** 2 + tension * ratio**2).min()
    found = ring_buckling_stress(YOUNG, NU, YOUNG, YOUNG, 0.5, 10.0, tension=tension)
    assert found == pytest.approx(least, rel=1e-6)


def test_plastic_reduction_of_gerard_and_becker():
    """NACA TN 3781, 1957 (memory): Es/E [1/2 + 1/4 sqrt(1 + 3 Et/Es)], free edge Es/E."""
    elastic = ring_buckling_stress(YOUNG, NU, YOUNG, YOUNG, 0.5, 10.0)
    flat = ring_buckling_stress(YOUNG, NU, 7000.0, 0.0, 0.5, 10.0)
    assert flat / elastic == pytest.approx(0.1 * 0.75)
    free = ring_buckling_stress(YOUNG, NU, 7000.0, 0.0, 0.5, 10.0, free=True)
    assert free == pytest.approx(0.1 * 0.43 / 4.0 * elastic)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: tension_damage(CURVE, 1.0, 0.0),
        lambda: ring_buckling_stress(YOUNG, NU, YOUNG, YOUNG, 0.5, 0.9),
        lambda: ring_buckling_stress(YOUNG, NU, 100.0, 200.0, 0.5, 10.0),
        lambda: ring_buckling_stress(YOUNG, NU, YOUNG, YOUNG, -0.5, 10.0),
    ],
)
def test_outside_its_range_no_number_is_given(ask):
    with pytest.raises(TheoryRangeError):
        ask()
