"""Tables of a comparison: results, inputs that differ, numbers, and the file of all of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from formsim.report.comparison.inputs import ABSENT, Difference
from formsim.report.comparison.judge import Win
from formsim.report.comparison.numbers import POINTS, Compared, Number
from formsim.report.comparison.side import Side
from formsim.report.comparison.stages import marks
from formsim.report.comparison.words import NOT_COMPARED, PARTS, Told, named, verdict
from formsim.report.lines import Grid
from formsim.report.words import counted
from formsim.results.tables import Column

WIDE = 4
"""Results beyond which a table has a row and not a column for each."""


BRACKETS = (
    "In brackets stands the noise of the solver by its trust checks: no error bar, but the least"
    " that a number may be off."
)
POINTS_MARK = "pp"
NOTHING = "nothing is known of how far these numbers may be off, so every difference counts"


def sides_table(sides: Sequence[Side], short: Sequence[str], against: int, inputs: int = 0) -> Grid:
    """One row per result: its letter, folder, what it is, its case and its verdict.

    Parameters
    ----------
    inputs : how many differ, told where they are too many for a few words
    """
    many = f"{counted(inputs, 'input')}, see below" if inputs else "-"
    rows = tuple(
        (
            side.mark,
            side.name,
            verdict(side),
            short[k] or many,
            str(side.summary.get("case", "")),
            str(side.summary.get("digest", "")),
        )
        for k, side in enumerate(sides)
    )
    head = ("letter", "result", "verdict", "differs by", "case", "digest")
    notes = (("", f"Changes are those against {sides[against].label}."),)
    widest = {1: 20, 2: 16, 3: 22, 4: 22}
    return Grid("Results", head, rows, left=(0, 1, 2, 3, 4, 5), widest=widest, notes=notes)


def inputs_table(sides: Sequence[Side], found: Sequence[Difference]) -> Grid:
    """Inputs that differ: a column for each of a few results, of many a row for each value."""
    title, notes = "Inputs that differ", (("", f"{ABSENT} stands for no such key in that case."),)
    told = notes if any(ABSENT in one.values for one in found) else ()
    if len(sides) <= WIDE:
        head = ("key", "unit", *(side.mark for side in sides), "origin")
        rows = tuple((one.key, one.unit, *one.values, one.origin) for one in found)
        widest = {0: 44, **{k + 2: 24 for k in range(len(sides))}}
        return Grid(title, head, rows, (0, 1, len(head) - 1), widest, told)
    rows = tuple(row for one in found for row in _by_value(sides, one))
    head = ("key", "unit", "value", "results", "origin")
    return Grid(title, head, rows, (0, 1, 3, 4), {0: 44, 2: 24}, told)


def _by_value(sides: Sequence[Side], one: Difference) -> Iterator[tuple[str, ...]]:
    for value in dict.fromkeys(one.values):
        of = [side for side, other in zip(sides, one.values, strict=True) if other == value]
        yield one.key, one.unit, value, marks(of), one.origin


def numbers_table(
    sides: Sequence[Side],
    rows: Sequence[Compared],
    against: int,
    title: str,
    won: Sequence[Win] = (),
) -> Grid:
    """One row per measure and result, with the difference and what it means."""
    best = {id(win.row): win for win in won}
    cells = tuple(
        (
            named(row) if k == 0 else "",
            row.measure.unit if k == 0 else "",
            side.label,
            _digits(row, row.numbers[k]),
            _bar(row, row.numbers[k]),
            *_change(row, k, against),
            _remark(side, row, k, against, best.get(id(row))),
        )
        for row in rows
        for k, side in enumerate(sides)
    )
    head = ("number", "unit", "result", "value", "+-", "change", "in %", "")
    known = [one for row in rows if not row.same for one in row.numbers if one is not None]
    notes = [("", BRACKETS)] if any(one.floor > (one.bar or 0.0) for one in known) else []
    every = range(len(sides))
    unsure = any(row.unsure(k) for row in rows if not row.same for k in every)
    notes += [("-", NOTHING)] if unsure else []
    shares = [row for row in rows if row.measure.share and not row.same]
    notes += [(POINTS_MARK, POINTS)] if shares else []
    return Grid(title, head, cells, (0, 1, 2, 7), {0: 27, 2: 13, 7: 14}, tuple(notes))


def trades_table(trades: Sequence[Told], against: Side) -> Grid:
    """One row per result with what it gains and at which price; for many results."""
    heads = (*PARTS, NOT_COMPARED)
    rows = tuple(
        (told.head, *(dict(told.parts).get(what, "") for what in heads)) for told in trades
    )
    shown = [k for k, what in enumerate(heads, start=1) if any(row[k] for row in rows)]
    cells = tuple((row[0], *(row[k] for k in shown)) for row in rows)
    head = ("result", *(heads[k - 1] for k in shown))
    return Grid(f"Against {against.label}", head, cells, left=tuple(range(len(head))))


def _digits(row: Compared, number: Number | None) -> str:
    return "-" if number is None else f"{number.value:.{row.measure.digits}f}"


def _bar(row: Compared, number: Number | None) -> str:
    """Error bar; in brackets the noise of the solver, where that is all that is known."""
    digits = row.measure.digits
    if number is None or not number.width:
        return "-"
    least = 10.0**-digits
    told = f"{number.width:.{digits}f}" if number.width > 0.5 * least else f"<{least:.{digits}f}"
    return told if number.bar is not None and number.bar >= number.floor else f"({told})"


def _change(row: Compared, k: int, against: int) -> tuple[str, str]:
    if k == against:
        return "", ""
    difference, percent = row.difference(k, against), row.percent(k, against)
    if difference is None:
        return "-", "-"
    if row.equal(k, against):
        return "same", "same"
    mark = f" {POINTS_MARK}" if row.measure.share else ""
    told = f"{difference:+.{row.measure.digits}f}{mark}"
    return told, "" if percent is None else f"{percent:+.2f}"


def _remark(side: Side, row: Compared, k: int, against: int, win: Win | None) -> str:
    told = []
    if row.numbers[k] is None:
        return "no such number"
    if row.same:
        return ""
    if not side.passed:
        told.append("did not pass" if side.finished else "not finished")
    if win is not None and win.second is not None and not win.equal and k == win.best:
        told.append("best" if win.clear else "ahead")
    known = k != against and row.numbers[against] is not None and not row.equal(k, against)
    if known and not row.apart(k, against):
        told.append("not told apart")
    return ", ".join(told)


def comparison_columns(
    sides: Sequence[Side],
    found: Sequence[Difference],
    groups: Mapping[str, Sequence[Compared]],
    against: int,
) -> dict[str, Column]:
    """Columns of ``compare.csv``: inputs that differ and all numbers, one row per result."""
    rows = [*_input_rows(sides, found), *_number_rows(sides, groups, against)]
    names = (
        "group",
        "stage",
        "quantity",
        "unit",
        "result",
        "folder",
        "digest",
        "passed",
        "value",
        "error_bar",
        "solver_noise",
        "difference",
        "difference_unit",
        "difference_percent",
        "told_apart",
    )
    return {name: [row[k] for row in rows] for k, name in enumerate(names)}


_Row = tuple[float | str, ...]


def _input_rows(sides: Sequence[Side], found: Sequence[Difference]) -> Iterator[_Row]:
    for one in found:
        for k, side in enumerate(sides):
            yield ("input", "", one.key, one.unit, *_who(side), one.values[k], *[""] * 6)


def _number_rows(
    sides: Sequence[Side], groups: Mapping[str, Sequence[Compared]], against: int
) -> Iterator[_Row]:
    for group, rows in groups.items():
        for row in rows:
            for k, side in enumerate(sides):
                number, measure = row.numbers[k], row.measure
                what = (group, measure.stage, measure.label, measure.unit)
                yield (*what, *_who(side), *_values(row, k, against, number))


def _values(row: Compared, k: int, against: int, number: Number | None) -> _Row:
    if number is None:
        return (*(math.nan,) * 4, "", math.nan, "")
    difference, percent = row.difference(k, against), row.percent(k, against)
    apart = "" if k == against or difference is None else "yes" if row.apart(k, against) else "no"
    given = (number.value, number.bar, number.floor or None, difference)
    known = (math.nan if one is None else one for one in given)
    unit = "" if difference is None else row.measure.difference_unit
    return (*known, unit, math.nan if percent is None else percent, apart)


def _who(side: Side) -> tuple[str, ...]:
    digest = str(side.summary.get("digest", ""))
    return side.mark, side.name, digest, "yes" if side.passed else "no"
