"""Figures of a comparison: curves of all results on common axes."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from formsim.arrays import Floats
from formsim.report.comparison import curves
from formsim.report.comparison.side import Side
from formsim.report.comparison.stages import Aligned
from formsim.report.style import INK, colour, new_figure, plain

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

STYLES = ("-", (0, (5, 1.5)), (0, (1.2, 1.2)), (0, (6, 1.5, 1.2, 1.5)), (0, (9, 1.5, 3, 1.5)))
"""Lines, dashed in ways that stay apart; with six colours no pair comes twice in 30 results."""

LONGEST = 46
"""Letters of a label in a legend."""

SMALL = 0.02
"""Share of the largest force of a stage below which a tool has no curve of its own."""

NEAR = 14.0
"""Half width of the enlarged place in thicknesses."""

NARROW = 44
"""Letters in a line of the title over the sections."""

_DRAWN = 0x0590
"""First letter that the font of the figures may not have, or that is written from the right."""


class Planned(NamedTuple):
    """A figure to be made: its file name, stage, what it shows, and how it is made.

    ``stage`` is empty where it shows the parts.
    """

    name: str
    stage: str
    caption: str
    make: Callable[[], Figure]


def planned(sides: Sequence[Side], aligned: Aligned, short: Sequence[str]) -> list[Planned]:
    """Figures of a comparison in the order of the page."""
    labels = [legend_label(side, told) for side, told in zip(sides, short, strict=True)]
    last = [list(side.stages())[-1][0] if side.stages() else "" for side in sides]
    found = []
    if aligned.part is not None:
        last = [aligned.part[0]] * len(sides)
    after = f"after {last[0]}" if len(set(last)) == 1 else "after the last stage of each"
    found += [
        Planned(
            "thickness",
            "",
            f"Thickness along the sheet {after}",
            partial(thickness_figure, sides, last, labels, f"Thickness along the sheet {after}"),
        ),
        Planned(
            "section",
            "",
            f"Sections {after}, lowest places at one height",
            partial(section_figure, sides, last, labels, f"Sections {after}"),
        ),
    ]
    for number, (name, kind) in enumerate(aligned.shared, start=1):
        of = [k for k, side in enumerate(sides) if (name, kind) in side.stages()]
        some, named = [sides[k] for k in of], [labels[k] for k in of]
        found += _of_stage(f"{number}-{name}", name, some, named)
    return found


def _of_stage(tail: str, name: str, sides: Sequence[Side], labels: Sequence[str]) -> list[Planned]:
    """Figures of one stage; those for which there is nothing are left out."""
    title = f"{name}: thickness along the sheet after it"
    found = []
    if any(curves.thickness(side, name, flat=True) is not None for side in sides):
        make = partial(thickness_figure, sides, [name] * len(sides), labels, title)
        found.append(Planned(f"thickness-{tail}", name, title, make))
    tools = working_tools(sides, name)
    if tools:
        title = f"{name}: force of every tool over the stroke"
        make = partial(force_figure, sides, name, tools, labels)
        found.append(Planned(f"forces-{tail}", name, title, make))
    if any(curves.strain_path(side, name) is not None for side in sides):
        title = f"{name}: strain path of the place with the most damage"
        found.append(
            Planned(f"strain-path-{tail}", name, title, partial(path_figure, sides, name, labels))
        )
    return found


def working_tools(sides: Sequence[Side], stage: str) -> list[str]:
    """Tools that bear more than a small share of the largest force of a stage, and fluids."""
    names = dict.fromkeys(tool for side in sides for tool in curves.tools(side, stage))
    peaks = {}
    for tool in names:
        found = [curves.force(side, stage, tool) for side in sides]
        peaks[tool] = max((float(one[1].max()) for one in found if one is not None), default=0.0)
    forces = [peak for tool, peak in peaks.items() if not curves.is_fluid(tool)]
    least = SMALL * max(forces, default=0.0)
    return [
        tool
        for tool, peak in peaks.items()
        if peak > (0.0 if curves.is_fluid(tool) else least) and peak > 0.0
    ]


def legend_label(side: Side, told: str) -> str:
    """Letter, name and what is different of a result, as a figure can show it."""
    text = f"{side.label}: {told}" if told else side.label
    text = text if len(text) <= LONGEST else f"{text[: LONGEST - 3]}..."
    shown = "".join(one if one.isprintable() and ord(one) < _DRAWN else "?" for one in text)
    return shown.replace("$", r"\$")


def thickness_figure(
    sides: Sequence[Side], stages: Sequence[str], labels: Sequence[str], title: str
) -> Figure:
    """Thickness along the sheet of all results, each after the stage named for it."""
    figure, axes = _one(labels)
    both = list(zip(sides, stages, strict=True))
    flat = all(curves.starts_flat(side, stage) for side, stage in both)
    for k, (side, stage) in enumerate(both):
        found = curves.thickness(side, stage, flat=flat)
        if found is None:
            continue
        place, thick = found
        _draw(axes, place, thick, side, k, labels[k], len(sides))
        low = int(thick.argmin())
        axes.plot(place[low], thick[low], "o", color=_ink(side), markersize=3.5)
    axes.set_xlim(left=0.0)
    axes.margins(y=0.1)
    axes.set_xlabel(curves.FLAT if flat else curves.NOW)
    axes.set_ylabel("thickness [mm]")
    axes.set_title(f"{title} (dot: thinnest)")
    _legend(figure, axes)
    return figure


def section_figure(
    sides: Sequence[Side], stages: Sequence[str], labels: Sequence[str], title: str
) -> Figure:
    """Middles of the sheets over each other, and both faces where the first is thinnest."""
    figure = new_figure(10.0, 5.0 + _rows(labels, 3) * 0.19)
    whole, near = figure.subplots(1, 2, width_ratios=(1.25, 1.0))
    both = [(side, curves.section(side, at)) for side, at in zip(sides, stages, strict=True)]
    found = [(k, side, one) for k, (side, one) in enumerate(both) if one is not None]
    for k, side, (radius, height, thick) in found:
        _draw(whole, radius, height, side, k, labels[k], len(sides))
        for face in _faces(radius, height, thick):
            near.plot(*face, linestyle=_style(side), color=_ink(side), linewidth=1.0)
    for axes in (whole, near):
        plain(axes)
        axes.set_xlabel("radius [mm]")
    whole.set_ylabel("height over the lowest place [mm]")
    whole.set_xlim(left=0.0)
    whole.set_title(textwrap.fill(title, NARROW))
    for _, side, one in found[:1]:
        _zoom(whole, near, side, one)
    _legend(figure, whole, columns=3)
    return figure


def force_figure(
    sides: Sequence[Side], stage: str, tools: Sequence[str], labels: Sequence[str]
) -> Figure:
    """One diagram per tool: its force, or pressure of a fluid, over the stroke."""
    figure = new_figure(7.6, 0.6 + 2.5 * len(tools) + 0.19 * _rows(labels))
    every = figure.subplots(len(tools), squeeze=False)[:, 0]
    for axes, tool in zip(every, tools, strict=True):
        for k, side in enumerate(sides):
            found = curves.force(side, stage, tool)
            if found is not None:
                _draw(axes, *found, side, k, labels[k], len(sides))
        axes.set_title(f"{stage}: {tool}")
        axes.set_xlabel("stroke [mm]")
        axes.set_ylabel("pressure [MPa]" if curves.is_fluid(tool) else "force [kN]")
        axes.set_ylim(bottom=0.0)
        axes.margins(x=0.0)
    _legend(figure, *every)
    return figure


def path_figure(sides: Sequence[Side], stage: str, labels: Sequence[str]) -> Figure:
    """Major over minor true strain of the place with the most damage."""
    figure, axes = _one(labels)
    for k, side in enumerate(sides):
        found = curves.strain_path(side, stage)
        if found is None:
            continue
        label = f"{labels[k]}, at {found.place:.1f} mm"
        _draw(axes, found.minor, found.major, side, k, label, len(sides))
        axes.plot(found.minor[-1], found.major[-1], "o", color=_ink(side), markersize=3.5)
    axes.axvline(0.0, color=INK, linewidth=0.6)
    axes.margins(0.08)
    axes.set_xlabel("minor true strain of the middle of the sheet [-]")
    axes.set_ylabel("major true strain [-]")
    axes.set_title(f"{stage}: strain path of the place with the most damage (dot: end)")
    _legend(figure, axes)
    return figure


def _one(labels: Sequence[str]) -> tuple[Figure, Axes]:
    figure = new_figure(7.6, 4.0 + 0.19 * _rows(labels))
    return figure, figure.subplots()


def _rows(labels: Sequence[str], columns: int = 2) -> int:
    return math.ceil(len(labels) / columns)


def _draw(axes: Axes, x: Floats, y: Floats, side: Side, k: int, label: str, count: int) -> None:
    """A curve with its letter on it, letters of different results at different places."""
    from matplotlib.patheffects import withStroke

    axes.plot(x, y, linestyle=_style(side), color=_ink(side), label=label)
    place, rows = (k + 0.6) / (count + 0.2) * (len(x) - 1), np.arange(len(x))
    at = float(np.interp(place, rows, x)), float(np.interp(place, rows, y))
    axes.annotate(
        side.mark,
        at,
        ha="center",
        va="center",
        color=_ink(side),
        fontsize=8.0,
        fontweight="bold",
        path_effects=[withStroke(linewidth=2.5, foreground="white")],
        zorder=5,
    )


def _style(side: Side) -> str | tuple[float, tuple[float, ...]]:
    return STYLES[(ord(side.mark) - ord("A")) % len(STYLES)]


def _ink(side: Side) -> str:
    return colour(ord(side.mark) - ord("A"))


def _legend(figure: Figure, *every: Axes, columns: int = 2) -> None:
    """Legend of all curves below the diagrams, every label once."""
    found: dict[str, Artist] = {}
    for axes in every:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            found.setdefault(label, handle)
    if found:
        figure.legend(
            handles=list(found.values()),
            labels=list(found),
            loc="outside lower center",
            ncols=columns,
            handlelength=3.4,
        )


def _faces(radius: Floats, height: Floats, thick: Floats) -> list[Floats]:
    """Both faces of a sheet from its middle, (2, n) each [mm]."""
    along = np.array([np.gradient(radius), np.gradient(height)])
    normal = np.array([-along[1], along[0]]) / np.maximum(np.hypot(*along), 1e-9)
    middle = np.array([radius, height])
    return [middle + side * 0.5 * thick * normal for side in (-1.0, 1.0)]


def _zoom(whole: Axes, near: Axes, side: Side, one: tuple[Floats, Floats, Floats]) -> None:
    """Frame of the enlarged place, where a result is thinnest."""
    from matplotlib.patches import Rectangle

    radius, height, thick = one
    low, half = int(thick.argmin()), NEAR * float(thick.max())
    left, bottom = max(0.0, float(radius[low]) - half), float(height[low]) - half
    near.set_xlim(left, left + 2.0 * half)
    near.set_ylim(bottom, bottom + 2.0 * half)
    near.set_title(f"where {side.mark} is thinnest, both faces")
    frame = Rectangle((left, bottom), 2.0 * half, 2.0 * half, fill=False, edgecolor=INK, lw=0.8)
    whole.add_patch(frame)
