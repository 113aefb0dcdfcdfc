"""Strains at which a sheet stops carrying more load, for any flow curve."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt

from scipy.optimize import brentq

from formsim.material.flow import FlowCurve
from formsim.results.theory.limits import require, require_positive

_LARGEST_STRAIN = 10.0


@dataclass(frozen=True)
class PressurePeak:
    """Largest pressure of a thin wall.

    Attributes
    ----------
    hoop_strain : logarithmic hoop strain there [-]
    pressure : inside pressure [MPa]
    """

    hoop_strain: float
    pressure: float


def considere_strain(curve: FlowCurve) -> float:
    """Plastic strain of the largest load in plain tension [-].

    Parameters
    ----------
    curve : flow curve

    Source: A. Considere, Annales des Ponts et Chaussees 9, 1885 (memory): the slope of
    the flow curve equals the stress; elastic change of section left out.
    """
    return _critical_strain(curve, 1.0)


def ultimate_strength(curve: FlowCurve) -> float:
    """Largest load in plain tension over the first cross-section [MPa].

    Parameters
    ----------
    curve : flow curve

    Source: as ``considere_strain``: true stress there times exp(-strain).
    """
    strain = considere_strain(curve)
    return float(curve.stress(strain)) * exp(-strain)


def swift_diffuse_strain(curve: FlowCurve, path: float, r_bar: float = 1.0) -> float:
    """Major strain at the start of diffuse necking, loads both at their peak [-].

    Parameters
    ----------
    curve : flow curve
    path : minor over major strain, constant, from tension to 1 (balanced) [-]
    r_bar : mean r-value [-]

    Source: H. W. Swift, "Plastic instability under plane stress", J. Mech. Phys. Solids 1,
    1952 (memory): slope/stress is the sum of ``stress_i (d seq/d stress_i)**2`` over the
    equivalent stress; yield of R. Hill 1948 with normal anisotropy.
    """
    sheet = path_of(path, r_bar)
    factor = sheet.first * sheet.first_share**2 + sheet.second * sheet.second_share**2
    return _critical_strain(curve, factor) / sheet.equivalent


def hill_localised_strain(curve: FlowCurve, path: float, r_bar: float = 1.0) -> float:
    """Major strain at the start of a localised neck [-].

    Parameters
    ----------
    curve : flow curve
    path : minor over major strain, constant, from tension to 0 (plane strain) [-]
    r_bar : mean r-value [-]

    No such neck exists when both strains are positive.
    Source: R. Hill, "On discontinuous plastic states, with special reference to localized
    necking in thin sheets", J. Mech. Phys. Solids 1, 1952 (memory): the stress grows no
    faster than the sheet thins.
    """
    require(path <= 0.0, f"the strain path must not be above 0, is {path:g}")
    sheet = path_of(path, r_bar)
    return _critical_strain(curve, sheet.first_share + sheet.second_share) / sheet.equivalent


@dataclass(frozen=True)
class SheetPath:
    """Plane stress of a sheet on a straight strain path, for an equivalent stress of 1.

    Attributes
    ----------
    first, second : principal stresses [-]
    first_share, second_share : principal strains over the equivalent strain [-]
    equivalent : equivalent over major strain [-]
    """

    first: float
    second: float
    first_share: float
    second_share: float
    equivalent: float


def path_of(path: float, r_bar: float = 1.0) -> SheetPath:
    """Stress and equivalent strain of a straight strain path.

    Parameters
    ----------
    path : minor over major strain, from -r/(1 + r), tension, to 1, balanced [-]
    r_bar : mean r-value, above zero [-]

    Source: R. Hill, Proc. R. Soc. A 193, 1948 (memory): plane stress, normal anisotropy,
    ``seq**2 = s1**2 + s2**2 - 2 r/(1 + r) s1 s2``.
    """
    require_positive(r_bar=r_bar)
    share = r_bar / (1.0 + r_bar)
    least = -share - 1e-12
    require(least <= path <= 1.0, f"the strain path must lie from {-share:.3g} to 1, is {path:g}")
    ratio = (path + share) / (1.0 + share * path)
    level = sqrt(1.0 + ratio**2 - 2.0 * share * ratio)
    equivalent = (1.0 + ratio * path) / level
    return SheetPath(1.0 / level, ratio / level, 1.0 / equivalent, path / equivalent, equivalent)


def tube_pressure_peak(curve: FlowCurve, thickness: float, radius: float) -> PressurePeak:
    """Largest inside pressure of a thin tube with closed ends.

    Parameters
    ----------
    curve : flow curve
    thickness : first wall thickness, at most a tenth of the radius [mm]
    radius : first mean radius [mm]

    Source: H. W. Swift, J. Mech. Phys. Solids 1, 1952 (re-derived): no axial strain,
    p = (2/sqrt3) stress (t0/r0) exp(-2 e), equivalent strain (2/sqrt3) e.
    """
    _require_thin(thickness, radius)
    strain = _critical_strain(curve, sqrt(3.0))
    hoop = 0.5 * sqrt(3.0) * strain
    level = 2.0 / sqrt(3.0) * float(curve.stress(strain))
    return PressurePeak(hoop, level * thickness / radius * exp(-2.0 * hoop))


def sphere_pressure_peak(curve: FlowCurve, thickness: float, radius: float) -> PressurePeak:
    """Largest inside pressure of a thin sphere.

    Parameters
    ----------
    curve : flow curve
    thickness : first wall thickness, at most a tenth of the radius [mm]
    radius : first mean radius [mm]

    Source: R. Hill, J. Mech. Phys. Solids 1, 1952 (re-derived):
    p = 2 stress (t0/r0) exp(-3 e), equivalent strain 2 e.
    """
    _require_thin(thickness, radius)
    strain = _critical_strain(curve, 1.5)
    hoop = 0.5 * strain
    level = 2.0 * float(curve.stress(strain))
    return PressurePeak(hoop, level * thickness / radius * exp(-3.0 * hoop))


def _require_thin(thickness: float, radius: float) -> None:
    require_positive(thickness=thickness, radius=radius)
    require(thickness <= 0.1 * radius, "the wall must be thinner than a tenth of the radius")


def _critical_strain(curve: FlowCurve, factor: float) -> float:
    """Plastic strain where slope = factor * stress."""

    def excess(strain: float) -> float:
        return float(curve.slope(strain)) - factor * float(curve.stress(strain))

    require(excess(0.0) > 0.0, "the flow curve hardens too little: unstable from first yield")
    require(excess(_LARGEST_STRAIN) < 0.0, "the flow curve stays stable to a strain of 10")
    return float(brentq(excess, 0.0, _LARGEST_STRAIN, xtol=1e-13))
