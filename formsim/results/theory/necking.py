"""Necking: nosing load of a thin tube, thickness at its rim, and what the wall below carries."""

from __future__ import annotations

from math import cos, exp, log, pi, radians, sqrt

from formsim.case.rules_line import nosing_share
from formsim.results.theory.drawing import bend_unbend_tension
from formsim.results.theory.limits import require, require_positive

_THIN = 10.0
"""Least radius over thickness of a thin wall."""


def nosing_stress(flow_stress: float, body: float, neck: float, angle: float, mu: float) -> float:
    """Stress along the wall where it enters a conical die, pressure positive [MPa].

    Parameters
    ----------
    flow_stress : mean flow stress of the cone [MPa]
    body, neck : mean diameters where the wall enters the cone and at its rim [mm]
    angle : of the cone to the axis, 5 to 60 [deg]
    mu : Coulomb friction [-]

    Valid while the stress along the wall stays below the flow stress.
    Source: flow stress times ``case.rules_line.nosing_share``.
    """
    require_positive(flow_stress=flow_stress)
    _check_cone(angle, mu)
    _check_narrowing(body, neck)
    share = nosing_share(body, neck, angle, mu)
    require(share <= 1.0, "the wall would yield along its length before the hoop does")
    return flow_stress * share


def nosing_load(
    flow_stress: float, body: float, neck: float, thickness: float, angle: float, mu: float
) -> float:
    """Axial load on a conical die without bending [N].

    Parameters
    ----------
    flow_stress : mean flow stress of the cone [MPa]
    body, neck : mean diameters where the wall enters the cone and at its rim [mm]
    thickness : mean wall thickness of the cone, thin [mm]
    angle : of the cone to the axis, 5 to 60 [deg]
    mu : Coulomb friction [-]

    Source: ``nosing_stress`` times ``pi d0 t cos(angle)``, the sum of pressure and friction
    along the axis.
    """
    _check_thin(body, thickness)
    stress = nosing_stress(flow_stress, body, neck, angle, mu)
    return pi * body * thickness * stress * cos(radians(angle))


def extended_nosing_load(
    flow_stress: float,
    body: float,
    neck: float,
    thickness: float,
    angle: float,
    mu: float,
    *,
    entry_radius: float,
    throat_radius: float | None = None,
) -> float:
    """Axial load on a necking die with bending into the cone and out of it [N].

    Parameters
    ----------
    flow_stress : mean flow stress of the cone, also that of the bending [MPa]
    body, neck : mean diameters of the wall before and behind the cone [mm]
    thickness : mean wall thickness, thin [mm]
    angle : of the cone to the axis, 5 to 60 [deg]
    mu : Coulomb friction [-]
    entry_radius : arc from body to cone, 4.5 thicknesses or more [mm]
    throat_radius : arc from cone to neck, where the rim has passed it [mm]

    Source: work balance, as for drawing in K. Lange, Handbook of Metal Forming, 1985 (memory):
    each arc bends and unbends the wall, ``T pi d`` with T as ``bend_unbend_tension``; friction
    at the entry arc raises what comes from the cone by ``exp(mu angle)``.
    """
    cone = nosing_load(flow_stress, body, neck, thickness, angle, mu)
    load = cone * exp(mu * radians(angle))
    load += pi * body * bend_unbend_tension(flow_stress, thickness, entry_radius)
    if throat_radius is not None:
        load += pi * neck * bend_unbend_tension(flow_stress, thickness, throat_radius)
    return load


def hoop_strain(body: float, neck: float) -> float:
    """Equivalent plastic strain of a rim pressed together freely along the hoop [-].

    Parameters
    ----------
    body, neck : mean diameters before and after [mm]

    Source: uniaxial hoop stress, ``ln(d0/d1)``, for any r-value.
    """
    _check_narrowing(body, neck)
    return log(body / neck)


def rim_thickness_ratio(before: float, after: float, r_bar: float = 1.0) -> float:
    """Thickness of a free rim over that before its diameter changed [-].

    Parameters
    ----------
    before, after : mean diameters of the rim, narrower or wider [mm]
    r_bar : mean r-value, above zero [-]

    Source: R. Hill, The Mathematical Theory of Plasticity, 1950 (memory): uniaxial hoop stress
    with normal anisotropy, ``(d1/d0)**(-1/(1 + r))``; exact at an edge without bending.
    """
    require_positive(before=before, after=after, r_bar=r_bar)
    return float((after / before) ** (-1.0 / (1.0 + r_bar)))


def crush_load(flow_stress: float, diameter: float, thickness: float) -> float:
    """Axial load at which the wall yields all round [N].

    Parameters
    ----------
    flow_stress : flow stress of the wall at its plastic strain [MPa]
    diameter : mean diameter of the wall [mm]
    thickness : wall thickness [mm]

    Source: section times stress, ``2 pi R t Y``; a thin wall may buckle before.
    """
    require_positive(flow_stress=flow_stress, diameter=diameter, thickness=thickness)
    return pi * diameter * thickness * flow_stress


def buckling_load(young: float, poisson: float, thickness: float) -> float:
    """Axial load at which a perfect elastic wall buckles, whatever its radius [N].

    Parameters
    ----------
    young : Young's modulus [MPa]
    poisson : Poisson's ratio [-]
    thickness : wall thickness [mm]

    Source: S. P. Timoshenko and J. M. Gere, Theory of Elastic Stability, 1961, cylindrical
    shell under axial pressure (memory): ``2 pi R t E t/[R sqrt(3 (1 - nu**2))]``.
    """
    require_positive(young=young, thickness=thickness)
    require(0.0 <= poisson <= 0.5, f"Poisson's ratio lies from 0 to 0.5, is {poisson:g}")
    return 2.0 * pi * young * thickness**2 / sqrt(3.0 * (1.0 - poisson**2))


def buckling_knock_down(diameter: float, thickness: float) -> float:
    """Share of the perfect buckling load that real walls are sure to carry [-].

    Parameters
    ----------
    diameter : mean diameter of the wall [mm]
    thickness : wall thickness; radius 10 to 1500 thicknesses [mm]

    Source: NASA SP-8007, Buckling of Thin-Walled Circular Cylinders, 1968 (memory):
    ``1 - 0.901 [1 - exp(-sqrt(R/t)/16)]``.
    """
    require_positive(diameter=diameter, thickness=thickness)
    slender = 0.5 * diameter / thickness
    require(_THIN <= slender <= 1500.0, f"radius over thickness is {slender:g}, not 10 to 1500")
    return 1.0 - 0.901 * (1.0 - exp(-sqrt(slender) / 16.0))


def free_rim_wrinkling_stress(
    width: float, thickness: float, young: float, tangent: float, poisson: float = 0.3
) -> float:
    """Hoop pressure at which a strip with one free edge wrinkles, held by no tool [MPa].

    A lower bound for a neck: the die holds the wall from outside and the curve stiffens it. It
    is no limit of a necking step; none in closed form is known here.

    Parameters
    ----------
    width : from the tool that holds the wall to the free rim, 5 thicknesses or more [mm]
    thickness : wall thickness [mm]
    young : Young's modulus [MPa]
    tangent : slope of the flow curve at the strain of the rim [MPa]
    poisson : Poisson's ratio [-]

    Source: S. P. Timoshenko and J. M. Gere, Theory of Elastic Stability, 1961, long plate, one
    edge free and one hinged, k = 0.425 (memory), with the reduced modulus of T. von Karman,
    1910 (memory): ``k pi**2 Er/[12 (1 - nu**2)] (t/b)**2``, ``Er = 4 E T/(sqrt E + sqrt T)**2``.
    """
    require_positive(width=width, thickness=thickness, young=young, tangent=tangent)
    require(width >= 5.0 * thickness, "a strip at least five thicknesses wide is meant")
    reduced = 4.0 * young * tangent / (sqrt(young) + sqrt(tangent)) ** 2
    plate = pi**2 * reduced / (12.0 * (1.0 - poisson**2))
    return 0.425 * plate * (thickness / width) ** 2


def _check_cone(angle: float, mu: float) -> None:
    require(5.0 <= angle <= 60.0, f"the die angle lies from 5 to 60 degrees, is {angle:g}")
    require(mu >= 0.0, "friction must not be negative")


def _check_narrowing(body: float, neck: float) -> None:
    require_positive(body=body, neck=neck)
    require(neck <= body, "a neck is narrower than the body")


def _check_thin(diameter: float, thickness: float) -> None:
    require_positive(thickness=thickness)
    require(
        0.5 * diameter >= _THIN * thickness,
        f"a thin wall is meant, radius {_THIN:g} thicknesses or more",
    )
