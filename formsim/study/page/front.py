"""Two numbers that pull against each other: which variants no other one beats in both."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from formsim.arrays import Bools, Floats, Ints
from formsim.report.comparison.numbers import LESS, MORE
from formsim.report.page_pictures import Picture, drawn_picture
from formsim.report.style import FAINT, INK, LINES, TOOL_EDGE, drawable, new_figure, svg_of
from formsim.study.page.numbers import Number, Points, follows, is_limited, margin_of
from formsim.study.page.outcome import ranges

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LABELS = 12
"""Most variants of a front that have their number beside them."""


class Front(NamedTuple):
    """Two numbers and the variants no other beats in both.

    Attributes
    ----------
    told : which numbers these are, why, and among which variants
    rows : of the front, in the order of the first number
    judged : variants it was looked for among, (variants)
    picture : both numbers against each other
    """

    told: str
    rows: tuple[int, ...]
    picture: Picture


def front_of(points: Points, mass: Number) -> Front | None:
    """Mass against least margin, else the first two measures that pull against each other.

    None where no two numbers with a better way vary among variants that may be compared.
    """
    among = points.good if points.good.any() else points.reject
    pair, why = _pair(points, mass, among)
    if pair is None:
        return None
    x, y = pair
    rows = unbeaten(np.column_stack([-x.better * x.values, -y.better * y.values]), among)
    order = tuple(int(k) for k in rows[np.argsort(x.values[rows], kind="stable")])
    numbers = sorted(points.number[k] for k in order)
    whom = "that keep all limits" if points.good.any() else "that were judged; none keeps all"
    if not is_limited(points):
        whom = "that were judged, with no limit given"
    told = (
        f"Here: {_way(x)}, and {_way(y)}{why}. Among the variants {whom}, {ranges(numbers)}"
        f" {'is' if len(numbers) == 1 else 'are'} beaten in both by no other."
    )
    caption = f"{y.name} against {x.name}; variants beaten in both are faint"
    make = partial(_figure, points, pair, order, among)
    return Front(told, order, drawn_picture(svg_of(make), caption, f"{caption}. {told}"))


def _pair(points: Points, mass: Number, among: Bools) -> tuple[tuple[Number, Number] | None, str]:
    margin = margin_of(points)
    if margin is not None and _varies(mass, among) and _varies(margin, among):
        return (mass, margin), ""
    able = [one for one in points.measures if one.better and _varies(one, among)]
    lack = _lack(mass, margin, among)
    why = f", the first that pull against each other, since {lack}"
    pairs = [two for two in combinations(able, 2) if not follows(*two, among)]
    for x, y in pairs:
        if _against(x, y, among):
            return (x, y), why
    why = f", the first with a better way, since {lack}"
    return (pairs[0], why) if pairs else (None, "")


def _lack(mass: Number, margin: Number | None, among: Bools) -> str:
    """Why mass and margin are not the two."""
    if not np.isfinite(mass.values[among]).any():
        return "there is no mass in the table"
    if margin is None:
        return "no limit is given, so there is no margin"
    return f"{'the margin' if _varies(mass, among) else 'the mass'} does not vary here"


def _varies(one: Number, among: Bools) -> bool:
    return one._replace(values=one.values[among]).moves


def _against(x: Number, y: Number, among: Bools) -> bool:
    """Whether more than one variant is beaten by no other."""
    both = np.column_stack([-x.better * x.values, -y.better * y.values])
    rows = unbeaten(both, among)
    return len(np.unique(both[rows], axis=0)) > 1


def unbeaten(less: Floats, among: Bools) -> Ints:
    """Rows of a Pareto front.

    Parameters
    ----------
    less : (n, numbers), each the better the less; rows with a gap are left out
    among : rows that count, (n)

    Returns
    -------
    Rows for which no other is as good in all numbers and better in one.

    Source: K. Deb, Multi-Objective Optimization using Evolutionary Algorithms, 2001, definition
    of domination (memory).
    """
    rows = np.flatnonzero(among & np.isfinite(less).all(axis=1))
    there = less[rows]
    beaten = np.array(
        [bool(((there <= one).all(axis=1) & (there < one).any(axis=1)).any()) for one in there],
        dtype=bool,
    )
    front: Ints = rows[~beaten]
    return front


def _way(one: Number) -> str:
    return f"{one.name}, the {'less' if one.better == LESS else 'more'} the better"


def _figure(
    points: Points, pair: tuple[Number, Number], front: tuple[int, ...], among: Bools
) -> Figure:
    x, y = pair
    figure = new_figure(7.0, 4.4)
    axes = figure.subplots()
    for rows, mark, ink, face, told in _looks(points, among, front):
        there = rows & np.isfinite(x.values) & np.isfinite(y.values)
        if there.any():
            axes.plot(
                x.values[there], y.values[there], linestyle="none", marker=mark, color=ink,
                markerfacecolor=face, markersize=5.0, label=told,
            )  # fmt: skip
    line = list(front)
    axes.plot(x.values[line], y.values[line], color=LINES[0], linewidth=0.9, linestyle=":")
    axes.margins(0.07)
    _numbers(axes, points, pair, front)
    axes.set_xlabel(drawable(f"{x.name}, better {_side(x, 'left', 'right')}"))
    axes.set_ylabel(drawable(f"{y.name}, better {_side(y, 'below', 'above')}"))
    figure.legend(loc="outside lower center", ncols=4, fontsize=8.0)
    return figure


def _side(one: Number, less: str, more: str) -> str:
    return more if one.better == MORE else less


def _looks(
    points: Points, among: Bools, front: tuple[int, ...]
) -> Iterator[tuple[Bools, str, str, str, str]]:
    """Rows with mark, colours of edge and face, and label."""
    best = np.zeros(len(among), dtype=bool)
    best[list(front)] = True
    drawn = points.drawn
    rest = among & ~best & drawn
    yield rest, "o", TOOL_EDGE, FAINT, "beaten in both"
    yield points.reject & ~among & drawn, "v", TOOL_EDGE, "white", "reject"
    yield points.untrusted & drawn, "x", INK, INK, "not trusted"
    yield best, "o", LINES[0], LINES[0], "beaten by none"


def _numbers(
    axes: Axes, points: Points, pair: tuple[Number, Number], front: tuple[int, ...]
) -> None:
    """Numbers of the variants of a front, the first at each place, where many evenly chosen."""
    x, y = pair
    places: dict[tuple[float, float], int] = {}
    for k in front:
        places.setdefault((float(x.values[k]), float(y.values[k])), k)
    step = max(1, -(-len(places) // LABELS))
    for place, k in list(places.items())[::step]:
        axes.annotate(
            str(points.number[k]),
            place,
            (5, 5),
            textcoords="offset points",
            fontsize=7.0,
            color=INK,
        )
