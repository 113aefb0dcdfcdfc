"""Volume constancy: thickness, cup height and blank size from geometry alone."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import numpy.typing as npt

from formsim.arrays import Floats
from formsim.results.theory.limits import require, require_positive


def blank_volume(diameter: float, thickness: float, hole_diameter: float = 0.0) -> float:
    """Volume of the flat blank [mm3].

    Parameters
    ----------
    diameter : blank diameter [mm]
    thickness : sheet thickness [mm]
    hole_diameter : centre hole, 0 for none [mm]

    Source: geometry.
    """
    require_positive(diameter=diameter, thickness=thickness)
    require(0.0 <= hole_diameter < diameter, "the hole must be smaller than the blank")
    return 0.25 * pi * (diameter**2 - hole_diameter**2) * thickness


def volume_change(volume: float, blank: float) -> float:
    """Relative change of the sheet's volume since the flat blank [-].

    Parameters
    ----------
    volume : volume now [mm3]
    blank : volume of the blank [mm3]

    Source: plastic flow keeps volume; what remains is elastic or a numerical fault.
    """
    require_positive(blank=blank)
    return volume / blank - 1.0


def local_thickness(thickness: float, major: npt.ArrayLike, minor: npt.ArrayLike) -> Floats:
    """Thickness from the strains in the sheet plane [mm].

    Parameters
    ----------
    thickness : thickness of the blank [mm]
    major, minor : logarithmic strains in the sheet plane, any one shape [-]

    Returns
    -------
    ``thickness * exp(-(major + minor))``, the shape of the strains [mm].

    Source: constant volume of every element; elastic change of volume is left out.
    """
    require_positive(thickness=thickness)
    total = np.asarray(major, dtype=np.float64) + np.asarray(minor, dtype=np.float64)
    return thickness * np.exp(-total)


def base_area(punch_diameter: float, nose_radius: float, thickness: float) -> float:
    """Mid-surface area of a flat cup bottom with its rounded nose [mm2].

    Parameters
    ----------
    punch_diameter : diameter of the punch [mm]
    nose_radius : nose radius of the punch, at most half its diameter [mm]
    thickness : sheet thickness, constant [mm]

    Source: geometry (disc and quarter ring of the mid-surface).
    """
    require_positive(punch_diameter=punch_diameter, thickness=thickness)
    radius = 0.5 * punch_diameter
    require(0.0 <= nose_radius <= radius, "the nose radius must fit the punch")
    flat, rho = radius - nose_radius, nose_radius + 0.5 * thickness
    return pi * flat**2 + 2.0 * pi * (flat * rho * pi / 2.0 + rho**2)


def cup_height(
    blank_diameter: float, punch_diameter: float, nose_radius: float, thickness: float
) -> float:
    """Rim height of a flat-bottomed cup if the thickness stayed as it was [mm].

    Measured from the outer face of the bottom. The real rim thickens, so the real cup
    is lower where the wall got thicker and higher where it was stretched.

    Parameters
    ----------
    blank_diameter : blank diameter [mm]
    punch_diameter : diameter of the punch [mm]
    nose_radius : nose radius of the punch [mm]
    thickness : sheet thickness, constant [mm]

    Source: geometry (area of the mid-surface equal to the blank).
    """
    rest = 0.25 * pi * blank_diameter**2 - base_area(punch_diameter, nose_radius, thickness)
    require(rest >= 0.0, "the blank does not reach past the punch nose")
    return rest / (pi * (punch_diameter + thickness)) + nose_radius + thickness


def cup_height_from_wall(
    blank_diameter: float,
    punch_diameter: float,
    nose_radius: float,
    thickness: float,
    wall: npt.ArrayLike,
    base_thickness: float | None = None,
) -> float:
    """Rim height of a flat-bottomed cup from its volume and the thickness of its wall [mm].

    Parameters
    ----------
    blank_diameter : blank diameter [mm]
    punch_diameter : diameter of the punch, inner diameter of the wall [mm]
    nose_radius : nose radius of the punch [mm]
    thickness : thickness of the blank [mm]
    wall : wall thickness at stations equally spaced over the wall, (n,) [mm]
    base_thickness : mean thickness of bottom and nose [mm]; that of the blank if not given

    Source: constant volume; stations joined by the trapezium rule.
    """
    profile = np.atleast_1d(np.asarray(wall, dtype=np.float64))
    require(bool(np.all(profile > 0.0)), "every wall thickness must be above zero")
    base = thickness if base_thickness is None else base_thickness
    bottom = base_area(punch_diameter, nose_radius, base) * base
    rest = blank_volume(blank_diameter, thickness) - bottom
    require(rest >= 0.0, "the bottom holds more than the blank")
    section = pi * (punch_diameter + profile) * profile
    mean = float(np.mean(0.5 * (section[1:] + section[:-1]))) if profile.size > 1 else section[0]
    return float(rest / mean) + nose_radius + base


def cup_blank_diameter(
    height: float, punch_diameter: float, nose_radius: float, thickness: float
) -> float:
    """Blank diameter for a flat-bottomed cup of constant thickness [mm].

    Parameters
    ----------
    height : rim height above the outer face of the bottom [mm]
    punch_diameter : diameter of the punch [mm]
    nose_radius : nose radius of the punch [mm]
    thickness : sheet thickness, constant [mm]

    Source: geometry, the inverse of ``cup_height``.
    """
    wall = height - nose_radius - thickness
    require(wall >= 0.0, "the cup must be higher than its nose")
    base = base_area(punch_diameter, nose_radius, thickness)
    return sqrt(4.0 / pi * (base + pi * (punch_diameter + thickness) * wall))


def sharp_cup_height(blank_diameter: float, cup_diameter: float) -> float:
    """Height of a cup with a sharp corner and constant thickness [mm].

    Parameters
    ----------
    blank_diameter : blank diameter [mm]
    cup_diameter : mean wall diameter [mm]

    Source: geometry, ``(D**2 - d**2)/(4 d)``.
    """
    require_positive(cup_diameter=cup_diameter)
    require(blank_diameter >= cup_diameter, "the blank must be wider than the cup")
    return (blank_diameter**2 - cup_diameter**2) / (4.0 * cup_diameter)


def sharp_blank_diameter(height: float, cup_diameter: float) -> float:
    """Blank diameter for a cup with a sharp corner and constant thickness [mm].

    Parameters
    ----------
    height : cup height [mm]
    cup_diameter : mean wall diameter [mm]

    Source: geometry, ``sqrt(d**2 + 4 d h)``.
    """
    require_positive(cup_diameter=cup_diameter)
    require(height >= 0.0, "the height must not be negative")
    return sqrt(cup_diameter**2 + 4.0 * cup_diameter * height)
