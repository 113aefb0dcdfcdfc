"""Numbers of a comparison to look at first, taken where all results can be compared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from formsim.report.comparison.bars import error_bar
from formsim.report.comparison.inputs import Difference
from formsim.report.comparison.numbers import (
    LESS,
    MORE,
    SHAPE,
    STRENGTH,
    THINNEST,
    THINNING,
    Compared,
    Measure,
    Number,
    Spec,
    force_spec,
    row_of,
    stage_number,
)
from formsim.report.comparison.side import Side
from formsim.report.comparison.stages import Aligned, Key
from formsim.report.page_top import ADVICE

_WORK: Spec = ("energy.external", "work", "J", 2, "work")


def headlines(
    sides: Sequence[Side], aligned: Aligned, *, same_limits: bool = True
) -> tuple[Compared, ...]:
    """Numbers of the part after the last stage that all have made, and what they cost.

    What is left of the nearest limit is only compared where all have the ``same_limits``.
    """
    part = aligned.part
    if part is None:
        return ()
    made = forming(aligned)
    rows = [
        row_of(sides, part, THINNEST, MORE),
        _row("largest thinning", "% of t0", 2, LESS, [_thinning(side, made) for side in sides]),
        *(row_of(sides, part, spec) for spec in SHAPE),
        _row("largest press force", "kN", 2, LESS, [_force(side, made) for side in sides]),
        _row("work of the press", "J", 1, LESS, [_work(side, made) for side in sides]),
    ]
    if aligned.alike:
        mass = Measure("mass of the sheet", "g", 3, LESS, exact=True)
        rows.append(Compared(mass, tuple(map(_mass, sides))))
    for key in aligned.common:
        rows += [row_of(sides, key, spec, MORE) for spec in STRENGTH]
    if aligned.alike and same_limits:
        rows.append(
            _row("left to the nearest limit", "% of it", 0, MORE, list(map(_margin, sides)))
        )
    return tuple(row for row in rows if row.known > 1)


def forming(aligned: Aligned) -> tuple[Key, ...]:
    """Common stages up to the part."""
    if aligned.part is None:
        return ()
    return aligned.common[: aligned.common.index(aligned.part) + 1]


def _row(
    label: str, unit: str, digits: int, better: int, numbers: Sequence[Number | None]
) -> Compared:
    return Compared(Measure(label, unit, digits, better), tuple(numbers))


def _made(side: Side, keys: Sequence[Key]) -> bool:
    return all(key in side.stages() for key in keys)


def _largest(numbers: Iterator[Number | None]) -> Number | None:
    known = [number for number in numbers if number is not None]
    return max(known, key=lambda one: one.value, default=None)


def _thinning(side: Side, made: Sequence[Key]) -> Number | None:
    """Largest thinning of all stages; None where one is missing."""
    if not _made(side, made):
        return None
    return _largest(stage_number(side, key, THINNING) for key in made)


def _force(side: Side, made: Sequence[Key]) -> Number | None:
    """Largest force of a single tool in any stage; None where one is missing."""
    if not _made(side, made):
        return None
    return _largest(
        stage_number(side, key, force_spec(tool))
        for key in made
        for tool in side.stages()[key].get("peak_force", {})
        if tool != "lid"
    )


def _work(side: Side, made: Sequence[Key]) -> Number | None:
    """Work of all stages together, error bars added; None where a stage is missing."""
    if not _made(side, made):
        return None
    known = [one for key in made if (one := stage_number(side, key, _WORK)) is not None]
    bars = [one.bar for one in known if one.bar is not None]
    bar = sum(bars) if bars and len(bars) == len(known) else None
    total, floor = sum(one.value for one in known), sum(one.floor for one in known)
    return Number(total, bar, floor) if known else None


def _mass(side: Side) -> Number | None:
    mass = side.summary.get("mass_g") if side.finished else None
    return None if mass is None else Number(float(mass))


def have_same_limits(sides: Sequence[Side], found: Sequence[Difference]) -> bool:
    """Whether the finished results were held against limits of the same kinds and numbers.

    Limits of the card may differ: they belong to the material.
    """
    kinds = [{str(row["risk"]) for row in _limited(side)} for side in sides if side.finished]
    given = any(one.key.startswith("limits.") for one in found)
    return not given and all(kind == kinds[0] for kind in kinds)


def _limited(side: Side) -> list[Mapping[str, Any]]:
    """Rows of risk with a limit of physics; advice on holders and wrinkles left out."""
    return [
        row
        for row in side.summary.get("risk", ())
        if row.get("margin") is not None and row["risk"] not in ADVICE
    ]


def _margin(side: Side) -> Number | None:
    """What is left of the nearest limit of physics."""
    rows = _limited(side) if side.finished else []
    if not rows:
        return None
    row = min(rows, key=lambda row: float(row["margin"]))
    measure = "largest thinning" if row["risk"] == "thinning" else str(row["risk"])
    bar = error_bar(side.summary, str(row["stage"]), measure)
    share = None if bar is None else 100.0 * bar / abs(float(row["limit"]))
    return Number(100.0 * float(row["margin"]), share)
