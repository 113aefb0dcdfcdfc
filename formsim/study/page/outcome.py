"""What a study has come to, in sentences: its finding, what cannot be trusted, what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from formsim.arrays import Bools
from formsim.case.expect import Wanted
from formsim.report.comparison.numbers import LESS, NEITHER
from formsim.report.words import counted
from formsim.study.kept import Kept
from formsim.study.page.numbers import Number, Points, margin_of, measures_of
from formsim.study.plan import which
from formsim.study.table import NOT_TRUSTED, StudyTable
from formsim.study.words import short_cell, short_names

MOST_REASONS, MOST_RUNS = 12, 8
"""Most reasons and most runs of numbers that are told one by one."""

DESIGNS = {
    "grid": "every combination of the values",
    "list": "first values together, second values together, and so on",
    "one_at_a_time": "the base case first, then every value alone",
    "random": "all inputs together at random",
    "latin_hypercube": "all inputs together, every part of each range alike often",
    "sobol": "all inputs together, evenly spread",
    "pick_freeze": "all inputs together, then one exchanged after the other, for Sobol indices",
}
"""How values go together, by the kind of the design."""

OPEN = ("waiting", "running")
"""Statuses of variants that are not solved yet."""


def finding(kept: Kept, points: Points) -> str:
    """Which variants keep all limits, and which of them is the best by the first measure asked."""
    judged = points.good | points.reject
    if "done" not in kept.table.columns["status"]:
        return "No variant has come to its end."
    if not judged.any():
        return "No variant has numbers that can be trusted."
    good = int(points.good.sum())
    if not good:
        return f"None of {counted(int(judged.sum()), 'judged variant')} keeps all limits."
    numbers = [n for n, kept_all in zip(points.number, points.good, strict=True) if kept_all]
    margin = margin_of(points) is not None
    if not (margin or points.reject.any() or any(_bounded(one) for one in kept.job.wanted)):
        told = f"No limit is given, so none of {counted(good, 'judged variant')} is a reject."
        return " ".join(filter(None, [told, _best(kept, points)]))
    which_ones = "" if good == judged.sum() else f": {ranges(numbers)}"
    keep = "keeps" if good == 1 else "keep"
    told = (
        f"{good} of {counted(int(judged.sum()), 'judged variant')} {keep} all limits{which_ones}."
    )
    return " ".join(filter(None, [told, _best(kept, points)]))


def _bounded(wanted: Wanted) -> bool:
    return wanted.low is not None or wanted.high is not None


def ranges(numbers: Sequence[int]) -> str:
    """Rising numbers of variants in short, such as ``variants 3 to 6 and 11``."""
    runs: list[list[int]] = []
    for one in numbers:
        if runs and one == runs[-1][-1] + 1:
            runs[-1].append(one)
        else:
            runs.append([one])
    told = [_run(run) for run in runs[:MOST_RUNS]]
    if len(runs) > MOST_RUNS:
        told.append(f"{sum(map(len, runs[MOST_RUNS:]))} more")
    word = "variant" if len(numbers) == 1 else "variants"
    return f"{word} {' and '.join(filter(None, [', '.join(told[:-1]), told[-1]]))}"


def _run(run: Sequence[int]) -> str:
    return str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}"


def _best(kept: Kept, points: Points) -> str:
    """The best of the good variants by the first measure that varies and has a better way."""
    labels = dict(zip(kept.table.columns, short_names([*kept.table.columns]), strict=True))
    margin = margin_of(points)
    asked = [*measures_of(kept, labels), *([margin] if margin is not None else [])]
    moving = [one for one in asked if _there(one, points.good).sum() > 1 and one.moves]
    for one in moving:
        if one.better != NEITHER:
            return _best_by(kept.table, points, one)
    if not moving:
        return ""
    one, there = moving[0], _there(moving[0], points.good)
    low, high = float(one.values[there].min()), float(one.values[there].max())
    return f"Among them {one.name} runs from {low:.4g} to {high:.4g}."


def _there(one: Number, rows: Bools) -> Bools:
    there: Bools = rows & np.isfinite(one.values)
    return there


def _best_by(table: StudyTable, points: Points, one: Number) -> str:
    there = np.flatnonzero(_there(one, points.good))
    row = int(there[np.argmax(one.better * one.values[there])])
    name, _, unit = one.name.partition(" [")
    value = f"{one.values[row]:.4g} {unit.rstrip(']')}".rstrip()
    way = "least" if one.better == LESS else "most"
    inputs = _inputs_of(table, row)
    return (
        f"Of these, variant {points.number[row]} has the {way} {name}, {value}"
        f"{f' ({inputs})' if inputs else ''}."
    )


def _inputs_of(table: StudyTable, row: int) -> str:
    """Inputs of a variant that vary, in short."""
    moving = [name for name in table.inputs if len(set(table.columns[name])) > 1]
    short = dict(zip(table.columns, short_names([*table.columns]), strict=True))
    told = []
    for name in moving:
        bare, _, unit = short[name].partition(" [")
        value = short_cell(table.columns[name][row])
        told.append(f"{bare} {value} {unit.rstrip(']')}".rstrip())
    return ", ".join(told)


def troubles(table: StudyTable) -> tuple[str, ...]:
    """Variants that came to no numbers, or to some that cannot be trusted, by their reasons."""
    reasons: dict[tuple[str, str], list[int]] = {}
    rows = (table.columns[name] for name in ("variant", "status", "verdict", "reason"))
    for variant, status, verdict, why in zip(*rows, strict=True):
        if status in OPEN or (status == "done" and verdict != NOT_TRUSTED):
            continue
        told = NOT_TRUSTED if status == "done" else status
        reasons.setdefault((told, why), []).append(variant)
    lines = [
        f"{_capital(which(variants))} {told}{f': {why}' if why else ''}"
        for (told, why), variants in reasons.items()
    ]
    if len(lines) > MOST_REASONS:
        rest = f"... and {len(lines) - MOST_REASONS} more reasons, see the table of variants"
        lines = [*lines[:MOST_REASONS], rest]
    return tuple(lines)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def unsolved(columns: Mapping[str, Sequence[Any]]) -> tuple[str, ...]:
    """A sentence on variants that are not solved yet."""
    count = sum(status in OPEN for status in columns["status"])
    if not count:
        return ()
    are = "is" if count == 1 else "are"
    return (f"{counted(count, 'variant')} {are} not solved yet; formsim sweep goes on with them.",)
