"""Instability strains against closed forms."""

import numpy as np
import pytest

from formsim.errors import TheoryRangeError
from formsim.material.flow import Swift, Table, Voce
from formsim.results.theory import instability
from tests.references import bar_neck, thin_wall

POWER = Swift(500.0, 1e-12, 0.2)


def test_considere_closed_forms():
    """Swift e = n - e0; Voce e = ln[B (1 + C)/A]/C (closed form)."""
    assert instability.considere_strain(Swift(500.0, 0.01, 0.2)) == pytest.approx(0.19, rel=1e-9)
    voce = instability.considere_strain(Voce(405.0, 105.0, 18.0))
    assert voce == pytest.approx(np.log(105.0 * 19.0 / 405.0) / 18.0, rel=1e-9)


def test_considere_of_the_necking_bar():
    """Simo and Hughes 1998: 450 + 265 (1 - exp(-16.93 a)) + 129.24 a."""
    curve = Voce(715.0, 265.0, 16.93, 129.24)
    strain, _, force, _ = bar_neck.considere()
    assert instability.considere_strain(curve) == pytest.approx(strain, rel=1e-9)
    area = np.pi * bar_neck.RADIUS**2
    assert instability.ultimate_strength(curve) * area / 1e3 == pytest.approx(force, rel=1e-9)


@pytest.mark.parametrize("path", [-0.5, -0.25, 0.0, 0.4, 1.0])
def test_swift_diffuse_power_law(path):
    """Swift 1952: e1 = 2 n (1 + b + b**2)/[(1 + b)(2 b**2 - b + 2)] (memory)."""
    expected = 0.4 * (1 + path + path**2) / ((1 + path) * (2 * path**2 - path + 2))
    assert instability.swift_diffuse_strain(POWER, path) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("path", [-0.5, -0.25, 0.0])
def test_hill_localised_power_law(path):
    """Hill 1952: e1 + e2 = n (memory)."""
    expected = 0.2 / (1 + path)
    assert instability.hill_localised_strain(POWER, path) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("n", [0.1, 0.2, 0.35])
def test_thin_wall_pressure_peaks(n):
    """Swift 1952, Hill 1952 (re-derived)."""
    curve = Swift(500.0, 1e-12, n)
    tube = instability.tube_pressure_peak(curve, 1.0, 50.0)
    strain, pressure = thin_wall.tube_peak(n)
    assert (tube.hoop_strain, tube.pressure) == pytest.approx((strain, 10.0 * pressure), rel=1e-9)
    ball = instability.sphere_pressure_peak(curve, 1.0, 50.0)
    strain, pressure = thin_wall.sphere_peak(n)
    assert (ball.hoop_strain, ball.pressure) == pytest.approx((strain, 10.0 * pressure), rel=1e-9)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: instability.considere_strain(Voce(400.0, 10.0, 5.0)),
        lambda: instability.considere_strain(Swift(500.0, 0.3, 0.2)),
        lambda: instability.considere_strain(Table((0.0, 0.1, 9.0, 10.0), (10.0, 200.0, 2e3, 1e6))),
        lambda: instability.hill_localised_strain(POWER, 0.3),
        lambda: instability.swift_diffuse_strain(POWER, 1.2),
        lambda: instability.tube_pressure_peak(POWER, 6.0, 50.0),
        lambda: instability.sphere_pressure_peak(POWER, -1.0, 50.0),
    ],
)
def test_outside_its_range_no_number_is_given(ask):
    with pytest.raises(TheoryRangeError):
        ask()
