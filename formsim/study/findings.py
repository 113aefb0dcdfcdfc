"""What a solved study says as a whole: what matters, how numbers scatter, how many are rejects."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.case.study import Study
from formsim.report.words import counted
from formsim.study.scatter import Rate, reject_rate, spread
from formsim.study.sensitivity import (
    Slope,
    difference,
    rank_correlation,
    regression,
    sobol_shares,
)
from formsim.study.table import GOOD, NOT_TRUSTED, REJECT, StudyTable

MARGIN = "least_margin [%]"

Rows = Sequence[Mapping[str, Any]]


@dataclass(frozen=True)
class Findings:
    """What a study says as a whole.

    Attributes
    ----------
    sensitivity : rows of ``sensitivity.csv``, one per input and number
    scatter : rows of ``scatter.csv``, one per number
    rate : of rejects among the judged samples; None where the variants are no samples
    unjudged : samples without a verdict, or with numbers that are not trusted
    silent : why nothing is said of what matters; empty where something is
    """

    sensitivity: Rows
    scatter: Rows
    rate: Rate | None
    unjudged: int
    silent: str = ""


def findings(study: Study, table: StudyTable) -> Findings:
    """What a study says as a whole, once its variants are solved."""
    numbers = [*table.measures, *([MARGIN] if any(results_of(table, MARGIN)[1]) else [])]
    rows = tuple(row for name in numbers for row in _sensitivity(study, table, name))
    silent = "" if rows else _why_silent(study, table)
    if not study.design.sampled or study.design.kind == "pick_freeze":
        return Findings(rows, (), None, 0, silent)
    found = [(name, spread(results_of(table, name)[0])) for name in numbers]
    scatter = tuple({"number": name, **asdict(one)} for name, one in found if one)
    verdicts = list(table.columns["verdict"])
    rejects, good = verdicts.count(REJECT), verdicts.count(GOOD)
    rate = reject_rate(rejects, rejects + good)
    return Findings(rows, scatter, rate, len(verdicts) - rejects - good, silent)


def _why_silent(study: Study, table: StudyTable) -> str:
    """Why no slope and no share of the variance can be told."""
    known = [results_of(table, name)[1] for name in table.measures]
    count = max((int(one.sum()) for one in known), default=0)
    if not count:
        return "no variant has come to numbers"
    if study.design.kind == "pick_freeze":
        return "Sobol indices need 8 samples at least whose variants all came to numbers"
    if study.design.kind == "one_at_a_time":
        return "there is no number of the base case, or none beside it along an input"
    columns = (numbers_of(table, name) for name in table.inputs)
    moving = sum(bool(there.all() and np.ptp(found) > 0.0) for found, there in columns)
    if not moving:
        return "no input that is a number varies"
    if count <= moving + 1:
        return (
            f"a straight law in {counted(moving, 'input')} needs {moving + 2} variants with numbers"
            f" at least, and there are {count}"
        )
    return "the inputs move together, so what each does cannot be told apart: try design grid"


def numbers_of(table: StudyTable, name: str) -> tuple[Floats, Bools]:
    """A column as numbers, and where there is one."""
    values = [value if is_number(value) else np.nan for value in table.columns[name]]
    found = np.array(values, dtype=np.float64)
    return found, np.isfinite(found)


def results_of(table: StudyTable, name: str) -> tuple[Floats, Bools]:
    """A measure as numbers, and where there is one that can be trusted."""
    found, there = numbers_of(table, name)
    trusted = np.array([verdict != NOT_TRUSTED for verdict in table.columns["verdict"]], dtype=bool)
    return np.where(trusted, found, np.nan), there & trusted


def is_number(value: Any) -> bool:
    """Whether a cell of a table holds a number."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _sensitivity(study: Study, table: StudyTable, number: str) -> Iterator[dict[str, Any]]:
    match study.design.kind:
        case "one_at_a_time":
            return _differences(study, table, number)
        case "pick_freeze":
            return _shares(study, table, number)
        case _:
            return _regressed(table, number)


def _differences(study: Study, table: StudyTable, number: str) -> Iterator[dict[str, Any]]:
    """Derivatives at the base case, which is the first variant."""
    values, there = results_of(table, number)
    start = 1
    for one, name in zip(study.vary, table.inputs, strict=True):
        count = len(one.levels) or 2
        own = slice(start, start + count)
        start += count
        inputs, known = numbers_of(table, name)
        if not (there[0] and known[0]):
            continue
        keep = there[own] & known[own]
        points = np.column_stack([inputs[own][keep], values[own][keep]])
        slope = difference((float(inputs[0]), float(values[0])), points)
        if slope is not None:
            width = float(np.ptp([inputs[0], *points[:, 0]]))
            yield _slope_row(number, name, slope, width, "difference")


def _slope_row(number: str, name: str, slope: Slope, width: float, way: str) -> dict[str, Any]:
    return {
        "number": number,
        "input": name,
        "way": way,
        "slope": slope.value,
        "error": slope.error,
        "change_over_range": slope.value * width,
    }


def _regressed(table: StudyTable, number: str) -> Iterator[dict[str, Any]]:
    """Slopes of a straight law in all inputs that are numbers, with ranks beside them."""
    values, keep = results_of(table, number)
    columns = {name: numbers_of(table, name) for name in table.inputs}
    if not keep.any():
        return
    plain = {name: found for name, (found, there) in columns.items() if there[keep].all()}
    moving = [name for name, found in plain.items() if np.ptp(found[keep]) > 0.0]
    if not moving:
        return
    inputs = np.column_stack([plain[name][keep] for name in moving])
    texts = [name for name in table.inputs if name not in plain]
    law = regression(inputs, values[keep], _offsets(table, texts, keep))
    if law is None:
        return
    for place, name in enumerate(moving):
        width = float(np.ptp(inputs[:, place]))
        row = _slope_row(number, name, law.slopes[place], width, "regression")
        rank = rank_correlation(inputs[:, place], values[keep])
        yield row | {"determination": law.determination, "rank_correlation": rank}


def _offsets(table: StudyTable, names: Sequence[str], keep: Bools) -> Floats | None:
    """Columns of 0 and 1 for the values of inputs that are texts, the first value left out."""
    columns = []
    for name in names:
        texts = np.array([str(value) for value in table.columns[name]])[keep]
        columns += [(texts == one).astype(np.float64) for one in np.unique(texts)[1:]]
    return np.column_stack(columns) if columns else None


def _shares(study: Study, table: StudyTable, number: str) -> Iterator[dict[str, Any]]:
    """Sobol indices of every input."""
    values, _ = results_of(table, number)
    design = study.design
    found = sobol_shares(values.reshape(len(table.inputs) + 2, -1), design.seed)
    if found is None:
        return
    for place, name in enumerate(table.inputs):
        yield {
            "number": number,
            "input": name,
            "way": "variance",
            "first_order": float(found.first[place]),
            "first_order_low": float(found.first_low[place]),
            "first_order_high": float(found.first_high[place]),
            "total": float(found.total[place]),
            "total_low": float(found.total_low[place]),
            "total_high": float(found.total_high[place]),
            "samples": found.samples,
        }
