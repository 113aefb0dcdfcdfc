"""Hoop stress at which an unsupported ring of sheet would buckle into waves, as a long strip."""

from __future__ import annotations

from math import pi, sqrt

from formsim.results.theory.limits import require, require_positive

FREE = 0.43
"""Coefficient of a long strip pressed along its length with one edge free."""

NARROWEST = 2.0
"""Width over thickness below which a ring is no plate."""


def ring_buckling_stress(
    young: float,
    poisson: float,
    secant: float,
    tangent: float,
    thickness: float,
    width: float,
    *,
    tension: float = 0.0,
    free: bool = False,
) -> float:
    """Hoop pressure at which a flat ring buckles into waves [MPa].

    Parameters
    ----------
    young, poisson : Young's modulus [MPa], Poisson's ratio [-]
    secant, tangent : secant and tangent modulus at the stress of the ring [MPa]
    thickness, width : of the ring; width between what holds it, over two thicknesses [mm]
    tension : stress across the ring, along the sheet, pressure left out; of no help to a free edge
        [MPa]
    free : one edge is free, as at a rim

    Edges may turn; the ring is narrow against its circumference; its curvature along the sheet,
    which helps, is left out.
    Source: S. P. Timoshenko and J. M. Gere, Theory of Elastic Stability, 1961, long strips:
    ``4 P``, ``P = pi**2 E/(12 (1 - nu**2)) (t/b)**2``, free edge ``0.43 P``; with tension ``s``
    across, the least over all wave lengths, ``2 P [1 + sqrt(1 + s/P)]`` (re-derived); ``P`` reduced
    in the plastic range by G. Gerard and H. Becker, NACA
    TN 3781, 1957: ``Es/E [1/2 + 1/4 sqrt(1 + 3 Et/Es)]`` held, ``Es/E`` with a free edge (both
    memory).
    """
    require_positive(young=young, secant=secant, thickness=thickness, width=width)
    require(width > NARROWEST * thickness, "the ring is narrower than two thicknesses")
    require(0.0 <= tangent <= secant <= young * (1.0 + 1e-9), "tangent, secant, Young out of order")
    share = 1.0 if free else 0.5 + 0.25 * sqrt(1.0 + 3.0 * tangent / secant)
    plate = pi**2 * secant * share / (12.0 * (1.0 - poisson**2)) * (thickness / width) ** 2
    if free:
        return FREE * plate
    return 2.0 * plate * (1.0 + sqrt(1.0 + max(tension, 0.0) / plate))
