"""Ironing: forces of a ring, stress of the wall behind it, largest reduction, height, speed.

The wall is thin against its diameter, so it flows in plane strain between a ring whose entry
cone stands at an angle to the axis and a punch that moves at the speed of the wall behind it.
"""

from __future__ import annotations

from math import asinh, expm1, log, log1p, pi, radians, sqrt, tan

from scipy.optimize import brentq

from formsim.case.rules_line import slab_share
from formsim.material.flow import FlowCurve
from formsim.results.theory.limits import require, require_positive
from formsim.results.theory.plastic_work import mean_flow_stress, plane_strain_factor

_LEAST_ANGLE, _LARGEST_ANGLE = 2.0, 20.0
_LARGEST_REDUCTION = 0.75


def reduction(before: float, after: float) -> float:
    """Share of the wall that a ring takes away [-].

    Parameters
    ----------
    before, after : wall thickness [mm], or section area of the wall [mm2]

    Source: definition, ``1 - after/before``.
    """
    require_positive(before=before, after=after)
    require(after <= before, "a ring cannot make the wall thicker")
    return 1.0 - after / before


def wall_area(inner_diameter: float, thickness: float) -> float:
    """Section area of a wall [mm2].

    Parameters
    ----------
    inner_diameter : diameter of the punch [mm]
    thickness : wall thickness [mm]

    Source: geometry, ``pi (d + t) t``.
    """
    require_positive(inner_diameter=inner_diameter, thickness=thickness)
    return pi * (inner_diameter + thickness) * thickness


def ironing_strain(share: float, r_bar: float = 1.0) -> float:
    """Equivalent plastic strain of a reduction in plane strain [-].

    Parameters
    ----------
    share : reduction of one ring or of several [-]
    r_bar : mean r-value [-]

    Source: Hill 1948 (memory), ``factor ln[1/(1 - share)]``, factor as ``plane_strain_factor``.
    """
    require(0.0 <= share < 1.0, f"the reduction lies from 0 to 1, is {share:g}")
    return -plane_strain_factor(r_bar) * log1p(-share)


def slab_factor(
    share: float,
    entry_angle: float,
    ring_friction: float,
    punch_friction: float = 0.0,
    back_share: float = 0.0,
) -> float:
    """Wall stress behind a ring over the plane-strain yield stress, friction on both faces [-].

    The punch runs ahead of the wall inside the ring, so its friction helps.

    Parameters
    ----------
    share : reduction of the ring, up to 0.75 [-]
    entry_angle : of the entry cone to the axis, 2 to 20 [deg]
    ring_friction, punch_friction : Coulomb friction [-]
    back_share : stress of the wall before the ring over the same yield stress [-]

    Valid while the punch does not pull the wall through by itself, ``B > -1``; force good to 10
    to 15 % for angles up to 10 degrees.
    Source: ``case.rules_line.slab_share`` and, by the same balance (re-derived), what is left of
    the stress before the ring, ``back (1 - share)**B`` with its B.
    """
    b = _friction_sum(share, entry_angle, ring_friction, punch_friction)
    require(0.0 <= back_share < 1.0, f"the back stress lies from 0 to 1, is {back_share:g}")
    pulled = slab_share(share, entry_angle, ring_friction, punch_friction)
    return pulled + back_share * float((1.0 - share) ** b)


def redundant_factor(entry_angle: float) -> float:
    """Shear at entry and exit of a ring: its part of the wall stress over the yield stress [-].

    Parameters
    ----------
    entry_angle : of the entry cone to the axis, 2 to 20 [deg]

    Source: E. Siebel, strip drawing, in K. Lange, Handbook of Metal Forming, 1985 (memory):
    half the angle; as ``tan(angle)/2`` it is the shear work of ``upper_bound_factor``.
    """
    return 0.5 * tan(_checked_angle(entry_angle))


def ideal_factor(share: float) -> float:
    """Ideal work of a reduction over the plane-strain yield stress [-].

    Parameters
    ----------
    share : reduction of the ring [-]

    Source: work balance without friction and redundant shear: ``ln[1/(1 - share)]``.
    """
    require(0.0 <= share < 1.0, f"the reduction lies from 0 to 1, is {share:g}")
    return -log1p(-share)


def upper_bound_factor(
    share: float, entry_angle: float, ring_shear: float = 0.0, punch_shear: float = 0.0
) -> float:
    """Ring force over exit area and plane-strain yield stress, from above [-].

    Parameters
    ----------
    share : reduction of the ring, up to 0.75 [-]
    entry_angle : of the entry cone to the axis, 2 to 20 [deg]
    ring_shear, punch_shear : friction stress over shear yield stress, 0 to 1 [-]

    Source: upper-bound theorem as in B. Avitzur, Metal Forming: Processes and Analysis, 1968
    (memory); own field: plane sections stay plane, T = tan(angle), x = ln[1/(1 - share)]:
    ``x [sqrt(1 + T**2) + asinh(T)/T]/2`` flow, ``T/2`` shear at entry and exit,
    ``m_ring x (T + 1/T)/2`` and ``m_punch [share/(1 - share) - x]/(2 T)`` friction.
    """
    t = tan(_checked_angle(entry_angle))
    _check_share(share)
    for name, value in (("ring", ring_shear), ("punch", punch_shear)):
        require(0.0 <= value <= 1.0, f"the shear of the {name} lies from 0 to 1, is {value:g}")
    x = -log1p(-share)
    flow = 0.5 * x * (sqrt(1.0 + t * t) + asinh(t) / t)
    rubbing = ring_shear * x * (t + 1.0 / t) + punch_shear * (share / (1.0 - share) - x) / t
    return flow + 0.5 * t + 0.5 * rubbing


def ring_yield_stress(curve: FlowCurve, strain: float, share: float, r_bar: float = 1.0) -> float:
    """Mean plane-strain yield stress of the wall inside a ring [MPa].

    Parameters
    ----------
    curve : flow curve
    strain : equivalent plastic strain of the wall before the ring [-]
    share : reduction of the ring [-]
    r_bar : mean r-value [-]

    Source: mean by work over the strain of the ring, times ``plane_strain_factor``.
    """
    after = strain + ironing_strain(share, r_bar)
    return plane_strain_factor(r_bar) * mean_flow_stress(curve, strain, after)


def ring_force(
    yield_stress: float,
    exit_area: float,
    share: float,
    entry_angle: float,
    ring_friction: float,
    punch_friction: float = 0.0,
    back_share: float = 0.0,
) -> float:
    """Axial force on one ring by the slab method [N].

    It is more than the pull of the wall behind the ring by what the punch rubs along.

    Parameters
    ----------
    yield_stress : mean plane-strain yield stress inside the ring [MPa]
    exit_area : section area of the wall behind the ring [mm2]
    share : reduction of the ring, up to 0.75 [-]
    entry_angle : of the entry cone to the axis, 2 to 20 [deg]
    ring_friction, punch_friction : Coulomb friction [-]
    back_share : stress of the wall before the ring over the yield stress [-]

    Source: as ``slab_factor``. The pressure adds up to ``(pull behind - pull before)/(1 + B)``
    over the cone; the ring takes ``1 + mu_ring/tan(angle)`` times that.
    """
    require_positive(yield_stress=yield_stress, exit_area=exit_area)
    factor = slab_factor(share, entry_angle, ring_friction, punch_friction, back_share)
    pulled = factor - back_share / (1.0 - share)
    slope = tan(radians(entry_angle))
    ring, both = 1.0 + ring_friction / slope, 1.0 + (ring_friction - punch_friction) / slope
    return yield_stress * exit_area * pulled * ring / both


def exit_strength(curve: FlowCurve, strain: float, r_bar: float = 1.0) -> float:
    """Stress at which the ironed wall yields behind the ring, its hoop held by the punch [MPa].

    Parameters
    ----------
    curve : flow curve
    strain : equivalent plastic strain behind the ring [-]
    r_bar : mean r-value [-]

    Source: flow stress there times ``plane_strain_factor`` (Hill 1948, memory).
    """
    require(strain >= 0.0, "the plastic strain must not be negative")
    return plane_strain_factor(r_bar) * float(curve.stress(strain))


def wall_load(
    curve: FlowCurve,
    strain: float,
    share: float,
    entry_angle: float,
    ring_friction: float,
    punch_friction: float = 0.0,
    r_bar: float = 1.0,
) -> float:
    """Wall stress behind a ring over the strength of the wall there; it yields at 1 [-].

    Parameters
    ----------
    curve : flow curve
    strain : equivalent plastic strain of the wall before the ring [-]
    share : reduction of the ring, up to 0.75 [-]
    entry_angle : of the entry cone to the axis, 2 to 20 [deg]
    ring_friction, punch_friction : Coulomb friction [-]
    r_bar : mean r-value [-]

    Source: ``slab_factor`` with ``redundant_factor``, over ``exit_strength``.
    """
    factor = slab_factor(share, entry_angle, ring_friction, punch_friction)
    factor += redundant_factor(entry_angle) if share > 0.0 else 0.0
    after = strain + ironing_strain(share, r_bar)
    stress = factor * ring_yield_stress(curve, strain, share, r_bar)
    return stress / exit_strength(curve, after, r_bar)


def largest_reduction(
    curve: FlowCurve,
    strain: float,
    entry_angle: float,
    ring_friction: float,
    punch_friction: float = 0.0,
    r_bar: float = 1.0,
) -> float:
    """Reduction of one ring at which the wall behind it yields, 0.75 where it never does [-].

    Parameters
    ----------
    curve : flow curve
    strain : equivalent plastic strain of the wall before the ring [-]
    entry_angle : of the entry cone to the axis, 2 to 20 [deg]
    ring_friction, punch_friction : Coulomb friction [-]
    r_bar : mean r-value [-]

    Source: ``wall_load`` equal to 1; without hardening, friction and shear 1 - 1/e.
    """

    def miss(share: float) -> float:
        rest = (entry_angle, ring_friction, punch_friction, r_bar)
        return wall_load(curve, strain, share, *rest) - 1.0

    if miss(_LARGEST_REDUCTION) <= 0.0:
        return _LARGEST_REDUCTION
    return float(brentq(miss, 1e-6, _LARGEST_REDUCTION, xtol=1e-12))


def ironed_height(height: float, before: float, after: float) -> float:
    """Height of a wall after ironing [mm].

    Parameters
    ----------
    height : of the same material before [mm]
    before, after : wall thickness [mm], or for thick walls section area [mm2]

    Source: constant volume, ``h0 t0/t1``.
    """
    require_positive(height=height, before=before, after=after)
    return height * before / after


def exit_speed_ratio(before: float, after: float) -> float:
    """Speed of the wall behind a ring over that before it [-].

    Parameters
    ----------
    before, after : wall thickness [mm], or for thick walls section area [mm2]

    Source: constant volume in steady ironing, exact.
    """
    require_positive(before=before, after=after)
    return before / after


def equal_reduction(before: float, after: float, rings: int) -> float:
    """Reduction of each of several rings that share a total evenly [-].

    Parameters
    ----------
    before, after : wall thickness before the first and behind the last ring [mm]
    rings : number of rings

    Source: geometry, ``1 - (after/before)**(1/rings)``.
    """
    require(rings >= 1, "at least one ring is meant")
    reduction(before, after)
    return -expm1(log(after / before) / rings)


def _friction_sum(
    share: float, entry_angle: float, ring_friction: float, punch_friction: float
) -> float:
    angle = _checked_angle(entry_angle)
    _check_share(share)
    require(ring_friction >= 0.0 and punch_friction >= 0.0, "friction must not be negative")
    total = (ring_friction - punch_friction) / tan(angle)
    require(total > -1.0, "the friction of the punch alone would pull the wall through the ring")
    return total


def _check_share(share: float) -> None:
    require(
        0.0 <= share <= _LARGEST_REDUCTION,
        f"the reduction of a ring lies from 0 to {_LARGEST_REDUCTION:g}, is {share:g}",
    )


def _checked_angle(entry_angle: float) -> float:
    require(
        _LEAST_ANGLE <= entry_angle <= _LARGEST_ANGLE,
        f"the entry angle lies from {_LEAST_ANGLE:g} to {_LARGEST_ANGLE:g} degrees,"
        f" is {entry_angle:g}",
    )
    return radians(entry_angle)
