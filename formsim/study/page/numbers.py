"""What the figures of a study are drawn from: numbers that vary, and groups of variants."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.report.comparison.numbers import LESS, MORE, NEITHER
from formsim.report.words import counted
from formsim.study.findings import MARGIN, numbers_of
from formsim.study.kept import Kept
from formsim.study.table import GOOD, NOT_TRUSTED, REJECT, StudyTable
from formsim.study.words import short_names

MOST_INPUTS, MOST_MEASURES, MOST_GROUPS = 6, 8, 10
"""Most inputs, measures and groups that are drawn."""

MOST_DRAWN = 2000
"""Most variants that have marks of their own; bars, ranks and fronts count all."""

LEAST_SPREAD, SAME = 2, 1e-6
"""Variants through which any line goes; correlation of numbers that say the same, short of 1."""

MASS = "mass [g]"

_WAYS = {
    "min_thickness": MORE,
    "max_thinning_percent": LESS,
    "max_thinning_strain": LESS,
    "damage": LESS,
    "limit_curve_share": LESS,
    "punch_force": LESS,
    "holder_force": LESS,
    "dome_force": LESS,
    "clamp_force": LESS,
    "limit_pressure": MORE,
    "crush_load": MORE,
    "service_centre_growth": LESS,
    "service_nose_growth": LESS,
    "permanent_centre_growth": LESS,
    "permanent_nose_growth": LESS,
}


class Number(NamedTuple):
    """A column of numbers.

    Attributes
    ----------
    label : name with unit, short
    values : (variants), not a number where there is none
    low, high : bounds a variant has to keep; None without
    better : MORE, LESS, or NEITHER where it is for the reader to say
    """

    name: str
    label: str
    values: Floats
    low: float | None = None
    high: float | None = None
    better: int = NEITHER

    @property
    def moves(self) -> bool:
        """Whether it has more than one value."""
        there = self.values[np.isfinite(self.values)]
        return len(there) > 1 and float(np.ptp(there)) > 0.0


class Group(NamedTuple):
    """Variants that share the values of all inputs that are no numbers, (variants)."""

    label: str
    rows: Bools


class Points(NamedTuple):
    """Numbers and groups that are drawn.

    Attributes
    ----------
    number : of every variant
    inputs : numbers that vary; those beyond the most that are drawn are left out
    measures : the least margin behind them, where there is one
    good, reject, untrusted : verdicts, (variants)
    drawn : variants that have marks, (variants)
    sampled : whether the variants are samples, which no line joins
    left_out : sentences on what is not drawn
    """

    number: tuple[int, ...]
    inputs: tuple[Number, ...]
    measures: tuple[Number, ...]
    groups: tuple[Group, ...]
    good: Bools
    reject: Bools
    untrusted: Bools
    drawn: Bools
    sampled: bool
    left_out: tuple[str, ...]


def points_of(kept: Kept) -> Points:
    """What the figures of a study are drawn from."""
    table = kept.table
    # Of all columns, so that no two are alike.
    labels = dict(zip(table.columns, short_names([*table.columns]), strict=True))
    inputs = [_plain(table, name, labels[name]) for name in table.inputs]
    moving = tuple(one for one in inputs if one is not None and one.moves)
    found = [one for one in measures_of(kept, labels) if np.isfinite(one.values).any()]
    margin = [one for one in [_margin(table)] if np.isfinite(one.values).any()]
    groups = _groups(table, [n for n, one in zip(table.inputs, inputs, strict=True) if one is None])
    verdict = np.array(table.columns["verdict"], dtype=object)
    return Points(
        number=tuple(table.columns["variant"]),
        inputs=moving[:MOST_INPUTS],
        measures=(*found[:MOST_MEASURES], *margin),
        groups=_drawn_groups(groups),
        good=verdict == GOOD,
        reject=verdict == REJECT,
        untrusted=verdict == NOT_TRUSTED,
        drawn=np.arange(len(verdict)) < MOST_DRAWN,
        sampled=kept.study.design.sampled,
        left_out=tuple(_left_out(len(verdict), moving, found, groups)),
    )


def measures_of(kept: Kept, labels: dict[str, str]) -> list[Number]:
    """Measures with their bounds, in the order in which they were asked for."""
    return [
        Number(
            name,
            labels[name],
            numbers_of(kept.table, name)[0],
            one.low,
            one.high,
            _WAYS.get(one.measure, NEITHER),
        )
        for name, one in zip(kept.table.measures, kept.job.wanted, strict=True)
    ]


def _margin(table: StudyTable) -> Number:
    return Number(MARGIN, MARGIN.replace("_", " "), numbers_of(table, MARGIN)[0], 0.0, None, MORE)


def mass_of(table: StudyTable) -> Number:
    """Mass of the sheet; no numbers in a table of earlier making."""
    none = np.full(len(table.columns["variant"]), np.nan)
    return Number(
        MASS, MASS, numbers_of(table, MASS)[0] if MASS in table.columns else none, better=LESS
    )


def margin_of(points: Points) -> Number | None:
    """The least margin, where variants have one."""
    return next((one for one in points.measures if one.name == MARGIN), None)


def is_limited(points: Points) -> bool:
    """Whether anything was asked of the variants: a limit, a bound of a measure, or one broken."""
    bounded = any(one.low is not None or one.high is not None for one in points.measures)
    return bounded or bool(points.reject.any())


def follows(one: Number, other: Number, rows: Bools) -> bool:
    """Whether two numbers say the same: one is linear in the other or in its logarithm.

    So are the smallest thickness and the largest thinning of sheets of one gauge.
    """
    both = rows & np.isfinite(one.values) & np.isfinite(other.values)
    x, y = one.values[both], other.values[both]
    if len(x) <= LEAST_SPREAD or not np.ptp(x) or not np.ptp(y):
        return False
    forms = [(x, y)]
    forms += [(np.log(x), y)] if (x > 0.0).all() else []
    forms += [(x, np.log(y))] if (y > 0.0).all() else []
    return any(abs(float(np.corrcoef(u, v)[0, 1])) > 1.0 - SAME for u, v in forms)


def _plain(table: StudyTable, name: str, label: str) -> Number | None:
    """An input as numbers; None where it holds texts."""
    if any(isinstance(value, str | bool) for value in table.columns[name]):
        return None
    return Number(name, label, numbers_of(table, name)[0])


def _groups(table: StudyTable, names: Sequence[str]) -> list[Group]:
    """Variants by the values of the inputs that are texts, in the order of the table."""
    moving = [name for name in names if len(set(table.columns[name])) > 1]
    told = [
        ", ".join("-" if value is None else str(value) for value in row)
        for row in zip(*(table.columns[name] for name in moving), strict=True)
    ]
    if not told:
        return [Group("", np.full(len(table.columns["variant"]), fill_value=True))]
    every = np.array(told, dtype=object)
    return [Group(label, every == label) for label in dict.fromkeys(told)]


def _drawn_groups(groups: Sequence[Group]) -> tuple[Group, ...]:
    """The first groups, all others together as the last."""
    if len(groups) <= MOST_GROUPS:
        return tuple(groups)
    rest = groups[MOST_GROUPS - 1 :]
    together = np.logical_or.reduce([one.rows for one in rest])
    return (*groups[: MOST_GROUPS - 1], Group(f"{len(rest)} others", together))


def _left_out(
    count: int, inputs: Sequence[Number], measures: Sequence[Number], groups: Sequence[Group]
) -> list[str]:
    told = []
    if count > MOST_DRAWN:
        told.append(f"Of {count} variants the first {MOST_DRAWN} have marks in the figures.")
    for what, every, most in (
        ("input", inputs, MOST_INPUTS),
        ("measure", measures, MOST_MEASURES),
    ):
        if len(every) > most:
            names = ", ".join(one.name for one in every[most:])
            told.append(f"The figures show the first {counted(most, what)}; left out: {names}.")
    if len(groups) > MOST_GROUPS:
        told.append(
            f"Of {len(groups)} combinations of inputs that are no numbers the first"
            f" {MOST_GROUPS - 1} have a line of their own, the others share one."
        )
    return told
