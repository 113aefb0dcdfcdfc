"""Cross-checks between the values of a case: sizes that cannot work together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from formsim.case.expect import Wanted
from formsim.case.fit_expect import expect_faults
from formsim.case.fit_line import line_faults
from formsim.case.fit_stages import stage_faults
from formsim.case.sheet import Blank, Sheet
from formsim.case.stage import Bake, Bulge, Dome, Draw, Flange, Neck, Stage, Stretch, Trim
from formsim.case.start import Cup, Tube, start_faults
from formsim.errors import Fault


def case_faults(
    sheet: Blank | None,
    stages: Sequence[Stage | None],
    expect: Sequence[Wanted | None] = (),
    start: Tube | Cup | None = None,
    before: Sequence[Stage] = (),
    *,
    flat: bool = True,
    height: float | None = None,
) -> list[Fault]:
    """All misfits between the parts of a case; None stands for a part that is faulty itself.

    Parameters
    ----------
    start : tube or cup the sheet was before any stage
    before : stages an earlier run has made of it
    flat : whether the case starts from a blank; it does not where its start is faulty
    height : of the body an earlier run has made [mm]
    """
    faults: list[Fault] = []
    if sheet is not None:
        faults += _sheet_faults(sheet) if start is None else start_faults(start, sheet)
    for index, stage in enumerate(stages):
        if stage is not None and sheet is not None:
            faults += stage_faults(sheet, stage, f"stage[{index}]")
    faults += _order_faults(stages, before)
    faults += _begin_faults(stages, start, flat)
    faults += _bake_faults(sheet, stages)
    if sheet is not None:
        known = flat or start is not None or before
        faults += line_faults(sheet, stages, start, before, height) if known else []
    if stages and None not in stages:
        faults += expect_faults([stage for stage in stages if stage], expect)
    return list(dict.fromkeys(faults))


def _sheet_faults(sheet: Blank) -> Iterator[Fault]:
    if sheet.hole_diameter >= sheet.blank_diameter:
        yield Fault(
            "sheet.hole_diameter",
            f"{sheet.hole_diameter:g}",
            f"must be less than the blank diameter of {sheet.blank_diameter:g} mm",
        )
    if 10.0 * sheet.thickness > sheet.blank_diameter:
        yield Fault(
            "sheet.thickness",
            f"{sheet.thickness:g}",
            f"too thick for a blank of {sheet.blank_diameter:g} mm: expected less than a tenth"
            " of its diameter",
        )


def _order_faults(stages: Sequence[Stage | None], made: Sequence[Stage]) -> Iterator[Fault]:
    seen: dict[str, int] = {}
    for index, stage in enumerate(stages):
        if stage is None:
            continue
        before = stages[index - 1] if index else made[-1] if made else None
        key = f"stage[{index}]"
        if stage.name in seen:
            first = seen[stage.name]
            yield Fault(f"{key}.name", f'"{stage.name}"', f"is already the name of stage[{first}]")
        seen.setdefault(stage.name, index)
        if index and before is not None and _same(before, stage):
            yield Fault(key, "", f"repeats the {stage.kind} stage before it exactly; remove one")
        elif (index or made) and isinstance(stage, Draw | Stretch | Bulge):
            yield Fault(
                f"{key}.kind",
                f'"{stage.kind}"',
                f"a {stage.kind} starts from the flat blank, so it can only be the first stage",
            )
        if isinstance(stage, Dome) and isinstance(before, Draw):
            yield from _dome_after_draw(before, stage, key)


def _begin_faults(
    stages: Sequence[Stage | None], start: Tube | Cup | None, flat: bool
) -> Iterator[Fault]:
    """Whether the first stage can be made of what the case starts from."""
    first = stages[0] if stages else None
    if start is not None and isinstance(first, Draw | Stretch | Bulge):
        yield Fault(
            "stage[0].kind",
            f'"{first.kind}"',
            f"a {first.kind} needs a flat blank, and this case starts from a {start.kind}",
        )
    if flat and isinstance(first, Trim | Neck | Flange):
        yield Fault(
            "stage[0].kind",
            f'"{first.kind}"',
            f"a {first.kind} needs a wall: draw a cup before it, or start from a tube or cup",
        )
    if flat and isinstance(first, Bake):
        yield Fault(
            "stage[0].kind",
            f'"{first.kind}"',
            "a flat blank has not been worked, so a bake does nothing to it: form it before",
        )


def _bake_faults(sheet: Blank | None, stages: Sequence[Stage | None]) -> Iterator[Fault]:
    """Cures by time and temperature of metal whose card does not say how it recovers."""
    for index, stage in enumerate(stages):
        if not isinstance(stage, Bake) or not isinstance(sheet, Sheet):
            continue
        if stage.temperature is not None and sheet.material.recovery is None:
            yield Fault(
                f"stage[{index}].temperature",
                f"{stage.temperature:g}",
                f"the card of {sheet.material.name} has no recovery constants, so time and"
                " temperature tell nothing: give the bake a factor, or the card"
                " recovery = { activation_energy, rise, rate } from oven tests",
            )


def _same(one: Stage, other: Stage) -> bool:
    return one.model_dump(exclude={"name"}) == other.model_dump(exclude={"name"})


def _dome_after_draw(draw: Draw, dome: Dome, key: str) -> Iterator[Fault]:
    if dome.punch.diameter > draw.punch.diameter:
        yield Fault(
            f"{key}.punch.diameter",
            f"{dome.punch.diameter:g}",
            f"does not enter the cup drawn over a punch of {draw.punch.diameter:g} mm",
        )
