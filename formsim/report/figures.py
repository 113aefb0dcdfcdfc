"""Figures of a run: sections, thickness along the sheet, forces over the stroke."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from formsim.arrays import Floats
from formsim.report.risk_figures import has_limits, limit_figure, margin_figure
from formsim.report.section import section_figure
from formsim.report.springback import springback_figure, springs_back
from formsim.report.strength_figure import strength_figure
from formsim.report.style import INK, LINES, colour, new_figure, save_figure
from formsim.results.curve import starts_flat, way_name
from formsim.results.forces import force_curves
from formsim.results.ironing import mean_force
from formsim.results.record import Line, StageRecord
from formsim.results.risk import RiskReport
from formsim.results.thickness import thickness_profile

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LONG = 12
"""Entries of a legend below the axes beyond which it has two columns."""

_SOLID = ("-", "-.", ":")

MANY = 6
"""Entries of a legend beyond which it stands beside the axes, not over the curves."""

Theory = tuple[str, Floats, Floats]
"""Label, way along the sheet at the start [mm] and thickness [mm] of a curve from theory."""


def save_figures(
    line: Line,
    place: Callable[[str], Path],
    theory: Sequence[Theory] = (),
    risks: RiskReport | None = None,
) -> list[Path]:
    """Save all figures of a run as SVG and PNG.

    Parameters
    ----------
    place : path without ending for the name of a figure
    theory : curves beside the computed thickness
    risks : of the line, for the figures of its limits; left out where there is no limit
    """
    made: list[Path] = []
    for k, record in enumerate(line.stages):
        path = place(f"section-{k + 1}-{record.name}")
        made += save_figure(partial(section_figure, line, k), path)
        if springs_back(line, k):
            path = place(f"springback-{k + 1}-{record.name}")
            made += save_figure(partial(springback_figure, line, k), path)
        if record.increments:
            path = place(f"forces-{k + 1}-{record.name}")
            made += save_figure(partial(force_figure, record), path)
        if record.gauges:
            path = place(f"strength-{k + 1}-{record.name}")
            made += save_figure(partial(strength_figure, record), path)
    made += save_figure(partial(thickness_figure, line, theory), place("thickness"))
    if risks is not None and has_limits(risks):
        made += save_figure(partial(margin_figure, risks), place("margin"))
        if risks.given.curve is not None:
            made += save_figure(partial(limit_figure, risks), place("limit-curve"))
    return made


def thickness_figure(line: Line, theory: Sequence[Theory] = ()) -> Figure:
    """Thickness after every stage along the sheet as it was at the start, theory dashed.

    Bodies that were tested until they gave way are left out.
    """
    made = [record for record in line.stages if not record.specimen] or list(line.stages)
    entries = len(made) + len(theory)
    columns = 1 if entries <= LONG else 2
    figure = new_figure(7.6 if columns == 1 else 8.6, 4.2 + 0.19 * math.ceil(entries / columns))
    axes = figure.subplots()
    axes.axhline(line.thickness, color=INK, linewidth=0.8, linestyle=":")
    _name_blank(axes, line.thickness)
    for k, record in enumerate(made):
        profile = thickness_profile(record.body, record.final)
        way, thickness = profile.way, profile.thickness
        low = int(thickness.argmin())
        place = f"{'R ' if starts_flat(record.body) else ''}{way[low]:.1f} mm"
        label = f"{record.condition}: least {thickness[low]:.4f} mm at {place}"
        axes.plot(way, thickness, _SOLID[k // len(LINES) % 3], color=colour(k), label=label)
        axes.plot(way[low], thickness[low], "o", color=colour(k), markersize=4.5)
    for j, (label, way, thickness) in enumerate(theory, start=len(made)):
        axes.plot(way, thickness, "--", color=colour(j), linewidth=1.1, label=label)
    axes.set_xlim(0.0, line.length)
    axes.set_xlabel(way_name(line.blank))
    axes.set_ylabel("thickness [mm]")
    axes.set_title("Thickness along the sheet")
    axes.margins(y=0.12)
    second = axes.secondary_yaxis(
        "right", functions=(partial(_thinning, line.thickness), partial(_left, line.thickness))
    )
    second.set_ylabel("thinning [%]")
    figure.legend(loc="outside lower center", ncols=columns)
    return figure


def _thinning(blank: float, thickness: Any) -> Floats:
    percent: Floats = 100.0 * (1.0 - np.asarray(thickness) / blank)
    return percent


def _left(blank: float, percent: Any) -> Floats:
    thickness: Floats = blank * (1.0 - np.asarray(percent) / 100.0)
    return thickness


def force_figure(record: StageRecord) -> Figure:
    """Force of every tool, and fluid pressure, over the stroke of a stage that has increments."""
    figure = new_figure(7.6, 3.6)
    _draw_forces(figure.subplots(), record)
    return figure


def _draw_forces(axes: Axes, record: StageRecord) -> None:
    curves = force_curves(record)
    for j, tool in enumerate(curves.tools):
        force = np.abs(curves.force[:, j]) * 1e-3
        style = "-" if j < len(LINES) else "-."
        axes.plot(curves.stroke, force, style, color=colour(j), label=tool)
        _mark_peak(axes, curves.stroke, force, colour(j))
        if tool.startswith("ring"):
            _draw_mean(axes, record, tool, colour(j))
    for j in range(curves.pressure.shape[1]):
        axes.plot(curves.stroke, curves.pressure[:, j], color=colour(j + 2), label="fluid [MPa]")
    stroke = curves.stroke[-1]
    stopped = "" if record.complete else f", stopped at stroke {stroke:.3f} mm ({record.ending})"
    what = "force" if curves.tools else "pressure"
    axes.set_title(f"{record.name}: {what} over the stroke{stopped}")
    axes.set_xlabel("stroke [mm]")
    axes.set_ylabel("force [kN]" if curves.tools else "pressure [MPa]")
    axes.set_xlim(left=float(curves.stroke.min()))
    axes.set_ylim(0.0, 1.08 * axes.get_ylim()[1])
    if len(axes.get_legend_handles_labels()[0]) > MANY:
        axes.legend(loc="upper left", bbox_to_anchor=(1.01, 1.0))
    else:
        axes.legend(loc="best")


def _draw_mean(axes: Axes, record: StageRecord, ring: str, ink: str) -> None:
    """Mean force of a ring over its work; its peak at the exit depends on the mesh."""
    mean = mean_force(record, ring)
    if mean is None:
        return
    value = 1e-3 * mean.force
    label = f"{ring}, mean {value:.2f} kN"
    axes.plot([mean.first, mean.last], [value, value], "--", color=ink, linewidth=1.1, label=label)


def _name_blank(axes: Axes, thickness: float) -> None:
    axes.annotate(
        "blank",
        (0.99, thickness),
        (0, 3),
        xycoords=axes.get_yaxis_transform(),
        textcoords="offset points",
        ha="right",
        fontsize=8.0,
    )


def _side(share: float) -> Literal["left", "center", "right"]:
    """Alignment that keeps a text beside a place inside the axes."""
    if share < 0.1:
        return "left"
    return "right" if share > 0.9 else "center"


def _mark_peak(axes: Axes, stroke: Floats, force: Floats, ink: str) -> None:
    """Dot and value at the largest of the rows of a curve."""
    top = int(force.argmax())
    if force[top] <= 0.0:
        return
    axes.plot(stroke[top], force[top], "o", color=ink, markersize=4.0)
    axes.annotate(
        f"{force[top]:.2f}",
        (stroke[top], force[top]),
        (0, 4),
        textcoords="offset points",
        ha=_side(float((stroke[top] - stroke[0]) / (stroke[-1] - stroke[0]))),
        color=ink,
        fontsize=8.0,
    )
