"""Cross-checks within one stage: do its tools fit the sheet and each other."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.case.sheet import Blank
from formsim.case.stage import Bulge, Dome, Draw, Stage, Stretch
from formsim.case.tools import Punch
from formsim.errors import Fault

_ROUNDING = 1.0 + 1.0e-9


def stage_faults(sheet: Blank, stage: Stage, key: str) -> Iterator[Fault]:
    """Misfits of one stage with the sheet and within its own tools."""
    match stage:
        case Draw():
            yield from _draw_faults(sheet, stage, key)
        case Dome():
            yield from _dome_faults(sheet, stage, key)
        case Stretch():
            yield from _stretch_faults(sheet, stage, key)
        case Bulge():
            yield from _bulge_faults(sheet, stage, key)


def _draw_faults(sheet: Blank, draw: Draw, key: str) -> Iterator[Fault]:
    yield from _punch_faults(draw.punch, f"{key}.punch")
    yield from _blank_over_punch(sheet, draw.punch)
    die, holder = draw.die, draw.holder
    yield from _at_least_sheet(sheet, die.clearance, f"{key}.die.clearance")
    yield from _at_least_sheet(sheet, holder.gap, f"{key}.holder.gap")
    if sheet.blank_diameter > draw.punch.diameter:
        yield from _holder_reach(sheet, draw, key)


def _holder_reach(sheet: Blank, draw: Draw, key: str) -> Iterator[Fault]:
    blank = sheet.blank_diameter
    flat = draw.die.opening(draw.punch) + 2.0 * draw.die.radius
    if blank <= flat:
        yield Fault(
            f"{key}.die.radius",
            f"{draw.die.radius:g}",
            f"the holder can never touch: the flat of the die begins at a diameter of {flat:g} mm"
            f" and the blank ends at {blank:g} mm",
        )
    holder = draw.holder
    bore = draw.punch.diameter + 2.0 * (holder.clearance + holder.edge_radius)
    if blank <= bore:
        yield Fault(
            f"{key}.holder",
            "",
            f"the holder can never touch: its flat begins at a diameter of {bore:g} mm"
            f" and the blank ends at {blank:g} mm",
        )


def _dome_faults(sheet: Blank, stage: Dome, key: str) -> Iterator[Fault]:
    yield from _punch_faults(stage.punch, f"{key}.punch")
    yield from _blank_over_punch(sheet, stage.punch)
    yield from _dome_tool_faults(stage, key)
    yield from _room_faults(sheet, stage, key)
    if stage.clamp is not None:
        yield from _at_least_sheet(sheet, stage.clamp.gap, f"{key}.clamp.gap")
        inner, outer = stage.clamp.inner_diameter, stage.clamp.outer_diameter
        if inner is not None and outer is not None and inner >= outer:
            yield Fault(
                f"{key}.clamp.inner_diameter",
                f"{inner:g}",
                f"must be less than the outer diameter of {outer:g} mm",
            )


def _dome_tool_faults(stage: Dome, key: str) -> Iterator[Fault]:
    tool, half = stage.dome, 0.5 * stage.dome.diameter
    if tool.crown_radius * _ROUNDING < half:
        yield Fault(
            f"{key}.dome.crown_radius",
            f"{tool.crown_radius:g}",
            f"too small for a dome tool of {tool.diameter:g} mm: expected at least {half:g} mm",
        )
    if tool.shoulder_radius > half:
        yield Fault(
            f"{key}.dome.shoulder_radius",
            f"{tool.shoulder_radius:g}",
            f"too large for a dome tool of {tool.diameter:g} mm: expected at most {half:g} mm",
        )


def _room_faults(sheet: Blank, stage: Dome, key: str) -> Iterator[Fault]:
    opening = _cavity_opening(stage.punch)
    if opening is None:
        yield Fault(
            f"{key}.punch", "", "needs a cavity or a nose_ring: the dome must have room to rise"
        )
        return
    widest = opening - 2.0 * sheet.thickness
    if stage.dome.diameter > widest * _ROUNDING:
        yield Fault(
            f"{key}.dome.diameter",
            f"{stage.dome.diameter:g}",
            f"does not enter the punch: its opening of {opening:g} mm less the sheet on both"
            f" sides leaves {widest:g} mm",
        )
    cavity = stage.punch.cavity
    if cavity is not None and stage.depth + sheet.thickness > cavity.depth * _ROUNDING:
        yield Fault(
            f"{key}.depth",
            f"{stage.depth:g}",
            f"the dome would hit the bottom of the cavity, which is {cavity.depth:g} mm deep"
            f" and must also take the sheet of {sheet.thickness:g} mm",
        )


def _cavity_opening(punch: Punch) -> float | None:
    if punch.nose_ring is not None:
        return punch.nose_ring.diameter - 2.0 * punch.nose_ring.radius
    return punch.cavity.diameter if punch.cavity is not None else None


def _stretch_faults(sheet: Blank, stage: Stretch, key: str) -> Iterator[Fault]:
    yield from _punch_faults(stage.punch, f"{key}.punch")
    die, clamp = stage.die, stage.clamp_diameter
    least = stage.punch.diameter + 2.0 * sheet.thickness
    if die.opening_diameter * _ROUNDING < least:
        yield Fault(
            f"{key}.die.opening_diameter",
            f"{die.opening_diameter:g}",
            f"too narrow: punch and sheet need at least {least:g} mm",
        )
    edge = die.opening_diameter + 2.0 * die.radius
    if clamp * _ROUNDING < edge:
        yield Fault(
            f"{key}.clamp_diameter",
            f"{clamp:g}",
            f"lies inside the die profile, which ends at a diameter of {edge:g} mm",
        )
    if clamp > sheet.blank_diameter * _ROUNDING:
        yield _beyond_blank(sheet, f"{key}.clamp_diameter", clamp)


def _bulge_faults(sheet: Blank, stage: Bulge, key: str) -> Iterator[Fault]:
    if stage.diameter > sheet.blank_diameter * _ROUNDING:
        yield _beyond_blank(sheet, f"{key}.diameter", stage.diameter)
    if stage.height > stage.diameter:
        yield Fault(
            f"{key}.height",
            f"{stage.height:g}",
            f"more than the diameter of {stage.diameter:g} mm: no sheet bulges so far",
        )
    if sheet.hole_diameter > 0.0:
        yield Fault(
            "sheet.hole_diameter",
            f"{sheet.hole_diameter:g}",
            "a bulge needs a sheet without a hole: the pressure would leak",
        )


def _beyond_blank(sheet: Blank, key: str, diameter: float) -> Fault:
    return Fault(
        key, f"{diameter:g}", f"lies outside the blank of {sheet.blank_diameter:g} mm diameter"
    )


def _blank_over_punch(sheet: Blank, punch: Punch) -> Iterator[Fault]:
    if sheet.blank_diameter <= punch.diameter:
        yield Fault(
            "sheet.blank_diameter",
            f"{sheet.blank_diameter:g}",
            f"the blank is no larger than the punch of {punch.diameter:g} mm:"
            " there is nothing to draw",
        )
    if punch.diameter <= sheet.hole_diameter < sheet.blank_diameter:
        yield Fault(
            "sheet.hole_diameter",
            f"{sheet.hole_diameter:g}",
            f"the punch of {punch.diameter:g} mm would fall through the hole",
        )


def _at_least_sheet(sheet: Blank, gap: float | None, key: str) -> Iterator[Fault]:
    if gap is not None and gap * _ROUNDING < sheet.thickness:
        yield Fault(
            key,
            f"{gap:g}",
            f"less than the sheet thickness of {sheet.thickness:g} mm: the sheet does not fit",
        )


def _punch_faults(punch: Punch, key: str) -> Iterator[Fault]:
    half = 0.5 * punch.diameter
    if punch.nose_radius > half * _ROUNDING:
        yield Fault(
            f"{key}.nose_radius",
            f"{punch.nose_radius:g}",
            f"must not exceed half the punch diameter, {half:g} mm (a hemispherical punch)",
        )
    elif punch.nose_ring is not None:
        yield from _ring_faults(punch, key)
    elif punch.cavity is not None:
        yield from _cavity_faults(punch, key)


def _ring_faults(punch: Punch, key: str) -> Iterator[Fault]:
    ring = punch.nose_ring
    if ring is None:
        return
    outer = ring.diameter + 2.0 * ring.radius
    if outer > punch.diameter * _ROUNDING:
        yield Fault(
            f"{key}.nose_ring.diameter",
            f"{ring.diameter:g}",
            f"the ring reaches a diameter of {outer:g} mm and does not fit a punch"
            f" of {punch.diameter:g} mm",
        )
    if 2.0 * ring.radius >= ring.diameter:
        yield Fault(
            f"{key}.nose_ring.radius",
            f"{ring.radius:g}",
            f"must be less than half the ring diameter, {0.5 * ring.diameter:g} mm",
        )


def _cavity_faults(punch: Punch, key: str) -> Iterator[Fault]:
    cavity = punch.cavity
    if cavity is None or cavity.diameter is None or cavity.radius is None:
        return
    if cavity.diameter >= punch.diameter:
        yield Fault(
            f"{key}.cavity.diameter",
            f"{cavity.diameter:g}",
            f"wider than the punch of {punch.diameter:g} mm",
        )
        return
    room = 0.5 * (punch.diameter - cavity.diameter) - punch.nose_radius
    if cavity.radius > room * _ROUNDING:
        yield Fault(
            f"{key}.cavity.radius",
            f"{cavity.radius:g}",
            f"does not fit between cavity and nose: the nose radius of {punch.nose_radius:g} mm"
            f" leaves {max(room, 0.0):g} mm",
        )
    if cavity.radius > cavity.depth:
        yield Fault(
            f"{key}.cavity.radius",
            f"{cavity.radius:g}",
            f"more than the cavity depth of {cavity.depth:g} mm",
        )
