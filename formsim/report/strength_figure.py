"""Figure of a body under pressure or top load: the load over growth, volume or travel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from formsim.report.style import INK, colour, new_figure
from formsim.results.forces import force_curves
from formsim.results.record import StageRecord
from formsim.results.strength import load_curve, peak_row

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from formsim.arrays import Floats


def strength_figure(record: StageRecord) -> Figure:
    """Pressure over the growth of the base and over volume, or top load over travel."""
    top = peak_row(record)
    if record.kind == "top_load":
        load, travel = load_curve(record)
        figure = new_figure(7.6, 3.9)
        axes = figure.subplots()
        _curve(axes, travel, 1e-3 * load, top, "top load", colour(0))
        _label(axes, f"{record.name}: load over travel", "travel [mm]", "top load [kN]")
        return figure
    pressure = force_curves(record).pressure[:, 0]
    growth = {name: np.asarray(values) for name, values in record.gauges.items()}
    figure = new_figure(7.6, 7.4)
    above, below = figure.subplots(2)
    _curve(above, growth["centre_growth"], pressure, top, "centre of the base", colour(0))
    _curve(above, growth["nose_growth"], pressure, top, "lowest point", colour(1))
    above.legend(loc="best")
    title = f"{record.name}: pressure over the growth of the base"
    _label(above, title, "further below the rim than at the start [mm]", "pressure [MPa]")
    _curve(below, 1e-3 * growth["volume"], pressure, top, "volume", colour(2))
    title = f"{record.name}: pressure over volume"
    _label(below, title, "holds more than at the start [ml]", "pressure [MPa]")
    return figure


def _curve(axes: Axes, way: Floats, load: Floats, top: int, label: str, ink: str) -> None:
    """Load over a way, with a mark in the row ``top``; its value stands at the first one."""
    axes.plot(way, load, color=ink, label=label)
    axes.plot(way[top], load[top], "o", color=ink, markersize=4.0)
    if axes.texts:
        return
    axes.annotate(
        f"{load[top]:.3f}",
        (float(way[top]), float(load[top])),
        (0, 5),
        textcoords="offset points",
        ha="center",
        color=ink,
        fontsize=8.0,
    )


def _label(axes: Axes, title: str, way: str, load: str) -> None:
    axes.set_title(title)
    axes.set_xlabel(way)
    axes.set_ylabel(load)
    axes.axhline(0.0, color=INK, linewidth=0.6)
    axes.margins(y=0.12)
