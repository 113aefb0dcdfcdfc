"""What is wanted of every variant: measures, whether they keep their bounds, the least margin."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from formsim.case.expect import OF_A_TEST, Wanted
from formsim.report.words import apart

if TYPE_CHECKING:
    from formsim.case.schema import Case
    from formsim.pipeline.run import Run

HEADLINE = (
    "min_thickness",
    "max_thinning_percent",
    "height",
    "dome_depth",
    "punch_force",
    "dome_force",
    "pressure",
    "limit_pressure",
    "crush_load",
)
"""Measures of a study that names none, of every stage that has them."""

_OF_A_DOME = ("dome_depth",)
_ADVICE = ("holder pressure", "wrinkle index")


def headline(case: Case) -> tuple[Wanted, ...]:
    """Measures a study shows where it names none."""
    from formsim.case.fit_expect import expect_faults

    return tuple(
        wanted
        for stage in case.stages
        for wanted in (Wanted(measure=name, stage=stage.name) for name in HEADLINE)
        if (wanted.measure not in _OF_A_DOME or getattr(stage, "dome", None) is not None)
        and not list(expect_faults(case.stages, [wanted]))
        and (_is_test(stage.kind) == (wanted.measure in (*OF_A_TEST, "pressure")))
    )


def _is_test(kind: str) -> bool:
    return kind in ("pressurise", "top_load")


def name_of(wanted: Wanted) -> str:
    """Name of a measure in a table, such as ``draw.min_thickness`` or ``draw.height@5``."""
    at = "" if wanted.at is None else f"@{wanted.at:g}"
    return f"{wanted.stage}.{wanted.measure}{at}"


def measures(run: Run, wanted: Iterable[Wanted]) -> dict[str, float | None]:
    """Measures of a finished run by name; None where it came to no such number."""
    from formsim.results.check import measured

    stages = {stage.name: stage for stage in run.case.stages}
    found = {}
    for one in wanted:
        stage = stages[str(one.stage)]
        value, _ = measured(run.line, stage, one.measure, one.at, run.risks.traces)
        found[name_of(one)] = value if math.isfinite(value) else None
    return found


def least_margin(summary: Mapping[str, Any]) -> tuple[float | None, str]:
    """Smallest share of a limit that is left [%], and of which; None where no limit is given.

    Rules of thumb for the holder and for wrinkles count only where the user sets the limit.
    """
    rows = [
        row
        for row in summary.get("risk", ())
        if row["margin"] is not None and (row["own"] or row["risk"] not in _ADVICE)
    ]
    if not rows:
        return None, ""
    worst = min(rows, key=lambda row: float(row["margin"]))
    return 100.0 * float(worst["margin"]), f"{worst['stage']} {worst['zone']}: {worst['risk']}"


def beyond(values: Mapping[str, float | None], wanted: Iterable[Wanted]) -> list[str]:
    """Bounds of the study that a variant does not keep, in words."""
    told = []
    for one in wanted:
        value, unit = values.get(name_of(one)), f" {one.unit}" if one.unit else ""
        bounded = one.low is not None or one.high is not None
        if value is None:
            told += [f"{name_of(one)}: no number"] if bounded else []
        elif one.low is not None and value < one.low:
            told.append(f"{name_of(one)} {apart(value, one.low)} is below {one.low:g}{unit}")
        elif one.high is not None and value > one.high:
            told.append(f"{name_of(one)} {apart(value, one.high)} is above {one.high:g}{unit}")
    return told
