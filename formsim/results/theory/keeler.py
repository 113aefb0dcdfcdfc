"""Limit curve of steel sheet by its thickness and hardening exponent."""

from __future__ import annotations

from math import expm1, log1p, radians, tan

from formsim.case.limits import THICKEST
from formsim.results.theory.limits import require, require_positive

CAP = 0.21
"""Hardening exponent above which the level does not rise."""

RIGHT = tan(radians(20.0))
"""Slope of the right side in engineering strains."""


def plane_strain_limit(thickness: float, exponent: float) -> float:
    """Major engineering strain in plane strain at which steel sheet necks [-].

    Parameters
    ----------
    thickness : up to 3 [mm]
    exponent : hardening exponent, counted up to 0.21 [-]

    For steels only. Source: S. P. Keeler and W. G. Brazier, Micro Alloying 75, 1977 (memory):
    ``(23.3 + 14.13 t) n/0.21`` in per cent.
    """
    require_positive(thickness=thickness, exponent=exponent)
    require(thickness <= THICKEST, f"for sheet up to {THICKEST:g} mm, it has {thickness:g} mm")
    return 0.01 * (23.3 + 14.13 * thickness) * min(exponent, CAP) / CAP


def major_limit(minor: float, thickness: float, exponent: float) -> float:
    """Major true strain at which steel sheet necks [-].

    Parameters
    ----------
    minor : true strain, -0.4 to 0.4 [-]
    thickness, exponent : see ``plane_strain_limit``

    Left of plane strain at constant thickness, right of it a straight line of 20 degrees in
    engineering strains; source: North American practice as told in textbooks (memory).
    """
    require(-0.4 <= minor <= 0.4, f"the minor strain must lie from -0.4 to 0.4, is {minor:g}")
    level = plane_strain_limit(thickness, exponent)
    if minor <= 0.0:
        return log1p(level) - minor
    return log1p(level + RIGHT * expm1(minor))
