"""Shape of the part: volume, mass, height, rim, flange, dome, capacity, use of the coil."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.errors import FormsimError
from formsim.results.curve import Curve, bottom_line, middle_line, top_line
from formsim.results.thickness import volume_ratio
from formsim.solver.body import Body
from formsim.solver.state import State

FLAT = math.radians(45.0)
LEVEL = 5e-8

RING = 0.05
"""Radius of the stand over the widest one below which a part stands on its pole, on no ring."""


@dataclass(frozen=True)
class Rim:
    """The free edge.

    Attributes
    ----------
    points : its nodes from the lower to the upper face, (n, 2) [mm]
    highest, lowest : its axial extremes [mm]
    inner_radius, outer_radius : its radial extremes [mm]
    """

    points: Floats
    highest: float
    lowest: float
    inner_radius: float
    outer_radius: float


def volume(body: Body, state: State) -> float:
    """Volume of metal now [mm3]."""
    return float((volume_ratio(body, state) * body.volume).sum())


def mass(body: Body, density: float) -> float:
    """Mass [g]; ``density`` in [kg/m3]. Forming does not change it."""
    return mass_of(float(body.volume.sum()), density)


def mass_of(volume: float, density: float) -> float:
    """Mass [g] of a volume of metal [mm3]; ``density`` in [kg/m3]."""
    return volume * density * 1e-6


def centre_of_mass(body: Body, state: State) -> float:
    """Axial position of the centre of mass [mm]."""
    z = state.places(body)[body.elements][..., 1] @ body.shape.T
    return float((z * body.volume).sum() / body.volume.sum())


def height(body: Body, state: State) -> float:
    """Axial extent of the part: of a cup from its stand to the top of its rim [mm]."""
    return float(np.ptp(state.places(body)[:, 1]))


def rim(body: Body, state: State) -> Rim:
    """Profile of the free edge."""
    nodes = body.edge_nodes("rim")
    cos, sin = body.along[-1]
    nodes = nodes[np.argsort(body.nodes[nodes] @ [-sin, cos], kind="stable")]
    points = state.places(body)[nodes]
    return Rim(
        points=points,
        highest=float(points[:, 1].max()),
        lowest=float(points[:, 1].min()),
        inner_radius=float(points[:, 0].min()),
        outer_radius=float(points[:, 0].max()),
    )


def flange_start(slope: Floats) -> int:
    """First line of the flange, the number of lines when there is none.

    The flange is what lies flatter than 45 degrees outside of something steeper.

    Parameters
    ----------
    slope : angle of the middle of the sheet to the horizontal, (n_lines) [rad]
    """
    steep = np.flatnonzero(np.abs(slope) > FLAT)
    if steep.size == 0 or steep[-1] + 1 >= len(slope):
        return len(slope)
    return int(steep[-1]) + 1


def flange_width(body: Body, state: State) -> float:
    """Radial width of the flange, 0 where there is none wider than the blank is thick [mm]."""
    middle = middle_line(body, state.places(body))
    tangents = middle.tangents()
    start = flange_start(np.arctan2(tangents[:, 1], tangents[:, 0]))
    if start >= len(tangents):
        return 0.0
    width = float(middle.knots[-1, 0] - middle.knots[start, 0])
    thickness = float(np.hypot(*np.ptp(body.nodes[body.edge_nodes("rim")], axis=0)))
    return width if width > thickness else 0.0


def dome_depth(body: Body, state: State) -> float:
    """Pole above the circle the part stands on, at the lower face [mm]."""
    bottom = bottom_line(body, state.places(body))
    return float(bottom.knots[0, 1] - stand_point(bottom)[1])


def stand_diameter(body: Body, state: State) -> float:
    """Diameter of the circle the part stands on [mm]."""
    return 2.0 * stand_point(bottom_line(body, state.places(body)))[0]


def stand_point(bottom: Curve) -> tuple[float, float]:
    """Radius and height of the lowest point of the lower face [mm].

    Of an even base it is the outermost point, on which the part does not tilt.
    """
    size = float(np.abs(bottom.knots).max())
    place = np.arange(0.0, len(bottom.middles) + 0.01, 0.05)
    points = bottom.at(np.minimum(place, len(bottom.middles)))
    low = np.flatnonzero(points[:, 1] <= points[:, 1].min() + LEVEL * size)[-1]
    return float(points[low, 0]), float(points[low, 1])


def base_radius(body: Body, state: State, within: float | None = None) -> float:
    """Radius of the sphere through the inner part of the base, infinite when it is even [mm].

    Least squares of the middle of the sheet with the centre on the axis.

    Parameters
    ----------
    within : radius up to which points are used; None for half the radius of the stand, or half
        the radius of the part where it stands on its pole [mm]
    """
    places = state.places(body)
    middle = middle_line(body, places)
    if within is None:
        stand = stand_point(bottom_line(body, places))[0]
        outer = float(middle.knots[:, 0].max())
        within = 0.5 * (stand if stand > RING * outer else outer)
    points = np.concatenate([middle.knots, middle.middles])
    points = points[points[:, 0] <= within]
    if len(points) < 4:
        message = f"fewer than 4 points of the base lie within a radius of {within:g} mm"
        raise FormsimError(message, hint="use more columns or a larger radius")
    r, z = points[:, 0], points[:, 1] - points[0, 1]
    sag = float(np.ptp(z))
    if sag < 1e-6 * within:
        return math.inf
    rows = np.stack([2 * z, np.ones_like(z)], axis=1)
    (centre, rest), *_ = np.linalg.lstsq(rows, r**2 + z**2, rcond=None)
    return float(np.sqrt(rest + centre**2))


def capacity(body: Body, state: State) -> float:
    """Volume inside up to the brim [ml]; 0 for a part that holds nothing.

    What the upper face encloses, a dome in the base taken away.
    """
    top = top_line(body, state.places(body))
    points, rates, weights = top.samples()
    enclosed = float((np.pi * points[..., 0] ** 2 * rates[..., 1] @ weights).sum())
    brim = rim(body, state).highest - float(top.knots[-1, 1])
    enclosed += float(np.pi * top.knots[-1, 0] ** 2) * brim
    return max(0.0, 1e-3 * enclosed)


def coil_share(
    diameter: float, *, rows: int = 1, web: float = 1.0, edge: float = 1.0, staggered: bool = True
) -> float:
    """Share of the coil that becomes blanks [-].

    Parameters
    ----------
    diameter : of the blank [mm]
    rows : blanks across the coil
    web, edge : metal left between blanks and at the edges of the coil [mm]
    staggered : neighbouring rows shifted by half a pitch

    Source: geometry of the layout; the ends of the coil are left out.
    """
    pitch = diameter + web
    between = pitch * (math.sqrt(0.75) if staggered else 1.0)
    width = diameter + (rows - 1) * between + 2.0 * edge
    return rows * 0.25 * math.pi * diameter**2 / (pitch * width)
