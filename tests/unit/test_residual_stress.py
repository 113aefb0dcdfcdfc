"""Stresses from elastic strains against closed forms of small and of plastic strains."""

from dataclasses import replace

import numpy as np
import pytest

from formsim.results.residual_stress import face_stresses, point_stresses
from tests.unit.shaped import METAL, blank, cap, shaped


def test_thick_ring_under_pressure():
    """Ring between two rigid plates, displacements small: sigma = A -+ B/r^2.

    S. P. Timoshenko and J. N. Goodier, Theory of Elasticity, 1951, thick cylinder (memory);
    displacement in plane strain (1 + nu)/E [(1 - 2 nu) A r + B/r].
    """
    body = blank(inner=20.0, outer=40.0, columns=400)
    mean, spread = -0.01, 12.0
    nu, young = METAL.poisson, METAL.young
    radial = (1.0 + nu) / young

    def ring(r, z):
        return r + radial * ((1.0 - 2.0 * nu) * mean * r + spread / r), z

    along, around = point_stresses(body, METAL, shaped(body, ring))
    part = spread / body.radius**2
    assert np.allclose(along, mean - part, rtol=0.0, atol=2e-6)
    assert np.allclose(around, mean + part, rtol=0.0, atol=2e-6)


def test_large_strains_of_constant_volume():
    """r^2 - R^2 = c, so the hoop strain is ln(r/R), the radial one its opposite: +-2 G ln(r/R).

    R. Hill, The Mathematical Theory of Plasticity, 1950, expansion of a cylinder (memory).
    """
    body = blank(inner=20.0, outer=40.0, columns=400)
    state = shaped(body, lambda r, z: (np.sqrt(r**2 + 500.0), z))
    along, around = point_stresses(body, METAL, state)
    stress = METAL.shear * np.log1p(500.0 / body.radius**2)
    assert np.allclose(around, stress, rtol=1e-6)
    assert np.allclose(along, -stress, rtol=1e-6)


def test_plastic_strain_that_the_shape_does_not_show():
    """Hoop strain e with half of it taken from both other directions: -2 G e and +G e."""
    body, e = blank(columns=8), 0.003
    state = shaped(body, lambda r, z: (r, z))
    modes = [-1.5 * e / np.sqrt(6.0), -1.5 * e / np.sqrt(2.0), 0.0, 0.0]
    plastic = state.plastic + modes
    along, around = point_stresses(body, METAL, replace(state, plastic=plastic))
    assert np.allclose(around, -2.0 * METAL.shear * e, rtol=1e-9)
    assert np.allclose(along, METAL.shear * e, rtol=1e-9)


def test_faces_of_a_bent_plate():
    """Plate bent to a sphere: strain z/rho in both directions, the thickness held.

    S. P. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 1959 (memory).
    """
    body, rho = blank(columns=120, layers=2), 3000.0
    _, along, around = face_stresses(body, METAL, shaped(body, cap(rho, 0.5)))
    outermost = 0.25 - 0.125 * (1.0 - 1.0 / np.sqrt(3.0))
    wanted = 2.0 * (METAL.bulk + METAL.shear / 3.0) * outermost / rho
    for lower, upper in (along, around):
        # The middle is pressed together a little where a flat disc becomes a sphere.
        assert 0.5 * (upper - lower)[1:] == pytest.approx(wanted, rel=1e-3)
        assert (upper + lower)[0] == pytest.approx(0.0, abs=1e-3 * wanted)
