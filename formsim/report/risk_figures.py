"""Figures of risk: strain paths with the limit curve, and what is used of every limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np

from formsim.report.style import FAINT, INK, LINES, colour, new_figure
from formsim.results.limit_curve import LimitCurve
from formsim.results.risk import RiskReport
from formsim.results.trace import Trace

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from formsim.arrays import Floats

PATHS = 4
"""Strain paths drawn at most: the zones that came nearest to the curve."""

_STYLES = ("-", "-.", ":")

BEYOND = 1.5
"""Part of the curve that is shown, over the largest strain."""


def limit_figure(risks: RiskReport) -> Figure:
    """Strains of the middle of the sheet after the last stage, paths of the worst places, curve."""
    figure = new_figure(7.6, 5.4)
    axes = figure.subplots()
    curve, last = risks.given.curve, risks.whole[-1]
    judged = ~last.ironed
    dots = last.minor[-1, judged], last.major[-1, judged]
    axes.plot(*dots, ".", color=FAINT, markersize=4, label="all places after the last stage")
    paths = [dots]
    for k, (zone, column, share) in enumerate(_critical(risks)):
        minor, major = _path(risks.whole, column)
        paths.append((minor, major))
        label = (
            f"{zone} at {last.way[column]:.1f} mm: {100.0 * share:.0f} % of the way to the curve"
        )
        axes.plot(minor, major, "-", color=colour(k + 1), label=label)
        axes.plot(minor[-1], major[-1], "o", color=colour(k + 1), markersize=4.5)
    if curve is not None:
        _draw_curve(axes, curve, paths)
    axes.set_title("Strain paths of the critical places, up to where they are ironed")
    axes.set_xlabel("minor true strain of the middle of the sheet [-]")
    axes.set_ylabel("major true strain [-]")
    figure.legend(loc="outside lower center", ncols=1)
    return figure


def margin_figure(risks: RiskReport) -> Figure:
    """Share of every limit that is used along the sheet after every stage, 100 % over."""
    panels = list(_panels(risks))
    figure = new_figure(7.6, 1.2 + 2.7 * len(panels))
    for axes, (title, values) in zip(
        figure.subplots(len(panels), squeeze=False)[:, 0], panels, strict=True
    ):
        axes.axhline(100.0, color=INK, linewidth=1.2)
        for k, (trace, share) in enumerate(zip(risks.whole, values, strict=True)):
            style = _STYLES[k // len(LINES) % len(_STYLES)]
            axes.plot(trace.way, 100.0 * share, style, color=colour(k), label=trace.stage)
        axes.set_ylim(bottom=0.0)
        axes.set_xlim(0.0, float(risks.whole[0].way.max()))
        axes.set_title(title)
        axes.set_xlabel("way along the sheet before the first stage [mm]")
        axes.set_ylabel("used of the limit [%]")
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=4)
    return figure


def has_limits(risks: RiskReport) -> bool:
    """Whether a limit along the sheet is given, so that there is a margin to draw."""
    return bool(risks.whole) and bool(list(_panels(risks)))


def _panels(risks: RiskReport) -> Iterator[tuple[str, list[Floats]]]:
    allowed = next((row.limit for row in risks.rows if row.risk == "thinning"), None)
    if risks.given.curve is not None:
        title = "Way to the limit curve, largest of each stage (gaps: ironed, or beyond the curve)"
        yield title, [trace.worst_share for trace in risks.whole]
    if risks.law.critical is not None:
        title = f"Damage, {risks.law.name}, critical {risks.law.critical:.3g}"
        yield title, [trace.damage[-1] / (risks.law.critical or 1.0) for trace in risks.whole]
    if allowed is not None:
        title = f"Thinning, {allowed:g} % allowed"
        yield title, [np.maximum(t.thinned, 0.0) / allowed for t in risks.whole]


def _critical(risks: RiskReport) -> list[tuple[str, int, float]]:
    """Zone, column and share of the places nearest to the curve, or of the largest major strain.

    Columns keep their number through all stages: a trim takes off the last ones only.
    """
    best: dict[str, tuple[int, float]] = {}
    last = risks.whole[-1]
    for trace in risks.whole:
        share = trace.worst_share[: len(last.way)]
        for column in np.flatnonzero(~np.isnan(share)):
            zone, value = last.zones[column], float(share[column])
            if zone not in best or value > best[zone][1]:
                best[zone] = int(column), value
    ordered = sorted(best.items(), key=lambda entry: -entry[1][1])[:PATHS]
    return [(zone, column, share) for zone, (column, share) in ordered]


def _path(traces: tuple[Trace, ...], column: int) -> tuple[Floats, Floats]:
    """Minor and major strain of a column through all stages, up to where it is ironed."""
    share = np.concatenate([trace.share[:, column] for trace in traces])
    ends = np.flatnonzero(np.isnan(share))
    last = int(ends[0]) if ends.size else len(share)
    minor, major = (
        np.concatenate([values[:, column] for values in strains])[:last]
        for strains in ([t.minor for t in traces], [t.major for t in traces])
    )
    return minor, major


def _draw_curve(axes: Axes, curve: LimitCurve, paths: Sequence[tuple[Floats, Floats]]) -> None:
    """Limit curve, going on at constant thickness on the left, in a frame around the paths."""
    label = "\n".join(wrap(curve.source, 100))
    axes.plot(curve.minor, curve.major, "-", color=INK, linewidth=1.8, label=label)
    level = float(np.interp(0.0, curve.minor, curve.major))
    minor, major = (np.concatenate([path[k] for path in paths]) for k in (0, 1))
    left = 1.1 * min(float(minor.min()), float(curve.minor[0])) - 0.01
    ends = [left, curve.minor[0]], [curve.major[0] + curve.minor[0] - left, curve.major[0]]
    label = "continued at constant thickness"
    axes.plot(*ends, "--", color=INK, linewidth=1.0, label=label)
    axes.set_xlim(left, 1.1 * max(float(minor.max()), BEYOND * level))
    axes.set_ylim(0.0, 1.08 * max(float(major.max()), BEYOND * level))
    axes.axvline(0.0, color=INK, linewidth=0.6)
