"""Thick tube in plane strain, expanded from inside, outer face free.

Rigid-plastic and incompressible: R**2 = r**2 - a**2 + a0**2, hoop strain ln(r/R),
equivalent strain (2/sqrt3) ln(r/R), and d(sigma_rr)/dr = (2/sqrt3) sigma(e)/r.

Sources
-------
W. Prager and P. G. Hodge, Theory of Perfectly Plastic Solids, 1951, used by P. Cardiff et al.,
Int. J. Numer. Meth. Eng. 109, 2017 (closed form without hardening; read).
R. Hill, The Mathematical Theory of Plasticity, 1950 (elastic-plastic tube; memory).
The hardening integral is computed here from the equations above.
"""

from collections.abc import Callable

import numpy as np
from scipy.integrate import quad

# Inner radius [mm] -> radial stress at the inner wall [MPa]; a0 = 10, b0 = 20, Y = 0.5.
PERFECT_INNER_STRESS = {
    10.0: -0.40019,
    15.0: -0.24459,
    20.0: -0.16155,
    30.0: -0.08305,
    40.0: -0.04961,
    60.0: -0.02311,
    85.0: -0.01174,
}
# Inner radius [mm] -> pressure [MPa]; a0 = 10, b0 = 20, sigma = 500 (0.01 + e)**0.2.
SWIFT_PRESSURE = {
    10.5: 198.722,
    11.0: 210.184,
    12.0: 213.775,
    14.0: 199.328,
    16.0: 178.865,
    20.0: 140.896,
    30.0: 80.888,
}


def perfect_radial_stress(r0: float, a: float, a0: float, b0: float, yield_stress: float) -> float:
    """Radial stress at the material point of initial radius r0, inner radius now a."""
    grown = (a / a0) ** 2 - 1.0
    ratio = ((r0 / a0) ** 2 + grown) / ((b0 / a0) ** 2 + grown)
    return yield_stress / np.sqrt(3.0) * np.log(ratio)


def hardening_pressure(a: float, a0: float, b0: float, stress: Callable[[float], float]) -> float:
    """Inside pressure at the inner radius a, for a flow curve of the equivalent strain."""
    root3 = np.sqrt(3.0)
    moved = a**2 - a0**2

    def integrand(r: float) -> float:
        strain = 2.0 / root3 * np.log(r / np.sqrt(r**2 - moved))
        return 2.0 / root3 * stress(strain) / r

    return quad(integrand, a, np.sqrt(b0**2 + moved), epsabs=0.0, epsrel=1e-10)[0]


def elastic_plastic_pressure(c: float, a: float, b: float, yield_stress: float) -> float:
    """Small-strain pressure that has made the tube plastic out to the radius c."""
    return 2.0 / np.sqrt(3.0) * yield_stress * (np.log(c / a) + 0.5 * (1.0 - c**2 / b**2))
