"""Figure of a springback: section before and after, and the stresses that stay in the sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from formsim.arrays import Floats
from formsim.material.model import Material
from formsim.report.style import INK, LINES, colour, new_figure, plain
from formsim.results.curve import bottom_line, strip, top_line
from formsim.results.record import Line, StageRecord
from formsim.results.thickness import plane_gradient, volume_ratio
from formsim.solver.body import Body
from formsim.solver.state import State

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WORTH = 0.1
"""Largest displacement of a springback in sheet thicknesses below which no figure is made."""

SHOWN = 0.05
"""Share of the size of the part up to which displacements are exaggerated."""

_FACTORS = (100.0, 50.0, 20.0, 10.0, 5.0, 2.0)
_PER_COLUMN = 3


def springs_back(line: Line, stage: int) -> bool:
    """Whether a stage has a finished springback worth seeing; ``stage`` from 0."""
    record = line.stages[stage]
    if not record.complete or not record.release:
        return False
    return float(np.hypot(*springback(line.body, record).T).max()) > WORTH * line.thickness


def springback(body: Body, record: StageRecord) -> Floats:
    """Displacement of the nodes by springback, (n_nodes, 2) [mm].

    The part is laid over its shape under load so that its mean axial displacement is zero.
    """
    moved = record.final.places(body) - record.formed.places(body)
    moved[:, 1] -= np.average(moved[:, 1], weights=np.hypot(*body.nodes.T) + 1e-9)
    return moved


def springback_figure(line: Line, stage: int) -> Figure:
    """Section before and after springback, and residual stresses of both faces."""
    record, body = line.stages[stage], line.body
    moved, before = springback(body, record), record.formed.places(body)
    size = float(max(np.ptp(before[:, 0]), np.ptp(before[:, 1])))
    largest = float(np.hypot(*moved.T).max())
    factor = next((f for f in _FACTORS if f * largest <= SHOWN * size), 1.0)
    figure = new_figure(10.0, 5.0)
    section, stresses = figure.subplots(1, 2, width_ratios=(1.0, 1.1))
    for places, ink, style, label in (
        (before, LINES[5], "-", "under load"),
        (before + factor * moved, colour(1), "-", "after springback"),
    ):
        loop = _outline(body, places)
        section.plot(*loop.T, style, color=ink, linewidth=0.9, label=label)
    plain(section)
    section.set_xlabel("radius [mm]")
    section.set_ylabel("height [mm]")
    drawn = "drawn to scale" if factor == 1.0 else f"drawn {factor:g} times as large"
    section.set_title(f"{record.name}: springback up to {largest:.2f} mm,\n{drawn}")
    section.legend(loc="best")
    _draw_stresses(stresses, line, record)
    return figure


def _outline(body: Body, places: Floats) -> Floats:
    """Closed outline of the section, (n, 2) [mm]."""
    faces = []
    for face in (bottom_line(body, places), top_line(body, places)):
        n = len(face.middles)
        faces.append(face.at(np.linspace(0.0, n, _PER_COLUMN * n + 1)))
    return np.concatenate([faces[0], faces[1][::-1], faces[0][:1]])


def _draw_stresses(axes: Axes, line: Line, record: StageRecord) -> None:
    radius, along, around = face_stresses(line.body, line.material, record.final)
    axes.axhline(0.0, color=INK, linewidth=0.7)
    for row, face, style in ((1, "upper face", "-"), (0, "lower face", "--")):
        axes.plot(radius, along[row], style, color=colour(0), label=f"along the sheet, {face}")
        axes.plot(radius, around[row], style, color=colour(1), label=f"around the axis, {face}")
    axes.set_xlim(0.0, line.blank_radius)
    axes.set_xlabel("radius in the flat blank [mm]")
    axes.set_ylabel("stress [MPa]")
    axes.set_title("residual stress after springback")
    axes.legend(loc="best")


def face_stresses(body: Body, material: Material, state: State) -> tuple[Floats, Floats, Floats]:
    """Stresses next to the lower and the upper face, mean of the outermost points of each column.

    Returns
    -------
    Radius of the columns in the blank (n_columns) [mm], Cauchy stress along the sheet and around
    the axis, rows lower and upper face, (2, n_columns) [MPa].

    Elastic logarithmic strains, total less plastic, times Hooke's law. Along the sheet this is
    the stress of the material line that was radial in the blank: exact where it is not sheared.
    """
    columns, n_q = strip(body), body.radius.shape[1]
    shape = (columns.count, columns.layers * n_q)
    height = (body.nodes[body.elements, 1] @ body.shape.T).reshape(shape)
    order = np.argsort(height, axis=1, kind="stable")
    outer = np.stack([order[:, : n_q // 2], order[:, -(n_q // 2) :]])
    along, around = _stresses(body, material, state)
    values = [
        np.take_along_axis(np.broadcast_to(s.reshape(shape), (2, *shape)), outer, axis=2).mean(2)
        for s in (along, around)
    ]
    return body.radius.reshape(shape).mean(axis=1), values[0], values[1]


def _stresses(body: Body, material: Material, state: State) -> tuple[Floats, Floats]:
    """Cauchy stress along and around at the points, (n_el, n_q) each [MPa]."""
    (f11, f12), (f21, f22) = (row for row in plane_gradient(body, state)[0])
    hoop = np.log(plane_gradient(body, state)[1])
    c11, c22, c12 = f11**2 + f21**2, f12**2 + f22**2, f11 * f12 + f21 * f22
    mean, half = 0.5 * (c11 + c22), 0.5 * (c11 - c22)
    spread = np.hypot(half, c12)
    major, minor = 0.5 * np.log(mean + spread), 0.5 * np.log(mean - spread)
    share = half / np.maximum(spread, 1e-300)
    strain = 0.5 * (major + minor) + 0.5 * (major - minor) * share
    first, second = state.plastic[..., 0] / np.sqrt(6.0), state.plastic[..., 1] / np.sqrt(2.0)
    change = major + minor + hoop
    along = strain - (second - first)
    around = hoop + first + second
    ratio = volume_ratio(body, state)
    shear = material.shear
    spherical = (material.bulk - 2.0 / 3.0 * shear) * change
    return (spherical + 2 * shear * along) / ratio, (spherical + 2 * shear * around) / ratio
