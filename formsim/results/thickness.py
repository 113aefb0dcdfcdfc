"""Thickness along the sheet, along the material normal and true to volume."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.results.curve import (
    Curve,
    between_lines,
    face_lines,
    middle_line,
    start_way,
    strip,
)
from formsim.solver.body import Body
from formsim.solver.state import State

BESIDE = 0.02

KINK = 0.3
"""Normal thickness over that by volume, less 1, above which the middle of the sheet is kinked.

Finished runs of the shipped cases stay below 0.19, at the ragged rim of an ironed wall; torn ones
reach 0.45.
"""


@dataclass(frozen=True)
class ThicknessProfile:
    """Thickness from the centre to the rim.

    Attributes
    ----------
    original_radius : radius before the first stage, (n_lines) [mm]
    way : place along the sheet before the first stage, in a flat blank its radius, (n_lines) [mm]
    radius, z : current place of the middle of the sheet, (n_lines) [mm]
    arc_length : along the middle from the centre, (n_lines) [mm]
    slope : angle of the middle to the horizontal, upwards positive, (n_lines) [rad]
    thickness : along the normal of the middle, from face to face; where the middle is kinked, by
        volume of the thinner column beside, (n_lines) [mm]
    kinked : lines where the middle is kinked, so that its normal measures nothing, (n_lines)
    original_thickness : before the first stage, (n_lines) [mm]
    column_radius : radius of the middle of each column before the first stage, (n_columns) [mm]
    volume_thickness : volume of each column over the area of its middle, (n_columns) [mm]
    """

    original_radius: Floats
    way: Floats
    radius: Floats
    z: Floats
    arc_length: Floats
    slope: Floats
    thickness: Floats
    kinked: Bools
    original_thickness: Floats
    column_radius: Floats
    volume_thickness: Floats

    @property
    def thinning_percent(self) -> Floats:
        """Loss of thickness, thickening negative, (n_lines) [%]."""
        return 100.0 * (1.0 - self.thickness / self.original_thickness)

    @property
    def volume_thickness_at_lines(self) -> Floats:
        """Volume-true thickness carried over to the lines, (n_lines) [mm]."""
        return np.interp(self.way, between_lines(self.way), self.volume_thickness)


def thickness_profile(body: Body, state: State) -> ThicknessProfile:
    """Thickness of the sheet at every line between columns.

    The normal is that of the current middle of the sheet, and the distance runs from where it
    leaves one face to where it leaves the other: nodes of a sheared column are not opposite.
    Where it leaves through the end of the sheet the volume-true thickness stands instead; where
    the middle is kinked, as in a torn or folded sheet, that of the thinner column beside.
    """
    bottom, middle, top = face_lines(body, state)
    blank = middle_line(body, body.nodes)
    tangents = middle.tangents()
    upper, met_top = _reach(top, middle.knots, tangents)
    lower, met_bottom = _reach(bottom, middle.knots, tangents)
    volume_true = column_volumes(body, state) / middle.areas()
    way = start_way(body)
    at_lines = np.interp(way, between_lines(way), volume_true)
    normal = np.where(met_top & met_bottom, np.abs(upper - lower), at_lines)
    kinked: Bools = np.abs(normal / at_lines - 1.0) > KINK
    return ThicknessProfile(
        original_radius=blank.knots[:, 0],
        way=way,
        radius=middle.knots[:, 0],
        z=middle.knots[:, 1],
        arc_length=middle.arc_length(),
        slope=np.arctan2(tangents[:, 1], tangents[:, 0]),
        thickness=np.where(kinked, _thinner_beside(volume_true), normal),
        kinked=kinked,
        original_thickness=first_thickness(body),
        column_radius=blank.middles[:, 0],
        volume_thickness=volume_true,
    )


def _thinner_beside(columns: Floats) -> Floats:
    """The smaller value of the two columns beside every line, (n_columns) -> (n_lines)."""
    ends = np.concatenate([columns[:1], columns, columns[-1:]])
    smaller: Floats = np.minimum(ends[1:], ends[:-1])
    return smaller


def column_volumes(body: Body, state: State) -> Floats:
    """Current volume of each column, (n_columns) [mm3]."""
    columns = strip(body)
    elements = (volume_ratio(body, state) * body.volume).sum(axis=1)
    volumes: Floats = elements.reshape(columns.count, columns.layers).sum(axis=1)
    return volumes


def plane_gradient(body: Body, state: State) -> tuple[Floats, Floats]:
    """Deformation gradient at the points.

    Returns
    -------
    In-plane part with rows r, z and columns along and across the sheet as it was at the start
    (R and Z of a flat blank), (2, 2, n_el, n_q) [-]; hoop stretch r/R, (n_el, n_q) [-].
    """
    u = state.u.reshape(-1, 2)[body.elements]
    plane = np.einsum("eac,eqda->cdeq", u, body.gradient)
    cos, sin = body.along.T[:, :, None]
    plane += np.array([[cos, -sin], [sin, cos]])
    hoop = 1.0 + np.einsum("ea,qa->eq", u[:, :, 0], body.shape) / body.radius
    return plane, hoop


def volume_ratio(body: Body, state: State) -> Floats:
    """Current over original volume at the points, (n_el, n_q) [-]."""
    f, hoop = plane_gradient(body, state)
    ratio: Floats = (f[0, 0] * f[1, 1] - f[0, 1] * f[1, 0]) * hoop
    return ratio


def first_thickness(body: Body) -> Floats:
    """Thickness before the first stage, (n_lines) [mm]."""
    columns = strip(body)
    low = columns.lines
    step = body.nodes[low + 2 * columns.layers] - body.nodes[low]
    thickness: Floats = np.hypot(step[:, 0], step[:, 1])
    cos, sin = body.along[-1]
    # A square cut leans in the sheet as it was; across the sheet it is no longer than any line.
    thickness[-1] = abs(cos * step[-1, 1] - sin * step[-1, 0])
    return thickness


def _reach(face: Curve, origin: Floats, tangent: Floats) -> tuple[Floats, Bools]:
    """Distance from ``origin`` along the normal to a face, on the left positive, (n) [mm].

    Also says where the normal meets the face, and not only the line beyond its end.
    """
    last = float(len(face.middles))
    place = np.arange(len(origin), dtype=float)
    for _ in range(40):
        beside = ((face.at(place) - origin) * tangent).sum(axis=1)
        speed = (face.rate(place) * tangent).sum(axis=1)
        speed = np.where(np.abs(speed) > 1e-12, speed, 1e-12)
        moved = np.clip(place - np.clip(beside / speed, -0.7, 0.7), 0.0, last)
        if float(np.abs(moved - place).max()) < 1e-10:
            break
        place = moved
    step = face.at(place) - origin
    distance: Floats = step[:, 1] * tangent[:, 0] - step[:, 0] * tangent[:, 1]
    met = np.abs((step * tangent).sum(axis=1)) < BESIDE * np.abs(distance)
    return distance, met


def mean_thickness(thickness: Floats, radius: Floats) -> float:
    """Mean over columns weighted by the length of their rings; a column on the axis counts [mm]."""
    return float(np.average(thickness, weights=radius + 1e-9))
