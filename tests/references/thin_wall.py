"""Pressure instability of thin walls, sigma = K e**n, von Mises, rigid-plastic.

Closed-end tube: no axial strain, equivalent strain (2/sqrt3) e, hoop stress (2/sqrt3) sigma,
p = (2/sqrt3) K (2 e/sqrt3)**n (t0/r0) exp(-2 e).
Sphere: equivalent strain 2 e, p = 2 K (2 e)**n (t0/r0) exp(-3 e).

Sources
-------
H. W. Swift, J. Mech. Phys. Solids 1, 1952; R. Hill, J. Mech. Phys. Solids 1, 1952 (re-derived).
"""

import numpy as np
from scipy.optimize import minimize_scalar


def tube_pressure(e: float, n: float) -> float:
    """p/(K t0/r0) of the closed-end tube at the hoop strain e."""
    c = 2.0 / np.sqrt(3.0)
    return c * (c * e) ** n * np.exp(-2.0 * e)


def sphere_pressure(e: float, n: float) -> float:
    """p/(K t0/r0) of the sphere at the hoop strain e."""
    return 2.0 * (2.0 * e) ** n * np.exp(-3.0 * e)


def tube_peak(n: float) -> tuple[float, float]:
    """Hoop strain and p/(K t0/r0) at the peak, closed form."""
    return n / 2.0, (2.0 / np.sqrt(3.0)) ** (n + 1.0) * (n / 2.0) ** n * np.exp(-n)


def sphere_peak(n: float) -> tuple[float, float]:
    """Hoop strain and p/(K t0/r0) at the peak, closed form."""
    return n / 3.0, 2.0 * (2.0 * n / 3.0) ** n * np.exp(-n)


def searched_peak(pressure, n: float) -> tuple[float, float]:
    """Hoop strain and pressure at the peak, found by search on a pressure curve."""
    found = minimize_scalar(
        lambda e: -pressure(e, n), bounds=(1e-6, 2.0), method="bounded", options={"xatol": 1e-10}
    )
    return found.x, -found.fun
