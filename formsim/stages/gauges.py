"""What is read off a body under load at every increment: growth of its base, volume, strain."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from formsim.arrays import Floats
from formsim.solver.body import Body
from formsim.solver.state import State
from formsim.stages.plan import Gauge
from formsim.stages.wall import seam_begin

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(3)
_SHAPE = np.stack([0.5 * _POINTS * (_POINTS - 1), 1 - _POINTS**2, 0.5 * _POINTS * (_POINTS + 1)])
_SLOPE = np.stack([_POINTS - 0.5, -2.0 * _POINTS, _POINTS + 0.5])


def strength_gauges(body: Body, start: State) -> Mapping[str, Gauge]:
    """Gauges of a body that is pressed from inside or from above.

    ``centre_growth`` and ``nose_growth``: how much further the centre of the base and its lowest
    point lie below the rim than at the start [mm]; ``volume``: what the inside holds more than
    then [mm3]; ``wall_radius``: largest outside radius below a flange [mm]; ``plastic_strain``:
    largest increase of the equivalent plastic strain [-].
    """
    outside = body.edge_nodes("bottom")
    outside = outside[outside < seam_begin(body, start)]
    centre, nose, volume = _below_rim(body, start), _nose(body, start), held_volume(body, start)
    return {
        "centre_growth": lambda state: _below_rim(body, state) - centre,
        "nose_growth": lambda state: _nose(body, state) - nose,
        "volume": lambda state: held_volume(body, state) - volume,
        "wall_radius": lambda state: float(state.places(body)[outside, 0].max()),
        "plastic_strain": lambda state: float((state.strain - start.strain).max()),
    }


def held_volume(body: Body, state: State) -> float:
    """Volume between the upper face and the level of its edge at the rim [mm3].

    ``integral pi r^2 dz`` along the face, exact for its quadratic edges.
    """
    points: Floats = state.places(body)[body.faces["top"].nodes]
    r, dz = points[..., 0] @ _SHAPE, points[..., 1] @ _SLOPE
    return float((np.pi * r**2 * dz @ _WEIGHTS).sum())


def _rim_height(body: Body, state: State) -> float:
    return float(state.places(body)[body.edge_nodes("rim"), 1].mean())


def _below_rim(body: Body, state: State) -> float:
    """Depth of the centre of the base below the rim [mm]."""
    return _rim_height(body, state) - float(state.places(body)[body.axis_nodes(), 1].mean())


def _nose(body: Body, state: State) -> float:
    """Depth of the lowest point below the rim [mm]."""
    return _rim_height(body, state) - float(state.places(body)[:, 1].min())
