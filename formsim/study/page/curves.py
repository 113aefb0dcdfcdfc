"""Figures of measures against inputs: curves of a design of levels, points of samples."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from formsim.report.page_pictures import Picture, drawn_picture
from formsim.report.style import drawable, new_figure, svg_of
from formsim.study.page.numbers import Number, Points
from formsim.study.page.panel import draw_panel, legend_of
from formsim.study.sensitivity import rank_correlation

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ACROSS, ROWS = 3, 4
"""Panels in a row, rows of panels in a figure of samples."""

BROAD, ALONE, HIGH, LOW = 10.0, 5.6, 2.5, 1.9
"""Widths of a figure with several panels in a row and with one, heights of a panel [inch]."""

Panel = tuple[Number, Number]
"""An input and a measure."""


def response_pictures(points: Points) -> Iterator[Picture]:
    """Every measure against every input that is a number; no pictures without any."""
    if not (points.inputs and points.measures):
        return
    if points.sampled:
        for k in range(0, len(points.measures), ROWS):
            some = points.measures[k : k + ROWS]
            make = partial(_matrix, points, some)
            yield _picture(points, some, "Samples", make)
        return
    alone = [(y,) for y in points.measures]
    together = [points.measures] if len(points.inputs) == 1 else alone
    for some in together:
        panels = [(x, y) for y in some for x in points.inputs]
        yield _picture(points, some, "Response", partial(_curves, points, panels))


def _picture(points: Points, some: Sequence[Number], what: str, make: partial[Figure]) -> Picture:
    names = ", ".join(one.name.partition(" [")[0] for one in some)
    caption = f"{what}: {names} against {', '.join(one.label for one in points.inputs)}"
    told = [told_range(points, one) for one in some]
    return drawn_picture(svg_of(make), caption, "; ".join([caption, *told]))


def told_range(points: Points, one: Number) -> str:
    """Smallest and largest value of a number, each with its variant."""
    low, high = int(np.nanargmin(one.values)), int(np.nanargmax(one.values))
    return (
        f"{one.name} from {one.values[low]:.4g} (variant {points.number[low]})"
        f" to {one.values[high]:.4g} (variant {points.number[high]})"
    )


def _curves(points: Points, panels: Sequence[Panel]) -> Figure:
    columns = min(ACROSS, len(panels))
    rows = math.ceil(len(panels) / columns)
    figure = new_figure(ALONE if columns == 1 else BROAD, 0.6 + HIGH * rows)
    every = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, (x, y) in zip(every, panels, strict=False):
        draw_panel(axes, points, x, y, joined=True)
        axes.set_xlabel(drawable(x.label))
        axes.set_ylabel(drawable(y.label))
    for axes in every[len(panels) :]:
        axes.remove()
    legend_of(figure, points, [y for _, y in panels])
    return figure


def _matrix(points: Points, some: Sequence[Number]) -> Figure:
    """Measures in rows, inputs in columns, the rank correlation in every panel."""
    columns = len(points.inputs)
    figure = new_figure(ALONE if columns == 1 else BROAD, 0.7 + LOW * len(some))
    every = figure.subplots(len(some), columns, squeeze=False, sharex="col", sharey="row")
    for row, y in zip(every, some, strict=True):
        for axes, x in zip(row, points.inputs, strict=True):
            draw_panel(axes, points, x, y, joined=False)
            axes.set_title(f"rank {rank_of(x, y):+.2f}", fontsize=8.0, fontweight="normal")
        row[0].set_ylabel(drawable(y.label))
    for axes, x in zip(every[-1], points.inputs, strict=True):
        axes.set_xlabel(drawable(x.label))
    figure.align_ylabels()
    legend_of(figure, points, some)
    return figure


def rank_of(x: Number, y: Number) -> float:
    """Spearman's rank correlation of two numbers, over the variants that have both."""
    there = np.isfinite(x.values) & np.isfinite(y.values)
    return rank_correlation(x.values[there], y.values[there])
