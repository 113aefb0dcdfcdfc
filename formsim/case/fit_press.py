"""Whether the press of a case can make the strokes of its stages, by nominal sizes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from formsim.case.press import RamMotion
from formsim.case.sheet import Blank
from formsim.case.stage import Dome, Draw, Flange, Iron, Neck, Redraw, Stage, Stretch, Stroke
from formsim.case.start import Cup, Tube
from formsim.case.tools import Ring
from formsim.case.workpiece import Workpiece, after, workpieces
from formsim.errors import Fault


def press_faults(
    press: RamMotion,
    sheet: Blank,
    stages: Sequence[Stage | None],
    start: Tube | Cup | None = None,
    made: Sequence[Stage] = (),
) -> Iterator[Fault]:
    """Stages whose stroke is longer than that of the press; None stands for a faulty stage.

    Parameters
    ----------
    start : tube or cup the sheet was before any stage
    made : stages before these ones, on other presses
    """
    given = workpieces(sheet, stages, start, made)
    for index, (before, stage) in enumerate(zip(given, stages, strict=True)):
        if stage is None:
            continue
        needed = least_stroke(stage, before, sheet)
        if needed is not None and needed > press.stroke * (1.0 + 1.0e-9):
            yield Fault(
                "press.stroke",
                f"{press.stroke:g}",
                f'too short for the stage "{stage.name}" (stage[{index}]), whose tools travel'
                f" {needed:.4g} mm or more while they work",
            )


def least_stroke(stage: Stage, before: Workpiece | None, sheet: Blank) -> float | None:
    """Least travel of the tools while they work [mm]; None where no press moves or none is known.

    A stage that goes through takes at least the height of its wall, which all passes the tool.
    """
    match stage:
        case Draw() | Redraw() | Iron() if stage.stroke != "through":
            return float(stage.stroke)
        case Draw() | Redraw() | Iron() | Stroke():
            made = None if before is None else after(before, stage, sheet)
            if made is None or made.height is None:
                return None
            rings = stage.rings if isinstance(stage, Iron | Stroke) else ()
            lead = rings[0].spacing or 0.0 if isinstance(stage, Stroke) else 0.0
            depth = stage.depth or 0.0 if isinstance(stage, Stroke) else 0.0
            return made.height + lead + _apart(rings) + depth
        case Dome() | Neck() | Flange() | Stretch():
            return stage.depth
        case _:
            return None


def _apart(rings: Sequence[Ring]) -> float:
    """Way from the first ring to the last one [mm]."""
    return sum(ring.spacing or 0.0 for ring in rings[1:])
