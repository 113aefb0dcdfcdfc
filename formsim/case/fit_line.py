"""Cross-checks along a line: can a stage work on what the stages before it leave."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from formsim.case.sheet import Blank
from formsim.case.stage import (
    Bake,
    Dome,
    Draw,
    Flange,
    Iron,
    Neck,
    Pressurise,
    Redraw,
    Stage,
    Stroke,
    TopLoad,
    Trim,
)
from formsim.case.start import Cup, Tube
from formsim.case.tools import DomeTool, Punch, RedrawDie, Ring, Sleeve
from formsim.case.workpiece import Workpiece, redrawn, workpieces
from formsim.errors import Fault

_ROUNDING = 1.0 + 1.0e-9
_UNSURE = 0.05
"""Share by which a body may be higher than by constant volume and nominal walls."""


def line_faults(
    sheet: Blank,
    stages: Sequence[Stage | None],
    start: Tube | Cup | None = None,
    made: Sequence[Stage] = (),
    height: float | None = None,
) -> Iterator[Fault]:
    """Stages that cannot work on what they are given; None stands for a faulty stage.

    Parameters
    ----------
    start : tube or cup the sheet was before any stage
    made : stages before these ones
    height : of the body these left, where it is known [mm]
    """
    given = workpieces(sheet, stages, start, made)
    for index, (before, stage) in enumerate(zip(given, stages, strict=True)):
        key = f"stage[{index}]"
        if isinstance(stage, Iron | Stroke):
            yield from _ring_faults(stage.punch, stage.rings, key)
        if stage is None or before is None:
            continue
        if isinstance(stage, Trim) and height is not None and _still(stages[:index]):
            yield from _known_height(stage, key, height)
            before = replace(before, height=None)
        last = stages[index - 1] if index else made[-1] if made else None
        yield from _stage_faults(before, stage, key, sheet, entered=isinstance(last, Draw))


def _stage_faults(
    before: Workpiece, stage: Stage, key: str, sheet: Blank, *, entered: bool
) -> Iterator[Fault]:
    missing = _missing(before, stage)
    if missing:
        yield Fault(f"{key}.kind", f'"{stage.kind}"', missing)
    elif isinstance(stage, Redraw):
        yield from _narrower(before, stage.punch, stage.die, key)
        if stage.sleeve is not None:
            yield from _sleeve_faults(before, stage.punch, stage.sleeve, key)
        else:
            yield from _reverse_faults(before, stage, key)
    elif isinstance(stage, Iron):
        yield from _entering(before, stage.punch, key)
        yield from _nothing_to_iron(before, stage.punch, stage.rings[0], key)
    elif isinstance(stage, Stroke):
        yield from _narrower(before, stage.punch, stage.die, key)
        yield from _sleeve_faults(before, stage.punch, stage.sleeve, key)
        cup = redrawn(before, stage.punch, stage.die, sheet)
        yield from _nothing_to_iron(cup, stage.punch, stage.rings[0], key)
        if stage.dome is not None:
            yield from _dome_over_base(cup, stage.dome, key)
    elif isinstance(stage, Dome) and before.form == "cup":
        if not entered:
            yield from _entering(before, stage.punch, key)
        yield from _dome_over_base(before, stage.dome, key)
    elif isinstance(stage, Trim):
        yield from _trim_faults(before, stage, key, sheet)
    elif isinstance(stage, Neck):
        yield from _neck_faults(before, stage, key)
    elif isinstance(stage, Flange):
        yield from _flange_faults(before, stage, key)
    elif isinstance(stage, TopLoad) and not before.flanged:
        yield from _plate_faults(before, stage, key)


def _missing(before: Workpiece, stage: Stage) -> str:
    """What the workpiece lacks for a stage, in words; empty when it lacks nothing."""
    if isinstance(stage, Redraw | Iron | Stroke) and before.form == "flat":
        return f"a {stage.kind} stage needs a cup, and the sheet has no wall yet: draw a cup first"
    if isinstance(stage, Neck | Flange) and before.form == "flat":
        return f"a {stage.kind} needs a wall: draw a cup before it, or start from a tube or cup"
    if isinstance(stage, Redraw | Iron | Stroke | Dome) and before.form == "tube":
        return f"a {stage.kind} stage pushes on a base, and a tube has none: start from a cup"
    if isinstance(stage, Pressurise | TopLoad) and before.form != "cup":
        return f"a {stage.kind} stage needs a body with a base and a wall: draw a cup before it"
    if isinstance(stage, Neck) and before.flanged:
        return "the rim is flanged already and does not enter a die: neck before the flange"
    return ""


def _narrower(before: Workpiece, punch: Punch, die: RedrawDie, key: str) -> Iterator[Fault]:
    opening = die.opening(punch)
    if punch.diameter * _ROUNDING >= before.inner:
        yield Fault(
            f"{key}.punch.diameter",
            f"{punch.diameter:g}",
            f"is not smaller than the {before.inner:g} mm inside of the cup it is given: there"
            " is nothing to redraw",
        )
    elif opening * _ROUNDING >= before.outer:
        yield Fault(
            f"{key}.die.clearance",
            f"{die.clearance:g}",
            f"opens the die to {opening:g} mm: the cup of {before.outer:g} mm falls through",
        )
    if die.clearance * _ROUNDING < before.wall:
        yield Fault(
            f"{key}.die.clearance",
            f"{die.clearance:g}",
            f"less than the wall of {before.wall:g} mm: the sheet does not fit",
        )


def _sleeve_faults(before: Workpiece, punch: Punch, sleeve: Sleeve, key: str) -> Iterator[Fault]:
    size, corner = sleeve.diameter, sleeve.corner_radius
    if size > before.inner * _ROUNDING:
        yield Fault(
            f"{key}.sleeve.diameter",
            f"{size:g}",
            f"does not enter the cup, whose inside is {before.inner:g} mm wide",
        )
        return
    flat = before.inner - 2.0 * before.corner
    if corner * _ROUNDING < before.corner and size - 2.0 * corner > flat * _ROUNDING:
        yield Fault(
            f"{key}.sleeve.corner_radius",
            f"{corner:g}",
            f"does not reach the base: the cup is rounded to {before.corner:g} mm there; expected"
            f" at least that, or a sleeve of at most {flat + 2.0 * corner:g} mm",
        )
    bore = punch.diameter + 2.0 * (sleeve.clearance + sleeve.edge_radius)
    if bore * _ROUNDING >= size - 2.0 * corner:
        yield Fault(
            f"{key}.sleeve",
            "",
            f"has no face: the round of its bore ends at a diameter of {bore:g} mm and its corner"
            f" begins at {size - 2.0 * corner:g} mm",
        )


def _reverse_faults(before: Workpiece, stage: Redraw, key: str) -> Iterator[Fault]:
    outer, edge = stage.die.outer_diameter or 0.0, stage.die.outer_radius or 0.0
    if outer > before.inner * _ROUNDING:
        yield Fault(
            f"{key}.die.outer_diameter",
            f"{outer:g}",
            f"does not enter the cup, whose inside is {before.inner:g} mm wide",
        )
    least = stage.die.opening(stage.punch) + 2.0 * (edge + stage.die.radius)
    if outer * _ROUNDING < least:
        yield Fault(
            f"{key}.die.outer_diameter",
            f"{outer:g}",
            f"too small for the rounds on both sides of the ring: expected at least {least:g} mm",
        )


def _ring_faults(punch: Punch, rings: Sequence[Ring], key: str) -> Iterator[Fault]:
    """Faults of the rings among themselves and with their punch."""
    for index, ring in enumerate(rings):
        where, shown = f"{key}.rings[{index}].bore", f"{ring.bore:g}"
        if ring.bore <= punch.diameter * _ROUNDING:
            yield Fault(
                where, shown, f"the punch of {punch.diameter:g} mm does not pass: no gap is left"
            )
        elif index and ring.bore * _ROUNDING >= rings[index - 1].bore:
            yield Fault(
                where,
                shown,
                f"is not smaller than the {rings[index - 1].bore:g} mm of the ring before it and"
                " irons nothing: put the rings in order, the widest first",
            )


def _nothing_to_iron(before: Workpiece, punch: Punch, ring: Ring, key: str) -> Iterator[Fault]:
    gap = 0.5 * (ring.bore - punch.diameter)
    if gap * _ROUNDING >= before.thickest:
        yield Fault(
            f"{key}.rings[0].bore",
            f"{ring.bore:g}",
            f"leaves a gap of {gap:.4g} mm to the punch, and the wall is at most"
            f" {before.thickest:.4g} mm thick: there is nothing to iron",
        )


def _entering(before: Workpiece, punch: Punch, key: str) -> Iterator[Fault]:
    if punch.diameter > before.inner * _ROUNDING:
        yield Fault(
            f"{key}.punch.diameter",
            f"{punch.diameter:g}",
            f"does not enter the cup, whose inside is {before.inner:g} mm wide",
        )


def _dome_over_base(before: Workpiece, dome: DomeTool, key: str) -> Iterator[Fault]:
    if dome.diameter + 2.0 * before.wall > before.inner * _ROUNDING:
        yield Fault(
            f"{key}.dome.diameter",
            f"{dome.diameter:g}",
            f"wider than the base: the cup is {before.inner:g} mm wide inside, and the sheet goes"
            " round the dome tool",
        )


def _trim_faults(before: Workpiece, stage: Trim, key: str, sheet: Blank) -> Iterator[Fault]:
    where, shown = f"{key}.height", f"{stage.height:g}"
    corner = before.corner + sheet.thickness
    if before.form == "cup" and stage.height * _ROUNDING < corner:
        yield Fault(
            where,
            shown,
            f"cuts into the round between base and wall, which ends {corner:g} mm above the lowest"
            " point: expected more than that",
        )
    elif before.height is not None and stage.height > before.height * (1.0 + _UNSURE):
        yield Fault(
            where,
            shown,
            f"lies above the rim: by constant volume and nominal walls the body it is given is"
            f" {before.height:.4g} mm high",
        )


def _still(stages: Sequence[Stage | None]) -> bool:
    """Whether stages leave a body as high as it was."""
    return all(isinstance(stage, Bake) for stage in stages)


def _known_height(stage: Trim, key: str, height: float) -> Iterator[Fault]:
    """A cut above a body whose height an earlier run tells."""
    if stage.height >= height:
        yield Fault(
            f"{key}.height",
            f"{stage.height:g}",
            f"lies above the rim: the body of the result is {height:.4g} mm high",
        )


def _neck_faults(before: Workpiece, stage: Neck, key: str) -> Iterator[Fault]:
    if stage.die.diameter * _ROUNDING >= before.mouth:
        yield Fault(
            f"{key}.die.diameter",
            f"{stage.die.diameter:g}",
            f"is not smaller than the {before.mouth:g} mm outside of the rim it is given: there"
            " is nothing to neck",
        )


def _flange_faults(before: Workpiece, stage: Flange, key: str) -> Iterator[Fault]:
    widest = before.mouth - 2.0 * before.rim_wall
    if stage.tool.diameter > widest * _ROUNDING:
        yield Fault(
            f"{key}.tool.diameter",
            f"{stage.tool.diameter:g}",
            f"does not enter the rim, which is at most {widest:.4g} mm wide inside",
        )


def _plate_faults(before: Workpiece, stage: TopLoad, key: str) -> Iterator[Fault]:
    size = stage.plate_diameter
    if size is not None and size * _ROUNDING < before.mouth:
        yield Fault(
            f"{key}.plate_diameter",
            f"{size:g}",
            f"smaller than the rim, which is {before.mouth:.4g} mm wide: the plate would sink into"
            " the body",
        )
