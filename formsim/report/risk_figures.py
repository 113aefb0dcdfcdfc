"""Figures of risk: strain paths with the limit curve, and what is used of every limit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np

from formsim.report.style import FAINT, INK, LINES, colour, new_figure
from formsim.results.limit_curve import LimitCurve
from formsim.results.risk import RiskReport, judged
from formsim.results.trace import Trace

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from formsim.arrays import Floats

PATHS = 4
"""Strain paths drawn at most: the zones that came nearest to the curve."""

_BREAK = {True: "\n", False: ": "}
_STYLES = ("-", "-.", ":")

SHORTEST = 0.05
"""Share below which no straight way is drawn: it would leave the figure."""

NARROW, WIDE = 0.015, 0.12
"""Shares of the sheet: zones narrower than the first stay without a name, wider have it level."""

PAPER = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 0.6}
"""Ground of words that may lie on lines."""

BEYOND = 1.5
"""Part of the curve that is shown, over the largest strain."""


def limit_figure(risks: RiskReport) -> Figure:
    """Strains of the middle of the sheet after the last stage, paths of the worst places, curve."""
    figure = new_figure(7.6, 5.4)
    axes = figure.subplots()
    curve, last = risks.given.curve, risks.whole[-1]
    free = ~last.ironed
    dots = last.minor[-1, free], last.major[-1, free]
    axes.plot(*dots, ".", color=FAINT, markersize=4, label="all places after the last stage")
    paths = [dots]
    for k, place in enumerate(_critical(risks)):
        minor, major = _path(risks.whole, place.column)
        paths.append((minor, major))
        ways = f"{_percent(place.straight)} straight, {_percent(place.level)} at equal minor strain"
        verdict = judged(1.0 - place.share, risks.watch_percent)
        label = f"{place.zone} at {last.way[place.column]:.1f} mm: {verdict}; {ways}"
        axes.plot(minor, major, "-", color=colour(k + 1), label=label)
        axes.plot(minor[-1], major[-1], "o", color=colour(k + 1), markersize=4.5)
        _name_point(axes, (minor[-1], major[-1]), f"{place.zone}: {verdict}", k)
        _draw_ways(axes, place, colour(k + 1))
    axes.plot([], [], ":", color=INK, linewidth=0.9, label="the two ways to the curve")
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
    near = 100.0 - risks.watch_percent
    for axes, (risk, title, values) in zip(
        figure.subplots(len(panels), squeeze=False)[:, 0], panels, strict=True
    ):
        axes.axhline(100.0, color=INK, linewidth=1.2, label="over from here on")
        axes.axhline(near, color=INK, linewidth=0.9, linestyle="--", label="watch from here on")
        for k, (trace, share) in enumerate(zip(risks.whole, values, strict=True)):
            style = _STYLES[k // len(LINES) % len(_STYLES)]
            axes.plot(trace.way, 100.0 * share, style, color=colour(k), label=trace.stage)
        axes.set_ylim(0.0, 1.5 * axes.dataLim.y1)
        _name_zones(axes, risks.whole[-1], _verdicts(risks, risk))
        axes.set_xlim(0.0, float(risks.whole[0].way.max()))
        axes.set_title(title)
        axes.set_xlabel("way along the sheet before the first stage [mm]")
        axes.set_ylabel("used of the limit [%]")
    handles, labels = axes.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=4)
    return figure


def _verdicts(risks: RiskReport, risk: str) -> dict[str, str]:
    """Verdict on a risk where it is worst, by zone."""
    return {row.zone: row.verdict for row in risks.worst if row.risk == risk}


def _name_point(axes: Axes, at: tuple[float, float], text: str, number: int) -> None:
    """A word beside a point, on either side in turn, since worst places lie close together."""
    right = number % 2 == 0
    axes.annotate(
        text,
        at,
        xytext=(7 if right else -7, 1 - 12 * (number // 2)),
        textcoords="offset points",
        ha="left" if right else "right",
        color=colour(number + 1),
        fontsize=8,
        bbox=PAPER,
    )


def _name_zones(axes: Axes, trace: Trace, verdicts: Mapping[str, str]) -> None:
    """Names of the zones after the last stage along the sheet, with their ends and verdicts."""
    names = np.array(trace.zones)
    starts = [0, *(np.flatnonzero(names[1:] != names[:-1]) + 1), len(names)]
    length = float(np.ptp(trace.way))
    for first, end in zip(starts, starts[1:], strict=False):
        low, high = trace.way[first], trace.way[end - 1]
        if first:
            axes.axvline(float(low), color=FAINT, linewidth=0.8)
        if high - low < NARROW * length:
            continue
        level = high - low > WIDE * length
        verdict = verdicts.get(str(names[first]), "")
        axes.text(
            0.5 * float(low + high),
            0.98,
            f"{names[first]}{_BREAK[level]}{verdict}" if verdict else names[first],
            transform=axes.get_xaxis_transform(),
            rotation=0 if level else 90,
            ha="center",
            va="top",
            fontsize=7.5,
            bbox=PAPER,
        )


def has_limits(risks: RiskReport) -> bool:
    """Whether a limit along the sheet is given, so that there is a margin to draw."""
    return bool(risks.whole) and bool(list(_panels(risks)))


def _panels(risks: RiskReport) -> Iterator[tuple[str, str, list[Floats]]]:
    """Risk, title and shares used after every stage, of each limit along the sheet."""
    allowed = next((row.limit for row in risks.rows if row.risk == "thinning"), None)
    if risks.given.curve is not None:
        title = "Limit curve, the more severe reading, largest of each stage (gaps: none holds)"
        yield "limit curve", title, [trace.worst_share for trace in risks.whole]
    if risks.law.critical is not None:
        title = f"Damage, {risks.law.name}, critical {risks.law.critical:.3g}"
        critical = risks.law.critical
        yield "damage", title, [trace.damage[-1] / critical for trace in risks.whole]
    if allowed is not None:
        title = f"Thinning, {allowed:g} % allowed"
        yield "thinning", title, [np.maximum(t.thinned, 0.0) / allowed for t in risks.whole]


@dataclass(frozen=True)
class _Place:
    """A place where it was nearest to the limit curve, by the more severe reading."""

    zone: str
    column: int
    straight: float
    level: float
    minor: float
    major: float

    @property
    def share(self) -> float:
        """The more severe reading [-]."""
        return float(np.fmax(self.straight, self.level))


def _critical(risks: RiskReport) -> list[_Place]:
    """Places nearest to the curve, one in every zone, that of the largest share first.

    Columns keep their number through all stages: a trim takes off the last ones only.
    """
    best: dict[str, _Place] = {}
    last = risks.whole[-1]
    for trace in risks.whole:
        share = trace.worst_share[: len(last.way)]
        for column in np.flatnonzero(~np.isnan(share)):
            zone, value = last.zones[column], float(share[column])
            if zone not in best or value > best[zone].share:
                best[zone] = _place(trace, zone, int(column))
    ordered = sorted(best.values(), key=lambda place: -place.share)
    return [place for place in ordered if place.share > 0.0][:PATHS]


def _place(trace: Trace, zone: str, column: int) -> _Place:
    state = trace.nearest[column]
    values = (trace.straight, trace.level, trace.minor, trace.major)
    return _Place(zone, column, *(float(one[state, column]) for one in values))


def _draw_ways(axes: Axes, place: _Place, ink: str) -> None:
    """The straight way from zero over a place to the curve, and that at equal minor strain."""
    if np.isfinite(place.straight) and place.straight > SHORTEST:
        far = max(1.0, 1.0 / place.straight)
        axes.plot([0.0, far * place.minor], [0.0, far * place.major], ":", color=ink, linewidth=0.9)
    if np.isfinite(place.level) and place.level > 0.0:
        ends = place.major, place.major / place.level
        axes.plot([place.minor] * 2, ends, ":", color=ink, linewidth=0.9)


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %" if share > 0.0 else "-"


def _path(traces: tuple[Trace, ...], column: int) -> tuple[Floats, Floats]:
    """Minor and major strain of a column through all stages, up to where it is ironed."""
    squeezed = np.concatenate([trace.squeezed[:, column] for trace in traces])
    ends = np.flatnonzero(squeezed)
    last = int(ends[0]) if ends.size else len(squeezed)
    minor, major = (
        np.concatenate([values[:, column] for values in strains])[:last]
        for strains in ([t.minor for t in traces], [t.major for t in traces])
    )
    return minor, major


def _draw_curve(axes: Axes, curve: LimitCurve, paths: Sequence[tuple[Floats, Floats]]) -> None:
    """Limit curve, going on at constant thickness on the left, in a frame around the paths."""
    label = "\n".join(wrap(curve.source, 100))
    k = curve.added
    axes.plot(curve.minor[k:], curve.major[k:], "-", color=INK, linewidth=1.8, label=label)
    level = float(np.interp(0.0, curve.minor, curve.major))
    minor, major = (np.concatenate([path[k] for path in paths]) for k in (0, 1))
    left = 1.1 * min(float(minor.min()), float(curve.minor[0])) - 0.01
    minors = [left, *curve.minor[: k + 1]]
    majors = [curve.major[0] + curve.minor[0] - left, *curve.major[: k + 1]]
    label = f"continued {'level to tension, then ' if k else ''}at constant thickness"
    axes.plot(minors, majors, "--", color=INK, linewidth=1.0, label=label)
    axes.set_xlim(left, 1.1 * max(float(minor.max()), BEYOND * level))
    axes.set_ylim(0.0, 1.08 * max(float(major.max()), BEYOND * level))
    axes.axvline(0.0, color=INK, linewidth=0.6)
