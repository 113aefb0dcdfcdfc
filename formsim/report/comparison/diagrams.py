"""Diagrams of a comparison: thickness, sections, forces and strain paths of all results."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from formsim.arrays import Floats
from formsim.report.comparison import curves
from formsim.report.comparison.pens import (
    MANY,
    Drawn,
    draw,
    ink,
    legend,
    legend_columns,
    style,
)
from formsim.report.comparison.side import Side
from formsim.report.style import INK, new_figure, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NEAR = 14.0
"""Least half width of the enlarged place in thicknesses."""

NARROW = 44
"""Letters in a line of the title over the sections."""

WIDER = 1.5
"""Half width of the enlarged place over the distance of the sheets there."""

ENLARGED = 3.0
"""Least size of the whole section over that of a place that is worth to be shown enlarged."""

Section = tuple[Floats, Floats, Floats]
"""Radius, height and thickness of the middle of a sheet, (n) each [mm]."""

TOLD = 4
"""Results whose places stand in the title of a diagram; more would be too long."""

WIDTH, BROAD, ROW = 7.6, 10.0, 0.19
"""Widths of a figure with one diagram and with two, height of a row of a legend [inch]."""


def thickness_figure(
    sides: Sequence[Side], stages: Sequence[str], labels: Sequence[str], title: str
) -> Figure:
    """Thickness along the sheet of all results, each after the stage named for it."""
    figure, axes = _one(labels)
    both = list(zip(sides, stages, strict=True))
    flat = all(curves.starts_flat(side, stage) for side, stage in both)
    found = [curves.thickness(side, stage, flat=flat) for side, stage in both]
    drawn = [
        Drawn(side, label, *one)
        for side, label, one in zip(sides, labels, found, strict=True)
        if one is not None
    ]
    draw(axes, drawn)
    for one in drawn:
        low = int(one.y.argmin())
        axes.plot(one.x[low], one.y[low], "o", color=ink(one.side), markersize=3.5)
    axes.margins(x=0.01, y=0.1)
    axes.set_xlabel(curves.FLAT if flat else curves.NOW)
    axes.set_ylabel("thickness [mm]")
    axes.set_title(f"{title} (dot: thinnest)")
    legend(figure, axes)
    return figure


def section_figure(
    sides: Sequence[Side], stages: Sequence[str], labels: Sequence[str], title: str
) -> Figure:
    """Middles of the sheets over each other, and enlarged where they are farthest apart.

    Where they are so far apart that nothing would be enlarged, the middles alone.
    """
    both = [curves.section(side, at) for side, at in zip(sides, stages, strict=True)]
    found = [
        (side, label, one)
        for side, label, one in zip(sides, labels, both, strict=True)
        if one is not None
    ]
    place = enlarged([one for _, _, one in found])
    width = WIDTH if place is None else BROAD
    figure = new_figure(width, 5.0 + _legend_height(width, labels))
    every = figure.subplots(1, 1 if place is None else 2, squeeze=False)[0]
    for axes in every:
        plain(axes)
        axes.set_xlabel("radius [mm]")
    whole = every[0]
    draw(whole, [Drawn(side, label, one[0], one[1]) for side, label, one in found])
    whole.set_ylabel("height over the lowest place [mm]")
    whole.set_xlim(left=0.0)
    whole.set_title(textwrap.fill(title, NARROW))
    legend(figure, whole)
    if place is not None:
        _zoom(figure, whole, every[1], place, [(side, one) for side, _, one in found])
    return figure


def force_figure(
    sides: Sequence[Side], stage: str, tools: Sequence[str], labels: Sequence[str]
) -> Figure:
    """One diagram per tool: its force, or pressure of a fluid, over the stroke."""
    figure = new_figure(WIDTH, 0.6 + 2.5 * len(tools) + _legend_height(WIDTH, labels))
    every = figure.subplots(len(tools), squeeze=False)[:, 0]
    for axes, tool in zip(every, tools, strict=True):
        found = [curves.force(side, stage, tool) for side in sides]
        draw(
            axes,
            [
                Drawn(side, label, *one)
                for side, label, one in zip(sides, labels, found, strict=True)
                if one is not None
            ],
        )
        axes.set_title(f"{stage}: {tool}")
        axes.set_xlabel("stroke [mm]")
        axes.set_ylabel("pressure [MPa]" if curves.is_fluid(tool) else "force [kN]")
        axes.set_ylim(bottom=0.0)
        axes.margins(x=0.0)
    legend(figure, *every)
    return figure


def path_figure(
    sides: Sequence[Side], stage: str, zones: Sequence[str], labels: Sequence[str]
) -> Figure:
    """One diagram per zone: major over minor true strain of its place with the most damage."""
    rows = math.ceil(len(zones) / 2)
    columns = min(2, len(zones))
    width = BROAD if columns > 1 else WIDTH
    figure = new_figure(width, 0.6 + 3.2 * rows + _legend_height(width, labels))
    every = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes in every[len(zones) :]:
        axes.set_visible(False)
    for axes, zone in zip(every, zones, strict=False):
        _path(axes, sides, stage, zone, labels)
    legend(figure, *every[: len(zones)])
    return figure


def _path(axes: Axes, sides: Sequence[Side], stage: str, zone: str, labels: Sequence[str]) -> None:
    found = [curves.strain_path(side, stage, zone) for side in sides]
    known = [
        (side, label, one)
        for side, label, one in zip(sides, labels, found, strict=True)
        if one is not None
    ]
    draw(axes, [Drawn(side, label, one.minor, one.major) for side, label, one in known])
    for side, _, one in known:
        axes.plot(one.minor[-1], one.major[-1], "o", color=ink(side), markersize=3.5)
    axes.axvline(0.0, color=INK, linewidth=0.6)
    axes.margins(0.08)
    axes.set_xlabel("minor true strain of the middle [-]")
    axes.set_ylabel("major true strain [-]")
    places = ", ".join(f"{side.mark} {one.place:.1f}" for side, _, one in known)
    where = f" at {places} mm" if len(known) <= TOLD else ""
    axes.set_title(f"{stage}: {zone}{where}")


def _one(labels: Sequence[str]) -> tuple[Figure, Axes]:
    """Figure of one diagram, taller where it has many curves."""
    height = 4.0 if len(labels) <= MANY else 5.4
    figure = new_figure(WIDTH, height + _legend_height(WIDTH, labels))
    return figure, figure.subplots()


def _legend_height(width: float, labels: Sequence[str]) -> float:
    """Room for a legend below a figure [inch]."""
    return ROW * math.ceil(len(labels) / legend_columns(width, labels))


def _faces(radius: Floats, height: Floats, thick: Floats) -> list[Floats]:
    """Both faces of a sheet from its middle, (2, n) each [mm]."""
    along = np.array([np.gradient(radius), np.gradient(height)])
    normal = np.array([-along[1], along[0]]) / np.maximum(np.hypot(*along), 1e-9)
    middle = np.array([radius, height])
    return [middle + side * 0.5 * thick * normal for side in (-1.0, 1.0)]


def enlarged(found: Sequence[Section]) -> tuple[float, float, float] | None:
    """Lower left corner and width of the place where two sheets are farthest apart [mm].

    None where it is not much smaller than the whole section, or there are not two.
    """
    if len(found) < 2:
        return None
    centre, apart = farthest_place(found)
    half = max(NEAR * float(found[0][2].max()), WIDER * apart)
    whole = max(float(max(one[k].max() for one in found)) for k in (0, 1))
    if whole < ENLARGED * 2.0 * half:
        return None
    return max(0.0, float(centre[0]) - half), float(centre[1]) - half, 2.0 * half


def _zoom(
    figure: Figure,
    whole: Axes,
    near: Axes,
    place: tuple[float, float, float],
    found: Sequence[tuple[Side, Section]],
) -> None:
    """Both faces of the sheets at an enlarged place, its frame, and how many times it is larger."""
    from matplotlib.patches import Rectangle

    left, bottom, width = place
    for side, one in found:
        for face in _faces(*one):
            near.plot(*face, linestyle=style(side), color=ink(side), linewidth=1.0)
    near.set_xlim(left, left + width)
    near.set_ylim(bottom, bottom + width)
    near.set_title("enlarged")
    frame = Rectangle((left, bottom), width, width, fill=False, edgecolor=INK, lw=0.8)
    whole.add_patch(frame)
    whole.update_datalim([(left, bottom), (left + width, bottom + width)])
    whole.autoscale()
    whole.set_xlim(left=0.0)
    figure.draw_without_rendering()
    factor = _scale(near) / _scale(whole)
    near.set_title(f"both faces where farthest apart, {factor:.1f} times larger")


def _scale(axes: Axes) -> float:
    """Size of a millimetre in a diagram to scale [inch]."""
    return float(axes.get_window_extent().width) / float(np.ptp(axes.get_xlim()))


def farthest_place(found: Sequence[Section]) -> tuple[Floats, float]:
    """Place of the first sheet that is farthest from another, (2), and how far [mm]."""
    first = np.stack(found[0][:2], axis=1)
    away = np.zeros(len(first))
    for one in found[1:]:
        between = first[:, None] - np.stack(one[:2], axis=1)[None]
        away = np.maximum(away, np.hypot(between[..., 0], between[..., 1]).min(axis=1))
    worst = int(away.argmax())
    return first[worst], float(away[worst])
