"""Weights of the stress modes against Hill's formula written out."""

import numpy as np
import pytest

from formsim.material.anisotropy import hill_weights

STRESSES = np.random.default_rng(7).normal(size=(50, 4))


def mode_stress(weights, s_rr, s_tt, s_nn, s_rn):
    x1 = (2 * s_nn - s_rr - s_tt) / np.sqrt(6)
    x2 = (s_rr - s_tt) / np.sqrt(2)
    x3 = np.sqrt(2) * s_rn
    return np.sqrt(weights[0] * x1**2 + weights[1] * x2**2 + weights[2] * x3**2)


@pytest.mark.parametrize("r", [0.3, 0.6, 1.0, 1.9])
def test_modes_give_the_quadratic_criterion(r):
    """Hill 1948: F (s_t-s_n)^2 + G (s_n-s_r)^2 + H (s_r-s_t)^2 + 2 M s_rn^2 (memory)."""
    f = g = 1.0 / (1.0 + r)
    h, m = r / (1.0 + r), 1.5
    for s_rr, s_tt, s_nn, s_rn in STRESSES:
        plain = f * (s_tt - s_nn) ** 2 + g * (s_nn - s_rr) ** 2 + h * (s_rr - s_tt) ** 2
        expected = np.sqrt(plain + 2.0 * m * s_rn**2)
        assert mode_stress(hill_weights(r), s_rr, s_tt, s_nn, s_rn) == pytest.approx(expected)


def test_isotropic_sheet_is_von_mises():
    assert hill_weights(1.0) == (1.5, 1.5, 1.5)


@pytest.mark.parametrize("r", [0.41, 1.0, 2.1])
def test_tension_in_the_plane_gives_back_stress_and_r_value(r):
    """ISO 10113: r = width over thickness strain in tension."""
    weights = hill_weights(r)
    assert mode_stress(weights, 1.0, 0.0, 0.0, 0.0) == pytest.approx(1.0)
    step = 1e-6
    width = mode_stress(weights, 1.0, step, 0.0, 0.0) - mode_stress(weights, 1.0, -step, 0.0, 0.0)
    normal = mode_stress(weights, 1.0, 0.0, step, 0.0) - mode_stress(weights, 1.0, 0.0, -step, 0.0)
    assert width / normal == pytest.approx(r, rel=1e-6)
