"""Signed distance from a point to a tool outline, for compiled kernels."""

from __future__ import annotations

import math

import numpy as np

from formsim.arrays import Floats
from formsim.geometry.outline import Outline
from formsim.kernels import kernel


@kernel
def closest(pieces: Floats, first: int, last: int, r: float, z: float, out: Floats) -> bool:
    """Closest point of the pieces ``first .. last - 1`` to ``(r, z)``.

    Fills ``out`` with gap (positive outside the tool), outward normal (2), tangent (2) along the
    chain, and curvature of the offset line through the point; false where nothing projects.
    """
    best = 1e30
    for i in range(first, last):
        if pieces[i, 0] == 0.0:
            dr = r - pieces[i, 1]
            dz = z - pieces[i, 2]
            tr = pieces[i, 5]
            tz = pieces[i, 6]
            along = dr * tr + dz * tz
            if along < -1e-9 or along > pieces[i, 7] + 1e-9:
                continue
            gap = -dr * tz + dz * tr
            if abs(gap) < abs(best):
                best = gap
                out[0] = gap
                out[1] = -tz
                out[2] = tr
                out[3] = tr
                out[4] = tz
                out[5] = 0.0
        else:
            dr = r - pieces[i, 1]
            dz = z - pieces[i, 2]
            d = math.sqrt(dr * dr + dz * dz)
            if d < 1e-12:
                continue
            er = dr / d
            ez = dz / d
            if er * pieces[i, 5] + ez * pieces[i, 6] < pieces[i, 7]:
                continue
            sign = pieces[i, 4]
            gap = sign * (d - pieces[i, 3])
            if abs(gap) < abs(best):
                best = gap
                out[0] = gap
                out[1] = sign * er
                out[2] = sign * ez
                out[3] = sign * ez
                out[4] = -sign * er
                out[5] = sign / d
    return best < 1e30


@kernel
def _gaps(pieces: Floats, points: Floats, out: Floats) -> None:
    row = np.zeros(6)
    for i in range(points.shape[0]):
        found = closest(pieces, 0, pieces.shape[0], points[i, 0], points[i, 1], row)
        out[i] = row[0] if found else np.inf


@kernel
def least_gap(pieces: Floats, places: Floats, r: float, z: float, behind: float) -> float:
    """Smallest signed distance to an outline beyond ``behind``, infinite where there is none [mm].

    Parameters
    ----------
    pieces : of the outline
    places : (n, 2) [mm], all moved by ``r`` and ``z``
    """
    row, least = np.zeros(6), np.inf
    for i in range(places.shape[0]):
        found = closest(pieces, 0, pieces.shape[0], places[i, 0] + r, places[i, 1] + z, row)
        if found and behind < row[0] < least:
            least = row[0]
    return least


def gaps(outline: Outline, points: Floats) -> Floats:
    """Signed distance of points to an outline.

    Parameters
    ----------
    points : (n, 2) [mm]

    Returns
    -------
    Gap, positive in free space, infinite where nothing projects, (n,) [mm].
    """
    out = np.empty(len(points))
    _gaps(outline.pieces, np.ascontiguousarray(points, dtype=float), out)
    return out
