"""Lines along the sheet, piecewise quadratic as the elements are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.errors import MeshError
from formsim.solver.body import Body
from formsim.solver.numbering import Columns
from formsim.solver.state import State

GAUSS = 0.5 + np.array([-0.5, 0.0, 0.5]) * np.sqrt(0.6)
GAUSS_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 18.0


@dataclass(frozen=True)
class Curve:
    """Quadratic pieces from the centre to the rim, one per element column.

    Attributes
    ----------
    knots : ends of the pieces, on the lines between columns, (n_lines, 2) [mm]
    middles : their middles, (n_columns, 2) [mm]
    """

    knots: Floats
    middles: Floats

    def at(self, place: Floats) -> Floats:
        """Points at column numbers with fraction, (n) -> (n, 2) [mm]."""
        piece, x = self._split(place)
        a, m, b = self.knots[piece], self.middles[piece], self.knots[piece + 1]
        points: Floats = (1 - x) * (1 - 2 * x) * a + 4 * x * (1 - x) * m + x * (2 * x - 1) * b
        return points

    def rate(self, place: Floats) -> Floats:
        """Derivative of the points by the column number, (n) -> (n, 2) [mm]."""
        piece, x = self._split(place)
        a, m, b = self.knots[piece], self.middles[piece], self.knots[piece + 1]
        rates: Floats = (4 * x - 3) * a + 4 * (1 - 2 * x) * m + (4 * x - 1) * b
        return rates

    def _split(self, place: Floats) -> tuple[Ints, Floats]:
        piece = np.clip(np.floor(place).astype(np.int64), 0, len(self.middles) - 1)
        return piece, (place - piece)[:, None]

    def samples(self) -> tuple[Floats, Floats, Floats]:
        """Gauss points of the pieces: points, rates (n_columns, 3, 2) [mm], weights (3) [-]."""
        place = (np.arange(len(self.middles))[:, None] + GAUSS).ravel()
        shape = (len(self.middles), 3, 2)
        return self.at(place).reshape(shape), self.rate(place).reshape(shape), GAUSS_WEIGHTS

    def lengths(self) -> Floats:
        """Length of each piece, (n_columns) [mm]."""
        _, rates, weights = self.samples()
        length: Floats = np.hypot(rates[..., 0], rates[..., 1]) @ weights
        return length

    def areas(self) -> Floats:
        """Area each piece sweeps round the axis, (n_columns) [mm2]."""
        points, rates, weights = self.samples()
        swept = 2 * np.pi * points[..., 0] * np.hypot(rates[..., 0], rates[..., 1])
        area: Floats = swept @ weights
        return area

    def arc_length(self) -> Floats:
        """Length from the first knot to each knot, (n_lines) [mm]."""
        return np.concatenate([[0.0], np.cumsum(self.lengths())])

    def tangents(self) -> Floats:
        """Unit tangents at the knots, (n_lines, 2) [-]; radial at a knot on the axis."""
        ahead, behind = self._end_tangents(0.0), self._end_tangents(1.0)
        length = self.lengths()[:, None]
        share = length[1:] / (length[1:] + length[:-1])
        inner = share * behind[:-1] + (1 - share) * ahead[1:]
        tangents = np.concatenate([ahead[:1], inner, behind[-1:]])
        if abs(self.knots[0, 0]) < 1e-9 * np.abs(self.knots).max():
            tangents[0] = [1.0, 0.0]
        unit: Floats = tangents / np.hypot(tangents[:, 0], tangents[:, 1])[:, None]
        return unit

    def _end_tangents(self, end: float) -> Floats:
        a, m, b = self.knots[:-1], self.middles, self.knots[1:]
        rates = (4 * end - 3) * a + 4 * (1 - 2 * end) * m + (4 * end - 1) * b
        unit: Floats = rates / np.hypot(rates[:, 0], rates[:, 1])[:, None]
        return unit


def strip(body: Body) -> Columns:
    """Column structure of a body.

    Raises
    ------
    MeshError : the mesh is no strip of columns
    """
    if body.columns is None:
        message = "the mesh has no columns, so nothing can be measured along the sheet"
        raise MeshError(message, hint="mesh the blank as a strip with the edges centre and bottom")
    return body.columns


def starts_flat(body: Body) -> bool:
    """Whether the body was a flat blank before its first stage."""
    return not body.along[:, 1].any()


def start_way(body: Body) -> Floats:
    """Place of every line along the sheet before the first stage, rising, (n_lines) [mm].

    The radius in a flat blank; from the axis of a cup or the lower end of a tube.
    """
    middle = middle_line(body, body.nodes)
    way: Floats = middle.knots[:, 0] if starts_flat(body) else middle.arc_length()
    return way


def between_lines(values: Floats) -> Floats:
    """Values at the middles of the columns from those at the lines."""
    middles: Floats = 0.5 * (values[1:] + values[:-1])
    return middles


def way_name(body: Body) -> str:
    """What ``start_way`` is, for the axis of a figure."""
    return f"{way_words(flat=starts_flat(body))} [mm]"


def way_words(*, flat: bool) -> str:
    """What the way along a sheet is, in words."""
    return "radius in the flat blank" if flat else "way along the sheet before the first stage"


def bottom_line(body: Body, places: Floats) -> Curve:
    """Lower face, the outside of a cup; ``places`` (n_nodes, 2) [mm]."""
    return level(strip(body), places, 0)


def middle_line(body: Body, places: Floats) -> Curve:
    """Material middle of the sheet; ``places`` (n_nodes, 2) [mm]."""
    return level(strip(body), places, strip(body).layers)


def top_line(body: Body, places: Floats) -> Curve:
    """Upper face, the inside of a cup; ``places`` (n_nodes, 2) [mm]."""
    return level(strip(body), places, 2 * strip(body).layers)


def face_lines(body: Body, state: State) -> tuple[Curve, Curve, Curve]:
    """Current bottom, middle and top line."""
    places = state.places(body)
    return bottom_line(body, places), middle_line(body, places), top_line(body, places)


def level(columns: Columns, places: Floats, half: int) -> Curve:
    """Line through node ``half`` of every node line across the thickness, from the bottom."""
    line = columns.lines
    between = line[:-1] + columns.line_nodes
    knots = places[line + half]
    if half % 2 == 0:
        return Curve(knots, places[between + half // 2])
    corners = _both_lines(places, line, half - 1) + _both_lines(places, line, half + 1)
    sides = _both_lines(places, line, half)
    sides = sides + places[between + (half - 1) // 2] + places[between + (half + 1) // 2]
    return Curve(knots, 0.5 * sides - 0.25 * corners)


def _both_lines(places: Floats, line: Ints, node: int) -> Floats:
    """Sum of one node of the lines on both sides of each column, (n_columns, 2) [mm]."""
    total: Floats = places[line[:-1] + node] + places[line[1:] + node]
    return total
