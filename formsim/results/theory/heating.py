"""Fast forming: strain rate in a ring, and heat that stays in the wall."""

from __future__ import annotations

from math import radians, tan

from formsim.material.heat import TAYLOR_QUINNEY
from formsim.material.heat import temperature_rise as free_rise
from formsim.results.theory.ironing import ironing_strain, reduction
from formsim.results.theory.limits import require, require_positive


def transit_time(before: float, after: float, entry_angle: float, punch_speed: float) -> float:
    """Time a piece of wall needs through the cone of a ring [s].

    Parameters
    ----------
    before, after : wall thickness before and behind the ring [mm]
    entry_angle : of the entry cone to the axis, 2 to 20 [deg]
    punch_speed : of punch and wall behind the ring [mm/s]

    Source: constant volume, plane sections: ``(t0**2 - t1**2)/(2 t1 v tan(angle))``.
    """
    reduction(before, after)
    require_positive(punch_speed=punch_speed)
    require(2.0 <= entry_angle <= 20.0, f"the angle lies from 2 to 20 degrees, is {entry_angle:g}")
    return (before**2 - after**2) / (2.0 * after * punch_speed * tan(radians(entry_angle)))


def ring_strain_rate(
    before: float, after: float, entry_angle: float, punch_speed: float, r_bar: float = 1.0
) -> float:
    """Mean equivalent strain rate of the wall inside a ring [1/s].

    Parameters
    ----------
    before, after : wall thickness before and behind the ring [mm]
    entry_angle : of the entry cone to the axis, 2 to 20 [deg]
    punch_speed : of punch and wall behind the ring [mm/s]
    r_bar : mean r-value [-]

    Source: ``ironing_strain`` over ``transit_time``.
    """
    require(after < before, "the ring must take something off the wall")
    time = transit_time(before, after, entry_angle, punch_speed)
    return ironing_strain(reduction(before, after), r_bar) / time


def temperature_rise(
    work_density: float, density: float, heat_capacity: float, share: float = TAYLOR_QUINNEY
) -> float:
    """Rise of temperature when no heat leaves the wall [K], see ``material.heat``.

    Raises
    ------
    TheoryRangeError : work, density, heat capacity or share out of range
    """
    require_positive(density=density, heat_capacity=heat_capacity)
    require(work_density >= 0.0, "plastic work is not negative")
    require(0.0 <= share <= 1.0, f"the share of heat lies from 0 to 1, is {share:g}")
    return free_rise(work_density, density, heat_capacity, share)
