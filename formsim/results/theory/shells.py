"""Thin shells under pressure: membrane stress, classical buckling of caps and its knock-down.

Real shells buckle below the classical loads, because they are not perfect and because they buckle
round the circumference too; the knock-down factors are lower bounds of tests. The wall under axial
load stands in ``necking.py``.
"""

from __future__ import annotations

from math import pi, sin, sqrt

from formsim.results.theory.limits import require, require_positive

_THIN = 10.0
"""Least radius over thickness of a thin shell."""


def hoop_yield(flow_stress: float, radius: float, thickness: float) -> float:
    """Inside pressure at which the hoop stress ``p R / t`` of a cylinder is its flow stress [MPa].

    Source: equilibrium of a thin ring; radius of the middle, ``R / t`` above 10.
    """
    _check_thin(radius, thickness)
    return flow_stress * thickness / radius


def sphere_buckling(young: float, poisson: float, radius: float, thickness: float) -> float:
    """Outside pressure at which a complete perfect sphere buckles [MPa].

    Source: R. Zoelly, 1915, ``2 E (t / R)^2 / sqrt(3 (1 - nu^2))`` (memory).
    """
    _check_thin(radius, thickness)
    return 2.0 * young * (thickness / radius) ** 2 / sqrt(3.0 * (1.0 - poisson**2))


def cap_size(poisson: float, radius: float, thickness: float, half_angle: float) -> float:
    """Size of a spherical cap, ``lambda = (12 (1 - nu^2))^(1/4) sqrt(R / t) 2 sin(phi / 2)`` [-].

    Parameters
    ----------
    half_angle : from its pole to its edge [rad]

    Source: NASA SP-8032, 1969.
    """
    _check_thin(radius, thickness)
    slim = sqrt(sqrt(12.0 * (1.0 - poisson**2)) * radius / thickness)
    return 2.0 * slim * sin(0.5 * half_angle)


def cap_knock_down(size: float) -> float:
    """Lower bound of tests on clamped caps over the classical pressure of the sphere [-].

    Source: NASA SP-8032, 1969, eq. 4, ``0.14 + 3.2 / lambda^2``, lambda above 2.
    """
    require(size > 2.0, "a cap with lambda of at most 2 does not buckle")
    return 0.14 + 3.2 / size**2


def lid_pull(pressure: float, radius: float) -> float:
    """Axial pull of an inside pressure on a closed wall, ``p pi R^2`` [N].

    Source: equilibrium. A top load has to overcome it before it presses the wall.
    """
    require_positive(radius=radius)
    return pressure * pi * radius**2


def _check_thin(radius: float, thickness: float) -> None:
    require_positive(radius=radius, thickness=thickness)
    require(radius > _THIN * thickness, "the shell is thicker than a tenth of its radius")
