"""Figures of how the numbers of a sampled study scatter: bars, limits, quantiles."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING, Literal

import numpy as np

from formsim.report.page_pictures import Picture, drawn_picture
from formsim.report.style import INK, LINES, drawable, new_figure, svg_of
from formsim.report.words import counted
from formsim.study.page.curves import ACROSS, ALONE, BROAD, told_range
from formsim.study.page.numbers import Number, Points
from formsim.study.page.panel import draw_limits

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Style = Literal["-", ":", "--"]

PAGE, HIGH, MOST_BARS = 6, 2.2, 24
"""Panels in a figure, their height [inch], bars of a panel."""


def spread_pictures(points: Points) -> Iterator[Picture]:
    """How often which value of every measure comes; measures that do not vary are left out."""
    moving = [one for one in points.measures if one.moves]
    for k in range(0, len(moving), PAGE):
        some = moving[k : k + PAGE]
        names = ", ".join(one.name.partition(" [")[0] for one in some)
        caption = f"How often which value comes: {names}"
        alt = "; ".join([caption, *(told_range(points, one) for one in some)])
        yield drawn_picture(svg_of(partial(_bars, some)), caption, alt)


def _bars(some: Sequence[Number]) -> Figure:
    columns = min(ACROSS, len(some))
    rows = math.ceil(len(some) / columns)
    figure = new_figure(ALONE if columns == 1 else BROAD, 0.4 + HIGH * rows)
    every = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, one in zip(every, some, strict=False):
        _panel(axes, one)
    for axes in every[len(some) :]:
        axes.remove()
    _legend(figure, some)
    return figure


def _panel(axes: Axes, one: Number) -> None:
    values = one.values[np.isfinite(one.values)]
    edges = np.histogram_bin_edges(values, "auto")
    if len(edges) - 1 > MOST_BARS:
        edges = np.histogram_bin_edges(values, MOST_BARS)
    axes.hist(values, edges.tolist(), color=LINES[0], edgecolor="white", linewidth=0.6)
    for share, style in ((0.05, ":"), (0.5, "-"), (0.95, ":")):
        axes.axvline(float(np.quantile(values, share)), color=LINES[1], linestyle=style)
    axes.grid(visible=False, axis="x")
    axes.set_xlabel(drawable(one.label))
    axes.set_ylabel("variants")
    axes.set_title(counted(len(values), "variant"), fontsize=8.0, fontweight="normal")
    draw_limits(axes, one, upright=True)


def _legend(figure: Figure, some: Sequence[Number]) -> None:
    from matplotlib.lines import Line2D

    looks: list[tuple[str, str, Style]] = [
        ("median", LINES[1], "-"),
        ("5 and 95 % below", LINES[1], ":"),
    ]
    if any(limit is not None for one in some for limit in (one.low, one.high)):
        looks.append(("limit", INK, "--"))
    handles = [Line2D([], [], label=told, color=ink, linestyle=style) for told, ink, style in looks]
    figure.legend(handles=handles, loc="outside lower center", ncols=3, fontsize=8.0)
