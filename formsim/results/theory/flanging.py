"""Flanging: hoop strain, thickness and width of an edge turned outwards, load of a flare."""

from __future__ import annotations

from math import cos, expm1, log, pi, radians, tan

from formsim.results.theory.limits import require, require_positive

_NO_FRICTION = 1e-9


def edge_hoop_strain(neck: float, edge: float) -> float:
    """Logarithmic hoop strain of the edge, also its equivalent strain [-].

    Parameters
    ----------
    neck, edge : diameters of the rim before and after [mm]

    Source: definition, ``ln(d1/d0)``; the edge is free, so the hoop stress is uniaxial.
    """
    return log(_widening(neck, edge))


def edge_stretch_percent(neck: float, edge: float) -> float:
    """Engineering hoop strain of the edge [%].

    Parameters
    ----------
    neck, edge : diameters of the rim before and after [mm]

    Source: definition; what hole-expansion tests such as ISO 16630 report.
    """
    return 100.0 * (_widening(neck, edge) - 1.0)


def flange_edge_diameter(neck: float, length: float, r_bar: float = 1.0) -> float:
    """Diameter of the edge of a flat flange turned from a length of wall [mm].

    Parameters
    ----------
    neck : mean diameter of the wall [mm]
    length : of the wall turned outwards, at most the diameter [mm]
    r_bar : mean r-value, above zero [-]

    Every ring is stretched by uniaxial hoop stress and so gets shorter along the wall.
    Source: own integration of Hill's normal anisotropy (1948, memory), sharp corner:
    ``r1 = r0 [1 + (m + 1) L/r0]**(1/(m + 1))``, ``m = r/(1 + r)``.
    """
    require_positive(neck=neck, length=length, r_bar=r_bar)
    require(length <= neck, "a flange shorter than the diameter is meant")
    power = 1.0 + r_bar / (1.0 + r_bar)
    return float(neck * (1.0 + 2.0 * power * length / neck) ** (1.0 / power))


def flange_length(neck: float, edge: float, r_bar: float = 1.0) -> float:
    """Length of wall that a flat flange of a given edge diameter needs [mm].

    Parameters
    ----------
    neck, edge : mean diameter of the wall, and of the edge, at most three times that [mm]
    r_bar : mean r-value, above zero [-]

    Source: the inverse of ``flange_edge_diameter``.
    """
    require_positive(r_bar=r_bar)
    stretch = _widening(neck, edge)
    require(stretch <= 3.0, "an edge of at most three neck diameters is meant")
    power = 1.0 + r_bar / (1.0 + r_bar)
    return float(0.5 * neck / power * (stretch**power - 1.0))


def flaring_stress(flow_stress: float, neck: float, edge: float, angle: float, mu: float) -> float:
    """Pressure along the wall below a conical flare [MPa].

    Parameters
    ----------
    flow_stress : mean flow stress of the flare [MPa]
    neck, edge : mean diameters where the wall leaves the cylinder and at its rim [mm]
    angle : of the cone to the axis, 5 to 60 [deg]
    mu : Coulomb friction [-]

    Valid while the pressure stays below the flow stress.
    Source: plane-stress equilibrium of a thin cone as in R. Hill, The Mathematical Theory of
    Plasticity, 1950 (memory; re-derived), Tresca, hoop tension plus pressure along the wall
    equal to the flow stress: ``Y (1 + 1/m) [1 - (d0/d1)**m]``, ``m = mu/tan(angle)``;
    ``Y ln(d1/d0)`` without friction.
    """
    require_positive(flow_stress=flow_stress)
    require(5.0 <= angle <= 60.0, f"the cone angle lies from 5 to 60 degrees, is {angle:g}")
    require(mu >= 0.0, "friction must not be negative")
    way, m = edge_hoop_strain(neck, edge), mu / tan(radians(angle))
    share = way if m < _NO_FRICTION else -(1.0 + 1.0 / m) * expm1(-m * way)
    require(share <= 1.0, "the wall would yield along its length before the hoop does")
    return flow_stress * share


def flaring_load(
    flow_stress: float, neck: float, edge: float, thickness: float, angle: float, mu: float
) -> float:
    """Axial load on a conical flaring tool, without bending [N].

    Parameters
    ----------
    flow_stress : mean flow stress of the flare [MPa]
    neck, edge : mean diameters where the wall leaves the cylinder and at its rim [mm]
    thickness : mean wall thickness of the flare, at most a twentieth of the diameter [mm]
    angle : of the cone to the axis, 5 to 60 [deg]
    mu : Coulomb friction [-]

    Source: ``flaring_stress`` times ``pi d0 t cos(angle)``.
    """
    require_positive(thickness=thickness)
    require(20.0 * thickness <= neck, "a wall thin against its diameter is meant")
    stress = flaring_stress(flow_stress, neck, edge, angle, mu)
    return pi * neck * thickness * stress * cos(radians(angle))


def _widening(neck: float, edge: float) -> float:
    require_positive(neck=neck, edge=edge)
    require(edge >= neck, "a flange is wider than the neck")
    return edge / neck
