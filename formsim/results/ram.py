"""Motion of the press: when the ram is where, how fast it is there, and a stage against time.

Time is zero at the bottom and negative on the way down; speed is positive downwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
import numpy.typing as npt

from formsim.arrays import Floats
from formsim.case.press import RamMotion
from formsim.results.theory.limits import require


@dataclass(frozen=True)
class Ram:
    """The ram at some moments, all of one shape.

    Attributes
    ----------
    time : since the bottom [s]
    height : above the bottom [mm]
    speed : downwards [mm/s]
    acceleration : downwards, negative where the ram slows down [mm/s2]
    """

    time: Floats
    height: Floats
    speed: Floats
    acceleration: Floats


def period(press: RamMotion) -> float:
    """Time of one whole turn, down and up [s]."""
    return 60.0 / press.strokes_per_minute


def ram_at(press: RamMotion, time: npt.ArrayLike) -> Ram:
    """The ram at given times.

    Parameters
    ----------
    press : law of the ram
    time : since the bottom, any shape [s]

    Source: kinematics. Harmonic ``h = a (1 - cos w t)``, a half the stroke; crank with rod l
    ``h = a (1 - cos w t) + l - sqrt(l**2 - a**2 sin(w t)**2)``.
    """
    at = np.asarray(time, dtype=np.float64)
    turn = 2.0 * pi / period(press)
    lift, slope, bend = _lift(press, turn * at)
    return Ram(at, lift, -turn * slope, -(turn**2) * bend)


def ram_above(press: RamMotion, height: npt.ArrayLike) -> Ram:
    """The ram on its way down at given heights above the bottom.

    Parameters
    ----------
    press : law of the ram
    height : above the bottom, from 0 to the stroke, any shape [mm]

    Source: ``ram_at`` solved for the time in closed form (law of cosines at the crank).
    """
    h = np.asarray(height, dtype=np.float64)
    inside = bool(np.all((h >= 0.0) & (h <= press.stroke)))
    require(inside, f"the ram moves between 0 and {press.stroke:g} mm above its bottom")
    a = 0.5 * press.stroke
    cosine = 1.0 - h / a
    if press.rod_length is not None:
        reach = a + press.rod_length - h
        cosine = (reach**2 + a**2 - press.rod_length**2) / (2.0 * a * reach)
    angle = np.arccos(np.clip(cosine, -1.0, 1.0))
    return ram_at(press, -angle * period(press) / (2.0 * pi))


def stage_motion(
    press: RamMotion, stroke: npt.ArrayLike, end: float | None = None, end_height: float = 0.0
) -> Ram:
    """The ram at the strokes of a stage that the punch makes on its way down.

    Parameters
    ----------
    press : law of the ram
    stroke : of the stage, rising, (n) [mm]
    end : stroke of the stage at its end; the largest of ``stroke`` if not given [mm]
    end_height : of the ram above its bottom at the end of the stage [mm]

    Returns
    -------
    The ram, (n) each; ``time`` and ``speed`` stand beside the forces and strains of the rows.
    """
    way = np.asarray(stroke, dtype=np.float64)
    last = float(way.max()) if end is None else end
    return ram_above(press, end_height + np.maximum(last - way, 0.0))


def rates(time: npt.ArrayLike, values: npt.ArrayLike) -> Floats:
    """Rates of change of rows of values, such as strains [1/s].

    Parameters
    ----------
    time : of the rows, rising, (n), at least two [s]
    values : (n, ...) [any unit]

    Returns
    -------
    Rates, (n, ...) [that unit per s]; second order inside, first order at both ends.
    """
    at, rows = (np.asarray(one, dtype=np.float64) for one in (time, values))
    require(at.size > 1 and bool(np.all(np.diff(at) > 0.0)), "two or more rising times are meant")
    return np.asarray(np.gradient(rows, at, axis=0))


def peak_speed(press: RamMotion) -> float:
    """Largest speed of the ram [mm/s], good to 1e-6."""
    return float(np.abs(_whole_way(press).speed).max())


def peak_acceleration(press: RamMotion) -> float:
    """Largest acceleration of the ram [mm/s2], good to 1e-6."""
    return float(np.abs(_whole_way(press).acceleration).max())


def harmonic_press(speed: float, acceleration: float) -> RamMotion:
    """Harmonic law with a given peak speed and peak acceleration.

    Parameters
    ----------
    speed : largest [mm/s]
    acceleration : largest [mm/s2]

    Source: kinematics; with half stroke a and angular speed w these are ``a w`` and ``a w**2``.
    """
    require(speed > 0.0 and acceleration > 0.0, "speed and acceleration must be above zero")
    turn = acceleration / speed
    return RamMotion(
        motion="harmonic", stroke=2.0 * speed / turn, strokes_per_minute=60.0 * turn / (2.0 * pi)
    )


def _whole_way(press: RamMotion) -> Ram:
    return ram_at(press, np.linspace(-0.5, 0.0, 4001) * period(press))


def _lift(press: RamMotion, angle: Floats) -> tuple[Floats, Floats, Floats]:
    """Height above the bottom and its first two derivatives by the angle of the crank."""
    a, sine, cosine = 0.5 * press.stroke, np.sin(angle), np.cos(angle)
    lift, slope, bend = a * (1.0 - cosine), a * sine, a * cosine
    if press.rod_length is None:
        return lift, slope, bend
    rod = press.rod_length
    root = np.sqrt(rod**2 - (a * sine) ** 2)
    pull = a**2 * sine * cosine / root
    bow = (a**2 * (cosine**2 - sine**2) + pull**2) / root
    return lift + rod - root, slope + pull, bend + bow
