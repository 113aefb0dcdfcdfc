"""Logarithmic strains of the lower face, the middle and the upper face along the sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.errors import FormsimError
from formsim.results.curve import (
    Curve,
    between_lines,
    bottom_line,
    middle_line,
    start_way,
    strip,
    top_line,
)
from formsim.results.theory.volume import local_thickness
from formsim.results.thickness import first_thickness, thickness_profile, volume_ratio
from formsim.solver.body import Body
from formsim.solver.state import State

FACES = ("bottom", "middle", "top")


@dataclass(frozen=True)
class SurfaceStrains:
    """Strains at the middle of every column; rows are ``FACES``.

    Attributes
    ----------
    original_radius : radius before the first stage, (n_columns) [mm]
    way : place along the sheet before the first stage, in a flat blank its radius, (n_columns) [mm]
    original_thickness : before the first stage, (n_columns) [mm]
    meridional, hoop, normal : log strains along, around and across the sheet, (3, n_columns) [-]
    equivalent : equivalent plastic strain, mean over the thickness, (n_columns) [-]
    """

    original_radius: Floats
    way: Floats
    original_thickness: Floats
    meridional: Floats
    hoop: Floats
    normal: Floats
    equivalent: Floats

    @property
    def major(self) -> Floats:
        """Larger log strain in the sheet plane, (3, n_columns) [-]."""
        return np.maximum(self.meridional, self.hoop)

    @property
    def minor(self) -> Floats:
        """Smaller log strain in the sheet plane, (3, n_columns) [-]."""
        return np.minimum(self.meridional, self.hoop)

    @property
    def constant_volume_thickness(self) -> Floats:
        """Thickness that keeps the volume under the strains of the middle, (n_columns) [mm]."""
        return self.original_thickness * local_thickness(1.0, self.meridional[1], self.hoop[1])


def surface_strains(body: Body, state: State) -> SurfaceStrains:
    """Strains of three faces along the sheet and the mean equivalent plastic strain.

    The stretch along the sheet is that of the line itself at the middle of a column, the stretch
    around it the ratio of radii; across, the change of volume of the elements decides.
    """
    blank, now = body.nodes, state.places(body)
    lines = (bottom_line, middle_line, top_line)
    pairs = [_plane_strains(line(body, blank), line(body, now)) for line in lines]
    meridional = np.stack([pair[0] for pair in pairs])
    hoop = np.stack([pair[1] for pair in pairs])
    middle = middle_line(body, blank)
    return SurfaceStrains(
        original_radius=middle.middles[:, 0],
        way=between_lines(start_way(body)),
        original_thickness=between_lines(first_thickness(body)),
        meridional=meridional,
        hoop=hoop,
        normal=_volume_strains(body, state) - meridional - hoop,
        equivalent=_column_mean(body, state.strain),
    )


def middle_strains(body: Body, state: State) -> tuple[Floats, Floats]:
    """Log strains of the middle of the sheet along and around it, (n_columns) each [-]."""
    return _plane_strains(middle_line(body, body.nodes), middle_line(body, state.places(body)))


def pole_strains(body: Body, state: State) -> tuple[float, float]:
    """Log strains at the axis, in the plane and across the sheet [-].

    Both are even functions of the radius; the first two columns give the value on the axis.

    Raises
    ------
    FormsimError : the sheet has a hole
    """
    strains = surface_strains(body, state)
    profile = thickness_profile(body, state)
    if profile.original_radius[0] > 1e-9 * profile.original_radius[-1]:
        message = "there is no pole to measure at: the blank has a centre hole"
        raise FormsimError(message, hint="leave out the pole measures or set hole_diameter = 0")
    across = np.log(profile.volume_thickness / strains.original_thickness)
    plane = 0.5 * (strains.meridional[1] + strains.hoop[1])
    return _on_axis(strains.original_radius, plane), _on_axis(strains.original_radius, across)


def _on_axis(radius: Floats, values: Floats) -> float:
    near, far = float(radius[0]) ** 2, float(radius[1]) ** 2
    return float(values[0] - (values[1] - values[0]) * near / (far - near))


def _plane_strains(blank: Curve, now: Curve) -> tuple[Floats, Floats]:
    place: Floats = np.arange(len(blank.middles), dtype=np.float64) + 0.5
    before, after = blank.rate(place), now.rate(place)
    along = np.log(np.hypot(after[:, 0], after[:, 1]) / np.hypot(before[:, 0], before[:, 1]))
    return along, np.log(now.middles[:, 0] / blank.middles[:, 0])


def _volume_strains(body: Body, state: State) -> Floats:
    """Log change of volume next to each face, (3, n_columns) [-]."""
    columns = strip(body)
    weight = body.volume.sum(axis=1)
    ratio = (volume_ratio(body, state) * body.volume).sum(axis=1) / weight
    layers = np.log(ratio).reshape(columns.count, columns.layers)
    half = columns.layers // 2
    inner = layers[:, (columns.layers - 1) // 2 : half + 1].mean(axis=1)
    return np.stack([layers[:, 0], inner, layers[:, -1]])


def _column_mean(body: Body, values: Floats) -> Floats:
    columns = strip(body)
    shape = (columns.count, columns.layers)
    total = (values * body.volume).sum(axis=1).reshape(shape).sum(axis=1)
    mean: Floats = total / body.volume.sum(axis=1).reshape(shape).sum(axis=1)
    return mean
