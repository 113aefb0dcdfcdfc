"""Figures a comparison has: which, and what each shows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from formsim.report.comparison import curves
from formsim.report.comparison.diagrams import (
    force_figure,
    path_figure,
    section_figure,
    thickness_figure,
)
from formsim.report.comparison.side import Side
from formsim.report.comparison.stages import Aligned, Key, marks
from formsim.report.style import drawable

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SMALL = 0.02
"""Share of the largest force of a stage below which a tool has no curve of its own."""

STRAINED, MANY_ZONES = 0.005, 4
"""True strain of a stage below which a zone has no path to show; zones in one figure."""

MANY_TOOLS = 3
"""Tools in one figure of forces; more would be too tall for half a sheet of paper."""


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
    found = _of_parts(sides, aligned, labels)
    for number, (name, kind) in enumerate(aligned.shared, start=1):
        of = [k for k, side in enumerate(sides) if (name, kind) in side.begun()]
        some = [sides[k] for k in of]
        named = [labels[k] + _open(sides[k], (name, kind)) for k in of]
        shown = (name, kind) == aligned.part
        found += _of_stage(f"{number}-{name}", name, some, named, shown=shown)
    return found


def _of_parts(sides: Sequence[Side], aligned: Aligned, labels: Sequence[str]) -> list[Planned]:
    """Figures of the parts after the last common stage, or after the last stage of each."""
    part = aligned.part
    of = [k for k, side in enumerate(sides) if (part is None or part in side.begun())]
    of = [k for k in of if sides[k].begun()]
    ends = [part or list(sides[k].begun())[-1] for k in of]
    last = [name for name, _ in ends]
    after = f"after {part[0]}" if part else "after the last stage of each"
    some = [sides[k] for k in of]
    named = [labels[k] + _open(sides[k], end) for k, end in zip(of, ends, strict=True)]
    without = [side for k, side in enumerate(sides) if k not in of]
    left = f", without {marks(without)}" if without else ""
    thin, section = f"Thickness along the sheet {after}{left}", f"Sections {after}{left}"
    return [
        Planned("thickness", "", thin, partial(thickness_figure, some, last, named, thin)),
        Planned(
            "section",
            "",
            f"{section}, lowest places at one height",
            partial(section_figure, some, last, named, section),
        ),
    ]


def _open(side: Side, key: Key) -> str:
    """What is added to the label of a result whose stage was not made to its end."""
    return "" if key in side.stages() else ", as it ended"


def _of_stage(
    tail: str, name: str, sides: Sequence[Side], labels: Sequence[str], *, shown: bool
) -> list[Planned]:
    """Figures of one stage that have something to show; ``shown`` if thickness is already."""
    title = f"{name}: thickness along the sheet after it"
    found = []
    thick = [curves.thickness(side, name, flat=True) for side in sides]
    if not shown and any(one is not None for one in thick):
        make = partial(thickness_figure, sides, [name] * len(sides), labels, title)
        found.append(Planned(f"thickness-{tail}", name, title, make))
    tools = working_tools(sides, name)
    for k in range(0, len(tools), MANY_TOOLS):
        some = tools[k : k + MANY_TOOLS]
        title = f"{name}: force of {', '.join(some)} over the stroke"
        file = f"forces-{tail}" if k == 0 else f"forces-{tail}-{k // MANY_TOOLS + 1}"
        found.append(Planned(file, name, title, partial(force_figure, sides, name, some, labels)))
    zones = strained_zones(sides, name)
    if zones:
        title = (
            f"{name}: strain paths of the places of {', '.join(zones)} with the most damage"
            " (way along the sheet before the first stage; dot: end)"
        )
        make = partial(path_figure, sides, name, zones, labels)
        found.append(Planned(f"strain-path-{tail}", name, title, make))
    return found


def strained_zones(sides: Sequence[Side], stage: str) -> list[str]:
    """Zones in which some result strains, those that strain most; in their order in the part."""
    most: dict[str, float] = {}
    for zone in dict.fromkeys(zone for side in sides for zone in curves.zones(side, stage)):
        for side in sides:
            path = curves.strain_path(side, stage, zone)
            if path is not None:
                sway = max(float(np.ptp(path.major)), float(np.ptp(path.minor)))
                most[zone] = max(sway, most.get(zone, 0.0))
    strained = [zone for zone, sway in most.items() if sway > STRAINED]
    kept = sorted(strained, key=lambda zone: -most[zone])[:MANY_ZONES]
    return [zone for zone in most if zone in kept]


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
    return drawable(f"{side.label}: {told}" if told else side.label)
