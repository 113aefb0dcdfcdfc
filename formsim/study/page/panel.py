"""One panel: a number of a study against another, group by group, with its limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.report.comparison.pens import STYLES
from formsim.report.style import INK, LINES, colour, drawable
from formsim.study.page.numbers import Number, Points

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARKS = ("o", "s", "^", "D", "v", "P", "X", "h", "<", ">")
"""One mark for each group."""

NEAR = 0.5
"""Heights of the data within which a limit is still drawn beside them."""

FEW = 9
"""Most lines of a panel that are told by the value of the other input at their ends."""

ALARM = LINES[1]
SMALL, MANY = 3.6, 60
"""Size of a mark [pt]; number of variants beyond which marks are smaller."""


def draw_panel(axes: Axes, points: Points, x: Number, y: Number, *, joined: bool) -> None:
    """Draw a number against an input.

    Parameters
    ----------
    joined : whether lines join variants that differ in this input alone
    """
    others = [one for one in points.inputs if one is not x]
    for k, group in enumerate(points.groups):
        ink, rows = colour(k), group.rows & points.drawn
        if joined:
            _lines(axes, rows, (x, y), others, k)
        _dots(axes, x, y, rows & points.reject, k, ink, "white")
        _dots(axes, x, y, rows & ~points.reject & ~points.untrusted, k, ink, ink)
    _dots(axes, x, y, points.untrusted & points.drawn, "x", INK, INK)
    axes.margins(0.06)
    _without(axes, x, y)
    draw_limits(axes, y)


def _lines(
    axes: Axes, rows: Bools, both: tuple[Number, Number], others: Sequence[Number], k: int
) -> None:
    """Lines through variants that share all other inputs; broken where a number is missing."""
    x, y = both
    found = list(_rows_of_lines(x.values, rows, others))
    for line in found:
        axes.plot(
            x.values[line],
            y.values[line],
            linestyle=STYLES[k % len(STYLES)],
            color=colour(k),
            linewidth=1.1 if len(found) <= FEW else 0.6,
        )
    if len(others) == 1 and 1 < len(found) <= FEW:
        for line in found:
            _tell(axes, x.values[line], y.values[line], float(others[0].values[line[0]]))


def _rows_of_lines(x: Floats, rows: Bools, others: Sequence[Number]) -> Iterator[Floats]:
    there = np.flatnonzero(rows & np.isfinite(x))
    keys: dict[tuple[float, ...], list[int]] = {}
    for row in there:
        keys.setdefault(tuple(float(one.values[row]) for one in others), []).append(int(row))
    for some in keys.values():
        if len(some) > 1:
            yield np.array(some)[np.argsort(x[some], kind="stable")]


def _tell(axes: Axes, x: Floats, y: Floats, value: float) -> None:
    there = np.flatnonzero(np.isfinite(y))
    if len(there):
        place = (float(x[there[-1]]), float(y[there[-1]]))
        axes.annotate(
            f"{value:.4g}", place, (4, 0), textcoords="offset points", va="center", fontsize=6.5
        )


def _dots(
    axes: Axes, x: Number, y: Number, rows: Bools, mark: int | str, ink: str, face: str
) -> None:
    there = rows & np.isfinite(x.values) & np.isfinite(y.values)
    if not there.any():
        return
    size = SMALL if len(rows) <= MANY else 0.75 * SMALL
    axes.plot(
        x.values[there],
        y.values[there],
        linestyle="none",
        marker=MARKS[mark % len(MARKS)] if isinstance(mark, int) else mark,
        color=ink,
        markerfacecolor=face,
        markersize=size if isinstance(mark, int) else size + 1.6,
        markeredgewidth=0.8 if isinstance(mark, int) else 1.2,
        zorder=3,
    )


def _without(axes: Axes, x: Number, y: Number) -> None:
    """Marks on the axis where a variant came to no number; arrows where that is far away."""
    gaps = x.values[np.isfinite(x.values) & ~np.isfinite(y.values)]
    left, right = axes.get_xlim() if axes.lines else (-np.inf, np.inf)
    reach = NEAR * (right - left)
    near = (gaps >= left - reach) & (gaps <= right + reach)
    far = np.clip(gaps[~near], left, right)
    for places, mark in ((gaps[near], "x"), (far[far == left], "<"), (far[far == right], ">")):
        if not len(places):
            continue
        axes.plot(
            np.unique(places),
            np.zeros(len(np.unique(places))),
            linestyle="none",
            marker=mark,
            color=ALARM,
            markersize=5.0,
            clip_on=False,
            zorder=4,
            transform=axes.get_xaxis_transform(),
        )


def draw_limits(axes: Axes, one: Number, *, upright: bool = False) -> None:
    """Limits of a number as dashed lines; one that is far away is told in words."""
    low, high = axes.get_xlim() if upright else axes.get_ylim()
    height, told = high - low, []
    for limit in (one.low, one.high):
        if limit is None:
            continue
        if low - NEAR * height <= limit <= high + NEAR * height:
            draw = axes.axvline if upright else axes.axhline
            draw(limit, color=INK, linewidth=1.0, linestyle=(0, (4, 2)), zorder=2)
        else:
            where = "below" if limit < low else "above"
            told.append(f"limit {limit:.4g}, far {where}")
    if told:
        axes.set_title("; ".join(told), fontsize=7.0, fontweight="normal", loc="right")


def legend_of(figure: Figure, points: Points, shown: Sequence[Number]) -> None:
    """Legend of groups, verdicts and marks below the panels, of what is there only."""
    handles = [*_group_handles(points), *_verdict_handles(points, shown)]
    if handles:
        columns = max(1, min(4, int(figure.get_figwidth() / 2.4)))
        figure.legend(handles=handles, loc="outside lower center", ncols=columns, fontsize=8.0)


def _group_handles(points: Points) -> Iterator[Artist]:
    if len(points.groups) < 2:
        return
    for k, group in enumerate(points.groups):
        line = "none" if points.sampled else STYLES[k % len(STYLES)]
        yield _handle(
            drawable(group.label), marker=MARKS[k % len(MARKS)], color=colour(k), linestyle=line
        )


def _verdict_handles(points: Points, shown: Sequence[Number]) -> Iterator[Artist]:
    seen = np.logical_or.reduce([np.isfinite(one.values) for one in shown])
    if (points.reject & seen).any():
        yield _handle("reject", marker="o", color=INK, markerfacecolor="white", linestyle="none")
    if (points.untrusted & seen).any():
        yield _handle("not trusted", marker="x", color=INK, linestyle="none")
    if any(not np.isfinite(one.values).all() for one in shown):
        yield _handle(
            "on the axis: no number (arrow: farther out)", marker="x", color=ALARM, linestyle="none"
        )
    if any(limit is not None for one in shown for limit in (one.low, one.high)):
        yield _handle("limit", color=INK, linestyle=(0, (4, 2)))


def _handle(label: str, **look: Any) -> Artist:
    from matplotlib.lines import Line2D

    return Line2D([], [], label=label, markersize=4.5, linewidth=1.1, **look)
