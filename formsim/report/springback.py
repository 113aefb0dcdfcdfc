"""Figure of a springback: section before and after, and the stresses that stay in the sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from formsim.arrays import Floats
from formsim.report.style import INK, LINES, colour, new_figure, plain
from formsim.results.curve import bottom_line, top_line, way_name
from formsim.results.record import Line, StageRecord
from formsim.results.residual_stress import face_stresses
from formsim.solver.body import Body

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
    return float(np.hypot(*springback(record).T).max()) > WORTH * line.thickness


def springback(record: StageRecord) -> Floats:
    """Displacement of the nodes by springback, (n_nodes, 2) [mm].

    The part is laid over its shape under load so that its mean axial displacement is zero.
    """
    body = record.body
    moved = record.final.places(body) - record.formed.places(body)
    moved[:, 1] -= np.average(moved[:, 1], weights=np.hypot(*body.nodes.T) + 1e-9)
    return moved


def springback_figure(line: Line, stage: int) -> Figure:
    """Section before and after springback, and residual stresses of both faces."""
    record = line.stages[stage]
    body, moved = record.body, springback(record)
    before = record.formed.places(body)
    size = float(max(np.ptp(before[:, 0]), np.ptp(before[:, 1])))
    largest = float(np.hypot(*moved.T).max())
    factor = next((f for f in _FACTORS if f * largest <= SHOWN * size), 1.0)
    figure = new_figure(10.0, 5.0)
    section, stresses = figure.subplots(1, 2, width_ratios=(1.0, 1.1))
    for places, ink, style, label in (
        (before, LINES[5], "-", record.loaded),
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
    way, along, around = face_stresses(record.body, record.material, record.final)
    axes.axhline(0.0, color=INK, linewidth=0.7)
    for row, face, style in ((1, "upper face", "-"), (0, "lower face", "--")):
        axes.plot(way, along[row], style, color=colour(0), label=f"along the sheet, {face}")
        axes.plot(way, around[row], style, color=colour(1), label=f"around the axis, {face}")
    axes.set_xlim(0.0, line.length)
    axes.set_xlabel(way_name(line.blank))
    axes.set_ylabel("stress [MPa]")
    axes.set_title("residual stress after springback")
    axes.legend(loc="best")
