"""Mesh lines of a strip, and places and values carried over from one strip to another."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.solver.body import Body
from formsim.solver.numbering import Columns
from formsim.solver.part import columns_of


class Spot(NamedTuple):
    """A place in a strip: column and layer, and where in that element from -1 to 1."""

    column: int
    layer: int
    xi: float
    eta: float


def corner_lines(body: Body) -> Floats:
    """Reference corners on every line from the lower to the upper face, as ``strip_of`` wants them.

    Shape (n_lines, layers + 1, 2) [mm].
    """
    columns = columns_of(body)
    first = columns.lines[:, None]
    corners: Floats = body.nodes[first + 2 * np.arange(columns.layers + 1)]
    return corners


def element_nodes(columns: Columns, column: int, layer: int) -> Ints:
    """Four corners of an element, then the middles of its lower, outer, upper and inner side."""
    low = column * columns.stride + 2 * layer
    high = low + columns.stride
    side = column * columns.stride + columns.line_nodes + layer
    return np.array([low, high, high + 2, low + 2, side, high + 1, side + 1, low + 1])


def spread_at(xi: float, eta: float) -> Floats:
    """Shape functions at a place in an element, in the order of ``element_nodes``, (8) [-]."""
    x, y = np.array([-1.0, 1.0, 1.0, -1.0]), np.array([-1.0, -1.0, 1.0, 1.0])
    corners = 0.25 * (1 + x * xi) * (1 + y * eta) * (x * xi + y * eta - 1)
    flat, steep = 0.5 * (1 - xi**2), 0.5 * (1 - eta**2)
    sides = [flat * (1 - eta), steep * (1 + xi), flat * (1 + eta), steep * (1 - xi)]
    return np.concatenate([corners, sides])


def value_at(columns: Columns, values: Floats, spot: Spot) -> Floats:
    """Nodal values (n_nodes, n) at a place, (n)."""
    nodes = element_nodes(columns, spot.column, spot.layer)
    value: Floats = spread_at(spot.xi, spot.eta) @ values[nodes]
    return value


def find(body: Body, place: Floats, layer: int, among: range) -> Spot:
    """Where a reference place lies in a layer of a strip, in the nearest of some columns."""
    columns = columns_of(body)
    spots = [
        Spot(c, layer, *_inside(body.nodes[element_nodes(columns, c, layer)[:4]], place))
        for c in among
    ]
    return min(spots, key=lambda spot: max(abs(spot.xi), 1.0))


def _inside(corners: Floats, place: Floats) -> tuple[float, float]:
    """Local coordinates of a place in a bilinear element."""
    x, y = np.array([-1.0, 1.0, 1.0, -1.0]), np.array([-1.0, -1.0, 1.0, 1.0])
    local = np.zeros(2)
    for _ in range(20):
        a, b = 1 + x * local[0], 1 + y * local[1]
        miss = 0.25 * (a * b) @ corners - place
        slope = 0.25 * np.stack([(x * b) @ corners, (y * a) @ corners], axis=1)
        step = np.linalg.solve(slope, miss)
        local -= step
        if float(np.abs(step).max()) < 1e-13:
            break
    return float(local[0]), float(local[1])


def point_places(body: Body) -> Floats:
    """Reference positions of the integration points, (n_el, n_q, 2) [mm]."""
    places: Floats = np.einsum("qa,eac->eqc", body.shape, body.nodes[body.elements])
    return places


def same_points(old: Floats, new: Floats) -> Ints:
    """For each point of an element the old one that lies where it lies, (n_el, n_q).

    Elements of a mesher may begin to count their points at another corner.
    """
    apart = np.linalg.norm(new[:, :, None] - old[:, None, :], axis=-1)
    nearest: Ints = apart.argmin(axis=2)
    return nearest
