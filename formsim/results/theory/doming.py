"""Domes pressed or blown from a flat disc: shape, thickness, pressure."""

from __future__ import annotations

from math import log, pi, sqrt

import numpy as np
import numpy.typing as npt

from formsim.arrays import Floats
from formsim.material.flow import FlowCurve
from formsim.results.theory.limits import require, require_positive


def cap_area(base_radius: float, height: float) -> float:
    """Area of a spherical cap [mm2].

    Parameters
    ----------
    base_radius : radius of the rim circle [mm]
    height : pole above the rim [mm]

    Source: geometry, ``pi (a**2 + h**2)``.
    """
    _require_cap(base_radius, height)
    return pi * (base_radius**2 + height**2)


def cap_radius(base_radius: float, height: float) -> float:
    """Radius of the sphere of a cap [mm].

    Parameters
    ----------
    base_radius : radius of the rim circle [mm]
    height : pole above the rim, above zero [mm]

    Source: geometry, ``(a**2 + h**2)/(2 h)``.
    """
    require_positive(height=height)
    _require_cap(base_radius, height)
    return (base_radius**2 + height**2) / (2.0 * height)


def cap_height(base_radius: float, sphere_radius: float) -> float:
    """Height of a cap no deeper than a hemisphere [mm].

    Parameters
    ----------
    base_radius : radius of the rim circle [mm]
    sphere_radius : radius of the sphere [mm]

    Source: geometry.
    """
    require_positive(base_radius=base_radius)
    require(sphere_radius >= base_radius, "the sphere must be at least as wide as the cap")
    return sphere_radius - sqrt(sphere_radius**2 - base_radius**2)


def mean_cap_thickness(thickness: float, base_radius: float, height: float) -> float:
    """Mean thickness of a cap stretched from the disc inside its rim [mm].

    Parameters
    ----------
    thickness : thickness before doming [mm]
    base_radius : radius of the rim circle, which holds the sheet [mm]
    height : pole above the rim [mm]

    No sheet drawn in over the rim.
    Source: constant volume, ``t0 a**2/(a**2 + h**2)``.
    """
    require_positive(thickness=thickness)
    return thickness * pi * base_radius**2 / cap_area(base_radius, height)


def bulge_thickness(
    thickness: float, base_radius: float, height: float, ring: npt.ArrayLike
) -> Floats:
    """Thickness along a dome blown by fluid pressure, clamped at its rim [mm].

    Parameters
    ----------
    thickness : thickness of the disc [mm]
    base_radius : radius of the clamp circle [mm]
    height : pole above the rim, at most the base radius [mm]
    ring : radii of material rings on the flat disc, (n,) [mm]

    Returns
    -------
    Thickness of the rings, (n,) [mm]; at the pole ``t0/(1 + h**2/a**2)**2``.

    Source: R. Hill, "A theory of the plastic bulging of a metal diaphragm by lateral
    pressure", Phil. Mag. 41, 1950 (memory; the form along the dome re-derived): spherical
    shape, points move on circles square to it, so the stretch is alike both ways.
    """
    require_positive(thickness=thickness)
    return thickness / _bulge_stretch(base_radius, height, ring) ** 2


def bulge_radius(base_radius: float, height: float, ring: npt.ArrayLike) -> Floats:
    """Radius from the axis to which rings of the flat disc move in a blown dome [mm].

    Parameters
    ----------
    base_radius : radius of the clamp circle [mm]
    height : pole above the rim, at most the base radius [mm]
    ring : radii of material rings on the flat disc, (n,) [mm]

    Source: as ``bulge_thickness``.
    """
    return np.asarray(ring, dtype=np.float64) * _bulge_stretch(base_radius, height, ring)


def bulge_pole_strain(base_radius: float, height: float) -> float:
    """Thinning strain at the pole of a blown dome, the equivalent strain there [-].

    Parameters
    ----------
    base_radius : radius of the clamp circle [mm]
    height : pole above the rim, at most the base radius [mm]

    Real sheet that hardens little thins more, sheet that hardens much thins less.
    Source: Hill 1950 as ``bulge_thickness``: ``2 ln(1 + h**2/a**2)``.
    """
    _require_cap(base_radius, height)
    return 2.0 * log(1.0 + (height / base_radius) ** 2)


def bulge_pressure(curve: FlowCurve, thickness: float, base_radius: float, height: float) -> float:
    """Pressure that blows a clamped disc to a height [MPa].

    Parameters
    ----------
    curve : flow curve of an isotropic sheet
    thickness : thickness of the disc, at most a tenth of the base radius [mm]
    base_radius : radius of the clamp circle [mm]
    height : pole above the rim, above zero, at most the base radius [mm]

    Source: Hill 1950 as ``bulge_thickness``: ``p = 2 stress t/rho`` at the pole, rho the
    radius of the sphere through pole and rim.
    """
    require(thickness <= 0.1 * base_radius, "the sheet must be thin against the clamp circle")
    strain = bulge_pole_strain(base_radius, height)
    pole = float(bulge_thickness(thickness, base_radius, height, 0.0))
    return 2.0 * float(curve.stress(strain)) * pole / cap_radius(base_radius, height)


def _bulge_stretch(base_radius: float, height: float, ring: npt.ArrayLike) -> Floats:
    _require_cap(base_radius, height)
    radius = np.asarray(ring, dtype=np.float64)
    require(
        bool(np.all((radius >= 0.0) & (radius <= base_radius))),
        "the rings must lie inside the clamp circle",
    )
    a2, h2 = base_radius**2, height**2
    return a2 * (a2 + h2) / (a2**2 + h2 * radius**2)


def _require_cap(base_radius: float, height: float) -> None:
    require_positive(base_radius=base_radius)
    require(
        0.0 <= height <= base_radius,
        f"a dome from flat to hemisphere is meant; height {height:g} at radius {base_radius:g} mm",
    )
