"""A sheet that lies upside down, as after a reverse redraw, is turned over for the next stage."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.geometry.strip import strip_of
from formsim.solver.body import build_body
from formsim.solver.numbering import Columns
from formsim.solver.part import columns_of
from formsim.solver.state import between_stages
from formsim.stages.remesh import corner_lines, point_places, same_points
from formsim.stages.sheet import Sheet

MIRROR = np.array([1.0, -1.0])
SHEAR = 2
"""Place of the shear across the sheet in the plastic state; it is odd in the normal."""


def upright(sheet: Sheet) -> Sheet:
    """The sheet with its base below and its rim above: itself, or turned over."""
    return turned_over(sheet) if is_upside_down(sheet) else sheet


def is_upside_down(sheet: Sheet) -> bool:
    """Whether the sheet stands on its rim with its base above.

    A dome pressed higher than a low wall is not enough: then the body stands on its nose.
    """
    body, places = sheet.body, sheet.state.places(sheet.body)
    rim, centre = places[body.edge_nodes("rim"), 1], places[body.edge_nodes("centre"), 1]
    lowest = float(places[:, 1].min())
    thickness = float(np.hypot(*np.ptp(body.nodes[body.edge_nodes("centre")], axis=0)))
    return bool(rim.mean() < centre.mean() - thickness and rim.min() < lowest + thickness)


def turned_over(sheet: Sheet) -> Sheet:
    """The sheet seen from the other side: z changes its sign, the faces change places."""
    old, columns = sheet.body, columns_of(sheet.body)
    body = build_body(strip_of(corner_lines(old)[:, ::-1] * MIRROR))
    points = _layers_swapped(point_places(old), columns) * MIRROR
    same = same_points(points, point_places(body))

    def carried(values: Floats) -> Floats:
        if not values.size:
            return values
        return np.take_along_axis(_layers_swapped(values, columns), same[:, :, None], axis=1)

    plastic, damage, heat = map(
        carried, (sheet.state.plastic, sheet.state.damage, sheet.state.heat)
    )
    plastic[..., SHEAR] *= -1.0
    u = sheet.state.u.reshape(-1, 2)[_nodes_swapped(columns)] * MIRROR
    state = between_stages(u.ravel(), np.ascontiguousarray(plastic), damage, heat)
    return Sheet(body, sheet.material, state)


def _layers_swapped(values: np.ndarray, columns: Columns) -> np.ndarray:
    """Values of the elements with the layers of every column in the other order."""
    shape = (columns.count, columns.layers, *values.shape[1:])
    return values.reshape(shape)[:, ::-1].reshape(values.shape)


def _nodes_swapped(columns: Columns) -> Ints:
    """Node that comes to lie at each place, (n_nodes)."""
    line = np.arange(columns.line_nodes)[::-1]
    between = columns.line_nodes + np.arange(columns.layers + 1)[::-1]
    first = columns.stride * np.arange(columns.count)[:, None]
    inner = (first + np.concatenate([line, between])).ravel()
    return np.concatenate([inner, columns.stride * columns.count + line])
