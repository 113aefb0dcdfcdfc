"""Where the letter of a curve stands among other curves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from formsim.arrays import Floats

POINTS = 90
"""Places of a curve that are looked at, evenly along it."""

FAR = 0.06
"""Distance from other curves and letters beyond which more is no better, share of the diagram."""

ENDS = 0.04
"""Share of a curve at each end where no letter stands."""


def letter_places(curves: Sequence[Floats]) -> list[Floats]:
    """A place on every curve far from the other curves and from the other letters.

    Parameters
    ----------
    curves : points of each, (n, 2)

    Returns
    -------
    Places, (2) each, in the order of the curves.
    """
    every = np.concatenate(list(curves))
    low, size = every.min(axis=0), np.maximum(np.ptp(every, axis=0), 1e-12)
    evened = [_even((curve - low) / size) for curve in curves]
    placed: list[Floats] = []
    for k, points in enumerate(evened):
        others = [other for j, other in enumerate(evened) if j != k]
        first = int(ENDS * POINTS)
        inner = points[first : POINTS - first]
        worth = _reach(inner, others) + _reach(inner, [np.array(placed)] if placed else [])
        placed.append(inner[int(worth.argmax())])
    return [low + size * place for place in placed]


def _reach(points: Floats, others: Sequence[Floats]) -> Floats:
    """Distance of every point to the nearest of others, at most ``FAR``, (n)."""
    if not others:
        return np.full(len(points), FAR)
    away = points[:, None] - np.concatenate(list(others))[None]
    near: Floats = np.minimum(np.hypot(away[..., 0], away[..., 1]).min(axis=1), FAR)
    return near


def _even(curve: Floats) -> Floats:
    """Points evenly along a curve, (POINTS, 2)."""
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(curve, axis=0).T))])
    at = np.linspace(0.0, way[-1], POINTS)
    return np.stack([np.interp(at, way, curve[:, 0]), np.interp(at, way, curve[:, 1])], axis=1)
