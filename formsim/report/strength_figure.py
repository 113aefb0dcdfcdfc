"""Figure of a body under pressure or top load: the load over growth, volume or travel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from formsim.arrays import runs
from formsim.report.style import INK, colour, new_figure
from formsim.results.course import Course, course, load_curve

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from formsim.arrays import Floats
    from formsim.results.record import StageRecord

PASSING = "not stable: it only passes through"
"""What a dashed part of a curve is."""


def strength_figure(record: StageRecord) -> Figure:
    """Pressure over the growth of the base and over volume, or top load over travel.

    Marked are the largest load in a stable equilibrium and where the body first leaps to another
    shape; dashed is where it could not stay as it is under its load.
    """
    test = course(record)
    if record.kind == "top_load":
        figure = new_figure(7.6, 3.9)
        axes = figure.subplots()
        _curve(axes, load_curve(record)[1], 1e-3 * test.load, test, "top load", colour(0))
        _mark(axes, record, test, load_curve(record)[1], 1e-3, "kN")
        _label(axes, f"{record.name}: load over travel", "travel [mm]", "top load [kN]")
        return figure
    growth = {name: np.asarray(values) for name, values in record.gauges.items()}
    figure = new_figure(7.6, 7.4)
    above, below = figure.subplots(2)
    _curve(above, growth["centre_growth"], test.load, test, "centre of the base", colour(0))
    _curve(above, growth["nose_growth"], test.load, test, "lowest point", colour(1))
    _mark(above, record, test, growth["centre_growth"], 1.0, "MPa")
    title = f"{record.name}: pressure over the growth of the base"
    _label(above, title, "further below the rim than at the start [mm]", "pressure [MPa]")
    volume = 1e-3 * growth["volume"]
    _curve(below, volume, test.load, test, "volume", colour(2))
    _mark(below, record, test, volume, 1.0, "MPa")
    title = f"{record.name}: pressure over volume"
    _label(below, title, "holds more than at the start [ml]", "pressure [MPa]")
    return figure


def _curve(axes: Axes, way: Floats, load: Floats, test: Course, label: str, ink: str) -> None:
    """Load over a way, dashed from the last stable row on where the body is not stable."""
    loose = runs(~test.stable)
    sure = np.array(load)
    for first, last in loose:
        sure[first:last] = np.nan
        part = slice(max(first - 1, 0), last + 1)
        axes.plot(way[part], load[part], color=ink, linewidth=0.9, alpha=0.75, dashes=(4, 2.5))
    axes.plot(way, sure, color=ink, label=label)
    axes.plot(way[test.top], load[test.top], "o", color=ink, markersize=4.5)


def _mark(
    axes: Axes, record: StageRecord, test: Course, way: Floats, factor: float, unit: str
) -> None:
    """Words at the largest load and, where that is elsewhere, at the first leap."""
    most = f"{factor * test.largest:.3f} {unit}"
    ends = "folds at" if record.kind == "top_load" else "gives way at"
    if record.spoilt or test.filled is not None:
        most = f"{most}, of a body that had given way"
    elif test.gave_way:
        most = f"{ends} {most}"
    _say(axes, way, test.top, factor * test.largest, most)
    last = None if test.leap is None else test.leap - 1
    if last is not None and abs(last - test.top) > 1 and test.filled is None:
        load = factor * float(test.load[last])
        axes.plot(way[last], load, "o", color=INK, markerfacecolor="none", markersize=6.0)
        _say(axes, way, last, load, f"leaps to another shape at {load:.3f} {unit}")
    if not test.stable.all():
        axes.plot([], [], color=INK, linewidth=0.9, alpha=0.75, dashes=(4, 2.5), label=PASSING)
    if len(axes.get_legend_handles_labels()[1]) > 1:
        axes.legend(loc="best")


def _say(axes: Axes, way: Floats, row: int, load: float, text: str) -> None:
    """A text above a point of a curve, inside the figure also at its sides."""
    share = (way[row] - way.min()) / max(float(np.ptp(way)), 1e-12)
    side = "left" if share < 0.25 else "right" if share > 0.75 else "center"
    place = float(way[row]), load
    axes.annotate(text, place, (0, 6), textcoords="offset points", ha=side, color=INK, fontsize=8.0)


def _label(axes: Axes, title: str, way: str, load: str) -> None:
    axes.set_title(title)
    axes.set_xlabel(way)
    axes.set_ylabel(load)
    axes.axhline(0.0, color=INK, linewidth=0.6)
    axes.margins(y=0.12)
