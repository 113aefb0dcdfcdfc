"""Ears of a drawn cup from the r-values round the sheet: the ring model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from formsim.arrays import Floats
from formsim.results.theory.limits import require, require_positive

SMALLEST = 0.02
"""Rise of the rim, over the height of the ears, that does not count as an ear."""


@dataclass(frozen=True)
class Ears:
    """Rim of a cup by the ring model, over a quarter of the circle; the rest mirrors it.

    Attributes
    ----------
    angles : to the rolling direction, from 0 to 90 (n) [deg]
    r : r-values there (n) [-]
    heights : of the rim over its lowest place (n) [mm]
    count : ears round the circle
    height : of the rim at the ears over its lowest place [mm]
    below_mean : how far the lowest place lies below the mean of the rim [mm]
    area : of the flat blank that becomes rim above the lowest place [mm2]
    """

    angles: Floats
    r: Floats
    heights: Floats
    count: int
    height: float
    below_mean: float
    area: float


def r_round(by_angle: Sequence[tuple[float, float]], angles: Floats) -> Floats:
    """r-values at any angle from those at some, alike on both sides of 0 and 90 degrees [-].

    Parameters
    ----------
    by_angle : angles from 0 to 90 degrees and their r-values, at least two
    angles : where they are asked for, 0 to 90, (n) [deg]

    A monotone cubic through them, so that it stays between its neighbours; a wave of cosines
    through three values may fall below zero.
    """
    given, values = (np.array(column, dtype=np.float64) for column in zip(*by_angle, strict=True))
    require(len(given) >= 2, "r-values at two angles at least")
    mirrored = np.concatenate([-given[:0:-1], given, 180.0 - given[-2::-1]])
    return np.asarray(
        PchipInterpolator(mirrored, np.concatenate([values[:0:-1], values, values[-2::-1]]))(angles)
    )


def rim_height(r: Floats, blank_radius: float, wall_radius: float) -> Floats:
    """Length of wall that a radius of the blank becomes, where the hoop has these r-values [mm].

    Parameters
    ----------
    r : r-value of the sheet along the hoop, any shape [-]
    blank_radius : outer radius of the blank [mm]
    wall_radius : radius of the middle of the wall [mm]

    A ring at the radius R is compressed along the hoop by ln(wall_radius/R) in uniaxial stress, so
    it grows in length by the share ``q = r/(1 + r)`` of that strain; summed up from the wall to the
    rim: ``wall_radius/(q + 1) [(blank_radius/wall_radius)**(q + 1) - 1]``.
    Valid for draw ratios up to about 2.2; stretching, bending and ironing are left out.
    Source: own derivation; the idea that ears follow from the r-value along the hoop is that of
    J. W. Yoon, R. E. Dick and F. Barlat, Int. J. Plasticity 27, 2011.
    """
    require_positive(blank_radius=blank_radius, wall_radius=wall_radius)
    require(blank_radius > wall_radius, "the blank must be wider than the cup")
    power = r / (1.0 + r) + 1.0
    return np.asarray(wall_radius / power * ((blank_radius / wall_radius) ** power - 1.0))


def ears(by_angle: Sequence[tuple[float, float]], blank_radius: float, wall_radius: float) -> Ears:
    """Ears of a cup drawn from a round blank.

    Parameters
    ----------
    by_angle : angles from 0 to 90 degrees to the rolling direction and their r-values
    blank_radius : outer radius of the blank [mm]
    wall_radius : radius of the middle of the wall [mm]

    Source: ``rim_height``; the hoop at an angle lies at right angles to it, so it has the r-value
    of the angle 90 degrees on.
    """
    angles = np.linspace(0.0, 90.0, 181)
    r = r_round(by_angle, angles)
    require(bool(r.min() > 0.0), "r-values above zero all round")
    hoop = r[::-1]
    rim = rim_height(hoop, blank_radius, wall_radius)
    lowest = float(rim.min())
    power = hoop / (1.0 + hoop) + 1.0
    # Radius in the blank of what ends up level with the lowest place.
    level = wall_radius * (1.0 + lowest * power / wall_radius) ** (1.0 / power)
    area = np.pi * max(0.0, _mean(blank_radius**2 - level**2))
    heights = rim - lowest
    return Ears(
        angles=angles,
        r=r,
        heights=heights,
        count=_count(heights),
        height=float(heights.max()),
        below_mean=_mean(heights),
        area=area,
    )


def _mean(values: Floats) -> float:
    """Mean over a quarter of the circle."""
    return float(np.sum(0.5 * (values[1:] + values[:-1])) / (len(values) - 1))


def _count(heights: Floats) -> int:
    """Ears round the circle: two for one at 0 or 90 degrees, four for one between."""
    least = SMALLEST * float(heights.max())
    if heights.max() <= 1e-9:
        return 0
    count, rising, turn, last = 0, heights[1] >= heights[0], float(heights[0]), 0
    if not rising:
        count += 2
    for k, height in enumerate(heights.tolist()):
        if rising and height > turn or not rising and height < turn:
            turn, last = height, k
        elif abs(height - turn) > least:
            count += 4 if rising and 0 < last < len(heights) - 1 else 0
            rising, turn, last = not rising, height, k
    return count + (2 if rising else 0)
