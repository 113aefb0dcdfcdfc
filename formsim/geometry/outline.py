"""Tool outlines: chains of lines and arcs in the (r, z) half plane, free space on their left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.errors import GeometryError

Point = tuple[float, float]

LINE, ARC = 0.0, 1.0
CONVEX, CONCAVE = 1.0, -1.0
_ANGLE_SLACK = 1e-12


@dataclass(frozen=True)
class Outline:
    """A tool surface the sheet may touch.

    Walking along the chain, the free space lies on the left. Rows of ``pieces`` are

    - line: ``[0, r0, z0, r1, z1, tr, tz, length]``, unit tangent ``(tr, tz)``;
    - arc: ``[1, rc, zc, radius, sign, mr, mz, cos_half]``, unit vector ``(mr, mz)`` from the centre
      to the middle of the arc, ``sign`` +1 where the tool is convex, -1 where it is concave.

    Attributes
    ----------
    pieces : (n_pieces, 8) [mm]
    """

    pieces: Floats

    def moved(self, dr: float, dz: float) -> Outline:
        """Copy shifted by ``(dr, dz)`` [mm]."""
        pieces = self.pieces.copy()
        pieces[:, 1] += dr
        pieces[:, 2] += dz
        lines = pieces[:, 0] == LINE
        pieces[lines, 3] += dr
        pieces[lines, 4] += dz
        return Outline(pieces)

    def mirrored(self) -> Outline:
        """Copy turned upside down, ``z`` to ``-z``; the walk is reversed to keep its free side."""
        pieces = self.pieces[::-1].copy()
        lines = pieces[:, 0] == LINE
        pieces[lines] = pieces[lines][:, [0, 3, 4, 1, 2, 5, 6, 7]] * [1, 1, -1, 1, -1, -1, 1, 1]
        pieces[~lines] *= [1, 1, -1, 1, 1, 1, -1, 1]
        return Outline(pieces)

    def points(self, per_arc: int = 24) -> Floats:
        """Polyline through the chain for drawing it, (n_points, 2) [mm]."""
        parts = [_trace(piece, per_arc) for piece in self.pieces]
        return np.concatenate(parts)


def _trace(piece: Floats, per_arc: int) -> Floats:
    if piece[0] == LINE:
        return piece[1:5].reshape(2, 2)
    middle = np.arctan2(piece[6], piece[5])
    half = np.arccos(min(1.0, piece[7] + _ANGLE_SLACK)) * piece[4]
    angles = np.linspace(middle + half, middle - half, per_arc)
    return np.stack(
        [piece[1] + piece[3] * np.cos(angles), piece[2] + piece[3] * np.sin(angles)], axis=1
    )


def line(start: Point, end: Point) -> Floats:
    """Straight piece, free space on the left of ``start -> end``."""
    step = np.subtract(end, start)
    length = float(np.hypot(*step))
    if length <= 0.0:
        message = f"a line of no length at r = {start[0]:g}, z = {start[1]:g} mm"
        raise GeometryError(message, hint="check the dimensions of the tool")
    return np.array([LINE, *start, *end, *(step / length), length])


def arc(centre: Point, radius: float, sign: float, first: float, last: float) -> Floats:
    """Round piece between two angles [rad]; ``sign`` is ``CONVEX`` or ``CONCAVE``."""
    middle, half = 0.5 * (first + last), 0.5 * abs(last - first)
    cos_half = np.cos(half) - _ANGLE_SLACK
    return np.array([ARC, *centre, radius, sign, np.cos(middle), np.sin(middle), cos_half])


def chain(points: Sequence[Point], radii: Sequence[float]) -> Outline:
    """Polyline with a fillet at every inner corner.

    Parameters
    ----------
    points : corners before rounding, free space on the left, (n >= 2) [mm]
    radii : fillet radius at each inner corner, (n - 2), all positive [mm]

    Raises
    ------
    GeometryError : a fillet is longer than the straight part beside it
    """
    corners = np.asarray(points, dtype=float)
    pieces: list[Floats] = []
    start = corners[0]
    for k in range(1, len(corners) - 1):
        before, after = _unit(corners[k] - corners[k - 1]), _unit(corners[k + 1] - corners[k])
        turn = before[0] * after[1] - before[1] * after[0]
        angle = np.arccos(np.clip(before @ after, -1.0, 1.0))
        setback = radii[k - 1] * np.tan(angle / 2)
        enter, leave = corners[k] - before * setback, corners[k] + after * setback
        room = (enter - start) @ before
        if room < -1e-9:
            message = (
                f"the radius {radii[k - 1]:g} mm at r = {corners[k][0]:g}, z = {corners[k][1]:g} mm"
                f" needs {setback:.3g} mm of straight beside it and finds {setback + room:.3g} mm"
            )
            raise GeometryError(message, hint="make the radius smaller or the tool larger")
        if room > 1e-9:
            pieces.append(line(_pair(start), _pair(enter)))
        pieces.append(_fillet(enter, leave, before, turn, radii[k - 1]))
        start = leave
    pieces.append(line(_pair(start), _pair(corners[-1])))
    return Outline(np.array(pieces))


def _fillet(
    enter: Floats,
    leave: Floats,
    before: Floats,
    turn: float,
    radius: float,
) -> Floats:
    side = np.array([-before[1], before[0]]) * (1.0 if turn > 0 else -1.0)
    centre = enter + side * radius
    first, last = enter - centre, leave - centre
    middle = _unit(0.5 * (first + last))
    cos_half = float(middle @ first) / radius - _ANGLE_SLACK
    sign = CONCAVE if turn > 0 else CONVEX
    return np.array([ARC, *centre, radius, sign, *middle, cos_half])


def _unit(vector: Floats) -> Floats:
    unit: Floats = vector / np.hypot(*vector)
    return unit


def _pair(point: Floats) -> Point:
    return float(point[0]), float(point[1])
