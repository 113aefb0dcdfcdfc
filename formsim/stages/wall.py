"""The wall of a tube or cup whose rim is worked: where it is held, how thick and strong it is."""

from __future__ import annotations

import math

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.errors import GeometryError
from formsim.material.model import Material
from formsim.solver.body import Body
from formsim.solver.problem import Path, Support, Tie
from formsim.solver.state import State

UPRIGHT = math.radians(80.0)
"""Slope beyond which a column belongs to the wall."""

STRIDE = 0.5
"""Longest increment over the usual one: little force and much friction, so that the work of the
press is off by 1 per cent with the usual one, by a third of that here."""

FLANGED = 3.0
"""How far a rim stands out over its narrowest place, in thicknesses, when it is a flange."""

LAST = 10
"""Columns before the rim whose mean thickness stands for that of the rim."""


def middle_points(body: Body, state: State) -> Floats:
    """Middle of the sheet at every line between columns, (n_lines, 2) [mm]."""
    return state.places(body)[_lines(body) + _layers(body)]


def rim_thickness(body: Body, state: State) -> float:
    """Mean distance of the faces over the last columns before the rim [mm]."""
    places, low = state.places(body), _lines(body)[-LAST - 1 :]
    step = places[low + 2 * _layers(body)] - places[low]
    return float(np.hypot(step[:, 0], step[:, 1]).mean())


def held_line(body: Body, state: State, depth: float) -> int:
    """Line across the wall at which it is held along the axis while its rim is worked.

    The lower end of a tube; of a cup half-way between its base and what the tools reach, so that
    the base carries nothing.

    Parameters
    ----------
    depth : how far below the rim the tools reach [mm]

    Raises
    ------
    GeometryError : there is no wall below what the tools reach
    """
    middle = middle_points(body, state)
    step = np.diff(middle, axis=0)
    upright = np.abs(np.arctan2(step[:, 1], step[:, 0]) - 0.5 * math.pi) < 0.5 * math.pi - UPRIGHT
    reach = middle[:, 1].max() - depth
    wall = np.flatnonzero(np.append(upright, False) & (middle[:, 1] < reach))
    if wall.size == 0:
        message = f"there is no upright wall more than {depth:.2f} mm below the rim to hold"
        raise GeometryError(message, hint="make the body taller or the depth smaller")
    if wall[0] == 0:
        return 0
    half = 0.5 * (middle[wall[0], 1] + middle[wall[-1], 1])
    return int(wall[np.abs(middle[wall, 1] - half).argmin()])


def hold_axially(body: Body, line: int) -> Support:
    """Support that keeps a line of nodes where it is along the axis."""
    nodes: Ints = _lines(body)[line] + np.arange(2 * _layers(body) + 1)
    return Support(2 * nodes + 1)


def hold_seam(body: Body, state: State) -> Support:
    """Support of what a lid is seamed to: a flange from its narrowest place on, else the edge."""
    first = seam_begin(body, state)
    flanged = first < len(body.nodes)
    rim = np.arange(first, len(body.nodes)) if flanged else body.edge_nodes("rim")
    return Support(np.concatenate([2 * rim, 2 * rim + 1]))


def seam_begin(body: Body, state: State) -> int:
    """First node of a flange, at its narrowest place; the number of nodes where there is none.

    The base, which is narrow too, ends below half the height.
    """
    radius, height = middle_points(body, state).T
    below = np.flatnonzero(height < 0.5 * (height.min() + height.max()))
    upper = int(below[-1]) + 1
    if upper >= len(radius):
        return len(body.nodes)
    neck = upper + int(radius[upper:].argmin())
    flanged = radius[-1] - radius[neck] > FLANGED * rim_thickness(body, state)
    return int(_lines(body)[neck]) if flanged else len(body.nodes)


def mean_rim(body: Body, state: State, component: int, way: Path = lambda _: 0.0) -> Tie:
    """Mean displacement of the rim face in one direction, 0 radial and 1 axial, prescribed.

    The face may turn and thin, as it may between a lid and its seam.

    Parameters
    ----------
    state : where the stage begins
    way : displacement from there over the stroke [mm]
    """
    faces = body.faces["rim"]
    shares = np.einsum("fq,fqa->fa", faces.weight, faces.shape) / faces.weight.sum()
    pattern = np.zeros(body.n_unknowns)
    np.add.at(pattern, 2 * faces.nodes + component, shares)
    begin = float(pattern @ state.u)
    return Tie(pattern, lambda stroke: begin + way(stroke))


def wall_strength(body: Body, material: Material, state: State, line: int) -> tuple[float, float]:
    """Weakest section of the wall between a line and the rim.

    Returns
    -------
    Axial load at which all of that section yields, ``2 pi R t sigma_y`` with the flow stress of
    the metal as it is hardened [N]; the area of the section [mm2].

    Source: equilibrium and the uniaxial yield stress along the sheet (Hill 1948, transverse
    isotropy).
    """
    layers, count = _layers(body), _count(body)
    places, low = state.places(body), _lines(body)[line:]
    inner, outer = places[low + 2 * layers], places[low]
    middle = places[low + layers, 0]
    area = 2.0 * np.pi * middle * np.hypot(*(inner - outer).T)
    flow = material.flow.stress(state.strain.reshape(count, -1).mean(axis=1)[line:])
    load = 0.5 * (area[1:] + area[:-1]) * flow
    weakest = int(load.argmin())
    return float(load[weakest]), float(0.5 * (area[weakest] + area[weakest + 1]))


def _lines(body: Body) -> Ints:
    columns = body.columns
    if columns is None:
        message = "the mesh has no columns, so it has no wall to hold"
        raise GeometryError(message, hint="mesh the sheet as a strip with a centre and a rim")
    return columns.lines


def _layers(body: Body) -> int:
    return body.columns.layers if body.columns else 0


def _count(body: Body) -> int:
    return body.columns.count if body.columns else 0
