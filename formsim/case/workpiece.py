"""What the stages before leave to the next one: its walls by nominal sizes, nothing solved."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from formsim.case.sheet import Blank
from formsim.case.stage import Draw, Flange, Iron, Neck, Redraw, Stage, Stroke, Trim
from formsim.case.start import Cup, Tube
from formsim.case.tools import Punch, RedrawDie, Ring


@dataclass(frozen=True)
class Workpiece:
    """A sheet between two stages, by the sizes of the tools that made it.

    Attributes
    ----------
    form : flat (no wall yet), cup, or tube (a wall without a base)
    volume : of the metal, a hole in the base counted as filled; None where not known [mm3]
    wall : thickness of the wall, of a flat sheet its own [mm]
    thickest : what the wall may have thickened to [mm]
    inner : inside diameter of the wall [mm]
    corner : inside radius between base and wall [mm]
    mouth : outside diameter at the rim [mm]
    rim_wall : thickness at the rim [mm]
    height : of the rim above the lowest point; None where it is not known [mm]
    flanged : whether the rim stands outwards
    """

    form: Literal["flat", "cup", "tube"]
    volume: float | None
    wall: float
    thickest: float
    inner: float = 0.0
    corner: float = 0.0
    mouth: float = 0.0
    rim_wall: float = 0.0
    height: float | None = None
    flanged: bool = False

    @property
    def outer(self) -> float:
        """Outside diameter of the wall [mm]."""
        return self.inner + 2.0 * self.wall


def workpieces(
    sheet: Blank,
    stages: Sequence[Stage | None],
    start: Tube | Cup | None = None,
    made: Sequence[Stage] = (),
) -> Iterator[Workpiece | None]:
    """What each stage is given; None behind a stage that is faulty or cannot be.

    Parameters
    ----------
    start : tube or cup the sheet was before any stage
    made : stages before these ones
    """
    now: Workpiece | None = beginning(sheet, start)
    for number, stage in enumerate((*made, *stages)):
        if number >= len(made):
            yield now
        now = None if now is None or stage is None else after(now, stage, sheet)


def beginning(sheet: Blank, start: Tube | Cup | None = None) -> Workpiece:
    """The flat blank, or the tube or cup a case starts from."""
    t = sheet.thickness
    if start is None:
        area = 0.25 * math.pi * sheet.blank_diameter**2
        return Workpiece("flat", area * t, t, t)
    inner = start.diameter - 2.0 * t
    wall = Workpiece(start.kind, None, t, t, inner, 0.0, start.diameter, t)
    if isinstance(start, Tube):
        return replace(wall, height=start.length)
    section = math.pi * (inner + t) * t
    above = start.height - start.corner_radius - t
    volume = base_volume(inner, start.corner_radius, t) + section * above
    return replace(wall, volume=volume, corner=start.corner_radius, height=start.height)


def after(now: Workpiece, stage: Stage, sheet: Blank) -> Workpiece | None:
    """What a stage makes of a workpiece; None when it cannot work on it."""
    if isinstance(stage, Draw):
        thickened = now.wall * sheet.blank_diameter / stage.punch.diameter
        cup = _cup(now, stage.punch, now.wall, min(stage.die.clearance, thickened), sheet)
        return _as_far(stage, cup)
    if isinstance(stage, Redraw | Iron | Stroke) and now.form != "cup":
        return None
    if isinstance(stage, Redraw):
        return _as_far(stage, redrawn(now, stage.punch, stage.die, sheet))
    if isinstance(stage, Iron):
        return _as_far(stage, ironed(now, stage.punch, stage.rings, sheet))
    if isinstance(stage, Stroke):
        return ironed(redrawn(now, stage.punch, stage.die, sheet), stage.punch, stage.rings, sheet)
    if isinstance(stage, Trim):
        return replace(now, height=stage.height, volume=None)
    if isinstance(stage, Neck):
        return replace(now, mouth=stage.die.diameter, height=None)
    if isinstance(stage, Flange):
        return replace(now, flanged=True, height=None)
    return now


def _as_far(stage: Draw | Redraw | Iron, made: Workpiece) -> Workpiece:
    """The workpiece of a stage, whose height is not known when it stops short of the rim."""
    return made if stage.stroke == "through" else replace(made, height=None)


def redrawn(now: Workpiece, punch: Punch, die: RedrawDie, sheet: Blank) -> Workpiece:
    """Cup drawn into a narrower one, its wall as thick as before."""
    thickened = now.thickest * max(now.inner / punch.diameter, 1.0)
    thickest = max(now.wall, min(die.clearance, thickened))
    return _cup(now, punch, now.wall, thickest, sheet)


def ironed(now: Workpiece, punch: Punch, rings: Sequence[Ring], sheet: Blank) -> Workpiece:
    """Cup whose wall fills the gap between punch and tightest ring."""
    bore = min(ring.bore for ring in rings)
    gap = 0.5 * (bore - punch.diameter)
    wall = min(now.wall, gap)
    cup = _cup(now, punch, wall, min(now.thickest, gap), sheet)
    if punch.step is None:
        return cup
    rim_wall = min(now.wall, 0.5 * (bore - punch.step.diameter))
    return replace(cup, rim_wall=rim_wall, thickest=rim_wall, height=None)


def base_volume(inner: float, corner: float, thickness: float) -> float:
    """Metal in a flat base and its rounded corner, geometry of the middle of the sheet [mm3]."""
    flat, rho = 0.5 * inner - corner, corner + 0.5 * thickness
    return thickness * math.pi * (flat**2 + math.pi * flat * rho + 2.0 * rho**2)


def _cup(now: Workpiece, punch: Punch, wall: float, thickest: float, sheet: Blank) -> Workpiece:
    inner, corner, t = punch.diameter, min(punch.nose_radius, 0.5 * punch.diameter), sheet.thickness
    height = None
    if now.volume is not None and wall > 0.0:
        rest = now.volume - base_volume(inner, corner, t)
        height = rest / (math.pi * (inner + wall) * wall) + corner + t
    return Workpiece(
        "cup", now.volume, wall, thickest, inner, corner, inner + 2.0 * wall, wall, height
    )
