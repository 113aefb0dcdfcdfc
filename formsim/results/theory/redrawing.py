"""Redraw of a cup into a narrower one: ratios and forces."""

from __future__ import annotations

from math import pi

from formsim.results.theory.drawing import bend_unbend_tension, capstan_tension
from formsim.results.theory.drawing import ideal_drawing_stress as _radial_stress
from formsim.results.theory.limits import require, require_positive

USUAL_RATIOS = (1.1, 1.4)
"""Usual ratio of diameters of one redraw (shop rule, read)."""

_QUARTER = 0.5 * pi


def redraw_ratio(before: float, after: float) -> float:
    """Diameter of a cup over that of the cup drawn from it [-].

    Parameters
    ----------
    before, after : both of the walls' mean, or both of the punches [mm]

    Source: definition.
    """
    require_positive(before=before, after=after)
    require(after < before, "a redraw makes the cup narrower")
    return before / after


def largest_usual_ratio(number: int) -> float:
    """Largest recommended ratio of the first or second redraw [-].

    Parameters
    ----------
    number : 1 for the first redraw, 2 for the second

    Source: M. P. Groover, Fundamentals of Modern Manufacturing, chapter on sheet metalworking
    (memory): reductions of 30 % and 16 %.
    """
    require(number in (1, 2), "recommended for the first and second redraw only")
    return 1.0 / (1.0 - (0.30 if number == 1 else 0.16))


def ideal_redrawing_force(
    flow_stress: float, before: float, after: float, thickness: float
) -> float:
    """Punch force of a redraw without friction or bending [N].

    Parameters
    ----------
    flow_stress : mean flow stress of the annulus between the two walls [MPa]
    before, after : mean diameters of the walls, ratio up to 2 [mm]
    thickness : wall thickness [mm]

    Source: E. Siebel and H. Beisswaenger, Tiefziehen, 1955 (memory): ``pi d t s ln(D/d)``, the
    annulus as the flange of a first draw; constant while the wall of the old cup lasts.
    """
    require_positive(thickness=thickness)
    _check_ratio(before, after)
    return pi * after * thickness * _radial_stress(flow_stress, before, after)


def extended_redrawing_force(
    flow_stress: float,
    before: float,
    after: float,
    thickness: float,
    *,
    sleeve_radius: float,
    die_radius: float,
    sleeve_force: float,
    sleeve_friction: float,
    die_friction: float,
) -> float:
    """Punch force of a direct redraw with bending and friction at sleeve and die [N].

    Parameters
    ----------
    flow_stress : mean flow stress of the annulus, also that of the bending [MPa]
    before, after : mean diameters of the walls, ratio up to 2 [mm]
    thickness : wall thickness [mm]
    sleeve_radius, die_radius : corner of the sleeve and profile of the die, four thicknesses or
        more [mm]
    sleeve_force : holding force of the sleeve [N]
    sleeve_friction, die_friction : Coulomb friction [-]

    Source: E. Siebel and H. Beisswaenger, Tiefziehen, 1955; K. Lange, Handbook of Metal Forming,
    1985 (memory) for the terms, put together here. The wall is bent and unbent round the sleeve,
    rubs there over a quarter turn, is drawn in, rubs on both faces under the sleeve, and is bent
    and unbent over the die: ``pi d {t [1.1 s ln(D/d) + 2 mu Fs/(pi D t)] exp(mu pi/2)
    + T_sleeve exp(mu_s pi/2 + mu pi/2) + T_die}``, T as ``bend_unbend_tension``.
    """
    require(sleeve_force >= 0.0, "the force of the sleeve must not be negative")
    _check_ratio(before, after)
    outer = bend_unbend_tension(flow_stress, thickness, sleeve_radius + 0.5 * thickness)
    inner = bend_unbend_tension(flow_stress, thickness, die_radius + 0.5 * thickness)
    rubbing = (sleeve_friction + die_friction) * sleeve_force / (pi * before)
    drawn = 1.1 * thickness * _radial_stress(flow_stress, before, after)
    brought = capstan_tension(outer, sleeve_friction, _QUARTER) + rubbing + drawn
    return pi * after * (capstan_tension(brought, die_friction, _QUARTER) + inner)


def shop_redrawing_force(ultimate: float, before: float, after: float, thickness: float) -> float:
    """Punch force of a redraw by the shop formula of a first draw [N].

    Parameters
    ----------
    ultimate : ultimate strength of the worked sheet [MPa]
    before, after : diameters of the two punches, ratio 1.1 to 1.6 [mm]
    thickness : sheet thickness [mm]

    Source: M. P. Groover, Fundamentals of Modern Manufacturing, chapter on sheet metalworking
    (memory): ``pi d t UTS (D/d - 0.7)``, the old cup in place of the blank.
    """
    require_positive(ultimate=ultimate, thickness=thickness)
    ratio = redraw_ratio(before, after)
    require(1.1 <= ratio <= 1.6, f"the redraw ratio must lie from 1.1 to 1.6, is {ratio:.3g}")
    return pi * after * thickness * ultimate * (ratio - 0.7)


def wall_strength(ultimate: float, diameter: float, thickness: float) -> float:
    """Force at which the new wall tears, the end of any redraw [N].

    Parameters
    ----------
    ultimate : ultimate strength of the sheet at the punch nose [MPa]
    diameter : mean diameter of the new wall [mm]
    thickness : its thickness [mm]

    Source: section times strength, ``pi d t UTS``.
    """
    require_positive(ultimate=ultimate, diameter=diameter, thickness=thickness)
    return pi * diameter * thickness * ultimate


def redrawn_height(height: float, before: float, after: float) -> float:
    """Height that a length of wall has after a redraw at constant thickness [mm].

    Parameters
    ----------
    height : of the wall before [mm]
    before, after : mean diameters of the walls [mm]

    Source: constant area, ``h D/d``; the base shrinks and adds ``(D**2 - d**2)/(4 d)``.
    """
    require(height >= 0.0, "the height must not be negative")
    ratio = redraw_ratio(before, after)
    return height * ratio + 0.25 * after * (ratio**2 - 1.0)


def total_ratio(*ratios: float) -> float:
    """Ratio of blank to last cup from the ratios of all draws [-].

    Source: definition, their product.
    """
    product = 1.0
    for ratio in ratios:
        require(ratio > 1.0, "every draw makes the cup narrower")
        product *= ratio
    return product


def _check_ratio(before: float, after: float) -> None:
    ratio = redraw_ratio(before, after)
    require(ratio <= 2.0, f"the redraw ratio must lie up to 2, is {ratio:.3g}")
