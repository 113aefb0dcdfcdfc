"""First draw of a cup: stresses, forces, limits."""

from __future__ import annotations

from math import asin, cos, exp, log, pi, sin, sqrt

import numpy as np
from scipy.optimize import brentq

from formsim.material.flow import FlowCurve
from formsim.results.theory.limits import require, require_positive

# Beyond this radius ratio the whole drawing stress is reached inside the flange.
_LARGEST_RIGID_RATIO = 2.96


def ideal_drawing_stress(flow_stress: float, rim_diameter: float, wall_diameter: float) -> float:
    """Radial stress that draws a flange without friction or bending [MPa].

    Parameters
    ----------
    flow_stress : mean flow stress of the flange [MPa]
    rim_diameter : diameter of the rim now [mm]
    wall_diameter : mean diameter of the cup wall [mm]

    Thickness taken as constant and the mean stress as yield stress (Tresca).
    Source: E. Siebel and H. Beisswaenger, Tiefziehen, 1955 (memory): ``s ln(D/d)``.
    """
    require_positive(flow_stress=flow_stress, wall_diameter=wall_diameter)
    require(rim_diameter >= wall_diameter, "the rim must lie outside the cup wall")
    return flow_stress * log(rim_diameter / wall_diameter)


def ideal_drawing_force(
    flow_stress: float, rim_diameter: float, wall_diameter: float, thickness: float
) -> float:
    """Punch force without friction or bending [N].

    Parameters
    ----------
    flow_stress : mean flow stress of the flange [MPa]
    rim_diameter : diameter of the rim now [mm]
    wall_diameter : mean diameter of the cup wall [mm]
    thickness : sheet thickness [mm]

    Source: as ``ideal_drawing_stress``: ``pi d t s ln(D/d)``.
    """
    require_positive(thickness=thickness)
    stress = ideal_drawing_stress(flow_stress, rim_diameter, wall_diameter)
    return pi * wall_diameter * thickness * stress


def mean_flange_stress(
    curve: FlowCurve, blank_diameter: float, rim_diameter: float, wall_diameter: float
) -> float:
    """Mean of the flow stresses at the rim and where the flange meets the wall [MPa].

    Parameters
    ----------
    curve : flow curve
    blank_diameter : first diameter of the blank [mm]
    rim_diameter : diameter of the rim now [mm]
    wall_diameter : mean diameter of the cup wall [mm]

    Strains are hoop strains of a flange of constant thickness.
    Source: E. Siebel and H. Beisswaenger, Tiefziehen, 1955 (memory).
    """
    require(
        blank_diameter >= rim_diameter >= wall_diameter > 0.0,
        "the rim must lie between the blank and the cup wall",
    )
    origin = sqrt(wall_diameter**2 + blank_diameter**2 - rim_diameter**2)
    strains = [log(blank_diameter / rim_diameter), log(origin / wall_diameter)]
    return float(np.mean(curve.stress(strains)))


def ideal_peak_force(
    curve: FlowCurve, blank_diameter: float, wall_diameter: float, thickness: float
) -> float:
    """Largest punch force of the draw without friction or bending [N].

    Parameters
    ----------
    curve : flow curve
    blank_diameter : blank diameter, 1.2 to 2.2 wall diameters [mm]
    wall_diameter : mean diameter of the cup wall [mm]
    thickness : sheet thickness [mm]

    Source: ``ideal_drawing_force`` with ``mean_flange_stress``, largest over the rim's way.
    """
    _require_ratio(blank_diameter, wall_diameter)
    rims = np.linspace(blank_diameter, wall_diameter, 401)
    return max(
        ideal_drawing_force(
            mean_flange_stress(curve, blank_diameter, rim, wall_diameter),
            rim,
            wall_diameter,
            thickness,
        )
        for rim in rims.tolist()
    )


def efficiency_drawing_force(
    flow_stress: float,
    blank_diameter: float,
    wall_diameter: float,
    thickness: float,
    efficiency: float = 0.6,
) -> float:
    """Largest punch force with friction and bending in one efficiency [N].

    Parameters
    ----------
    flow_stress : mean flow stress of the flange [MPa]
    blank_diameter : blank diameter, 1.2 to 2.2 wall diameters [mm]
    wall_diameter : mean diameter of the cup wall [mm]
    thickness : sheet thickness [mm]
    efficiency : ideal over real work, 0.5 to 0.7 [-]

    Source: E. Siebel and H. Beisswaenger, Tiefziehen, 1955; G. Oehler and F. Kaiser,
    Schnitt-, Stanz- und Ziehwerkzeuge (memory): ``pi d t 1.1 s ln(D/d)/efficiency``.
    """
    _require_ratio(blank_diameter, wall_diameter)
    require(0.5 <= efficiency <= 0.7, f"the efficiency lies from 0.5 to 0.7, is {efficiency:g}")
    ideal = ideal_drawing_force(flow_stress, blank_diameter, wall_diameter, thickness)
    return 1.1 * ideal / efficiency


def extended_drawing_force(
    flow_stress: float,
    rim_diameter: float,
    wall_diameter: float,
    thickness: float,
    *,
    die_radius: float,
    holder_force: float,
    die_friction: float,
    holder_friction: float,
) -> float:
    """Punch force with holder friction, die radius friction and bending [N].

    Parameters
    ----------
    flow_stress : mean flow stress of the flange, also that of the bending [MPa]
    rim_diameter : diameter of the rim now [mm]
    wall_diameter : mean diameter of the cup wall [mm]
    thickness : sheet thickness [mm]
    die_radius : profile radius of the die, four thicknesses or more [mm]
    holder_force : holder force [N]
    die_friction : friction on the die radius [-]
    holder_friction : mean friction under the holder, both faces rub [-]

    Source: E. Siebel and H. Beisswaenger, Tiefziehen, 1955; K. Lange, Handbook of Metal
    Forming, 1985 (memory): ``pi d t {[1.1 s ln(D/d) + 2 mu Fh/(pi D t)] exp(mu pi/2)
    + s_bend t/(2 rho)}``, the last term as in ``bend_unbend_tension``.
    """
    require(holder_force >= 0.0, "the holder force must not be negative")
    ideal = 1.1 * ideal_drawing_stress(flow_stress, rim_diameter, wall_diameter)
    rubbing = 2.0 * holder_friction * holder_force / (pi * rim_diameter * thickness)
    turned = capstan_tension(ideal + rubbing, die_friction, 0.5 * pi)
    bending = bend_unbend_tension(flow_stress, thickness, die_radius + 0.5 * thickness)
    return pi * wall_diameter * (thickness * turned + bending)


def shop_drawing_force(
    ultimate: float, blank_diameter: float, punch_diameter: float, thickness: float
) -> float:
    """Largest punch force by the shop formula [N].

    Parameters
    ----------
    ultimate : ultimate strength [MPa]
    blank_diameter : blank diameter, 1.2 to 2.2 punch diameters [mm]
    punch_diameter : punch diameter [mm]
    thickness : sheet thickness [mm]

    Source: M. P. Groover, Fundamentals of Modern Manufacturing, chapter on sheet
    metalworking (memory): ``pi d t UTS (D/d - 0.7)``.
    """
    require_positive(ultimate=ultimate, thickness=thickness)
    _require_ratio(blank_diameter, punch_diameter)
    return pi * punch_diameter * thickness * ultimate * (blank_diameter / punch_diameter - 0.7)


def shop_holder_force(
    yield_stress: float,
    blank_diameter: float,
    punch_diameter: float,
    thickness: float,
    die_radius: float,
) -> float:
    """Holder force by the shop formula [N].

    Parameters
    ----------
    yield_stress : initial yield stress [MPa]
    blank_diameter : blank diameter [mm]
    punch_diameter : punch diameter [mm]
    thickness : sheet thickness [mm]
    die_radius : profile radius of the die [mm]

    Source: M. P. Groover, Fundamentals of Modern Manufacturing, chapter on sheet
    metalworking (memory): ``0.015 Y pi [D**2 - (d + 2.2 t + 2 rd)**2]``.
    """
    require_positive(yield_stress=yield_stress)
    inner = punch_diameter + 2.2 * thickness + 2.0 * die_radius
    require(blank_diameter > inner, "the blank does not reach under the holder")
    return 0.015 * yield_stress * pi * (blank_diameter**2 - inner**2)


def holder_pressure(
    ultimate: float,
    blank_diameter: float,
    punch_diameter: float,
    thickness: float,
    factor: float = 2.5,
) -> float:
    """Pressure under the holder that keeps the flange from wrinkling [MPa].

    Parameters
    ----------
    ultimate : ultimate strength [MPa]
    blank_diameter : blank diameter, 1.2 to 2.2 punch diameters [mm]
    punch_diameter : punch diameter [mm]
    thickness : sheet thickness [mm]
    factor : empirical, 2 to 3 [-]

    Source: E. Siebel, in K. Lange, Handbook of Metal Forming, 1985 (memory):
    ``factor 1e-3 [(D/d - 1)**3 + 0.005 D/t] UTS``.
    """
    require_positive(ultimate=ultimate, thickness=thickness)
    require(2.0 <= factor <= 3.0, f"the factor lies from 2 to 3, is {factor:g}")
    _require_ratio(blank_diameter, punch_diameter)
    reach = blank_diameter / punch_diameter - 1.0
    return 1e-3 * factor * (reach**3 + 0.005 * blank_diameter / thickness) * ultimate


def limiting_ratio(r_bar: float, efficiency: float) -> float:
    """Largest blank over punch diameter that can be drawn [-].

    Parameters
    ----------
    r_bar : mean r-value, above zero [-]
    efficiency : share of the force that draws, 0.5 to 1 [-]

    Source: R. L. Whiteley, "The importance of directionality in drawing-quality sheet
    steel", Trans. ASM 52, 1960 (memory): ``ln LDR = efficiency sqrt((1 + r)/2)``.
    """
    require_positive(r_bar=r_bar)
    require(0.5 <= efficiency <= 1.0, f"the efficiency lies from 0.5 to 1, is {efficiency:g}")
    return exp(efficiency * sqrt(0.5 * (1.0 + r_bar)))


def bend_unbend_tension(yield_stress: float, thickness: float, radius: float) -> float:
    """Tension per width lost in bending a sheet over a radius and back once [N/mm].

    Parameters
    ----------
    yield_stress : flow stress in tension [MPa]
    thickness : sheet thickness [mm]
    radius : radius of the mid-surface, 4.5 thicknesses or more [mm]

    Good to 10 % from 5 thicknesses on.
    Source: plastic work of plane-strain bending, R. Hill, The Mathematical Theory of
    Plasticity, 1950 (memory): ``Yp t**2/(2 rho)``, Yp = 2 Y/sqrt3, bend and unbend.
    """
    require_positive(yield_stress=yield_stress, thickness=thickness)
    require(
        radius >= 4.5 * thickness,
        f"radius {radius:g} mm is too tight for bending theory at thickness {thickness:g} mm",
    )
    return 2.0 / sqrt(3.0) * yield_stress * thickness**2 / (2.0 * radius)


def capstan_tension(tension: float, friction: float, angle: float) -> float:
    """Tension after rubbing round a curve, in the unit of the tension before.

    Parameters
    ----------
    tension : tension before
    friction : Coulomb friction [-]
    angle : angle turned [rad]

    Source: L. Euler, 1769, belt friction (memory): ``T exp(mu angle)``.
    """
    require(friction >= 0.0 and angle >= 0.0, "friction and angle must not be negative")
    return tension * exp(friction * angle)


def incipient_drawing_stress(ratio: float) -> float:
    """Radial stress over yield stress at the first yield of a whole flange [-].

    Parameters
    ----------
    ratio : outer over inner radius of the flange, 1 to 2.96 [-]

    Plane stress, von Mises, no hardening, no friction. With s_r = (2/sqrt3) Y sin x,
    ``ln(ratio) = (sqrt3/2) x + ln[(2/sqrt3) cos(x - pi/6)]/2``.
    Source: R. Hill, The Mathematical Theory of Plasticity, 1950 (memory; re-derived).
    """
    require(
        1.0 <= ratio <= _LARGEST_RIGID_RATIO,
        f"the radius ratio must lie from 1 to {_LARGEST_RIGID_RATIO:g}, is {ratio:g}",
    )
    c = 2.0 / sqrt(3.0)

    def miss(x: float) -> float:
        return x / c + 0.5 * log(c * cos(x - asin(0.5))) - log(ratio)

    return c * sin(float(brentq(miss, 0.0, 0.5 * pi, xtol=1e-14)))


def _require_ratio(blank_diameter: float, wall_diameter: float) -> None:
    require_positive(wall_diameter=wall_diameter)
    ratio = blank_diameter / wall_diameter
    require(1.2 <= ratio <= 2.2, f"the draw ratio must lie from 1.2 to 2.2, is {ratio:.3g}")
