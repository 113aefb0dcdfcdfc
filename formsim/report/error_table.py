"""Error bars of the numbers of a run: a table for terminal and page, and lines for the verdict."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from formsim.report.lines import Grid
from formsim.report.words import counted, number
from formsim.results.error_bars import FINE, HALVED
from formsim.results.headline import FORCE, HEIGHT, THICKNESS, THINNING
from formsim.results.theory.convergence import ERRATIC, MOVING, NOT_ENOUGH

Row = Mapping[str, Any]

READING = (
    "bar: half its length about the number, for mesh and increments; it knows nothing of layers,"
    " friction or flow curve. Monotone: grid convergence index (Roache 1994, Celik et al. 2008) of"
    " the observed order; else no order holds, and the bar is three times the spread on the meshes"
    " at least. Increments: three times their error by first order (Roache 1994). Extrapolated: a"
    " guess at the number on a mesh without end, no better known than the number itself; its range"
    " in brackets is that of the bar."
)
SAME = 1e-4
"""Relative difference of a size from that of the stage before below which it is not told again."""

REST = "the others stand on the page and in error_bars.csv"

PLACES = "the zone it was found in is not the same on all meshes, so no order belongs to it"


def error_table(summary: Row, *, whole: bool = False) -> Grid:
    """One row per number with its bar; empty where none were asked for.

    Parameters
    ----------
    whole : all numbers; else thinning without a limit, all forces but the largest and sizes that a
        stage only passes on are left out
    """
    bars = summary.get("error_bars") or {"measures": (), "runs": ()}
    rows = list(bars["measures"]) if whole else list(_first(bars["measures"]))
    order = ("order",) if whole else ()
    named = ("stage", "number", "value", "bar +-", "unit", "bar\nin %")
    head = (*named, *order, "extrapolated\n(range)", "on meshes")
    notes = [("", READING), *(("", text) for text in run_lines(bars["runs"]))]
    if len(rows) < len(bars["measures"]):
        notes.append(("", f"{len(rows)} of {len(bars['measures'])} numbers; {REST}"))
    if any(row["kind"] == MOVING for row in rows):
        notes.insert(0, ("moving:", PLACES))
    title = "Error bars for mesh and increments"
    return Grid(
        title,
        head,
        tuple(_cells(row, whole=whole) for row in rows),
        left=(0, 1, 4, len(head) - 1),
        widest={0: 11, 1: 21, len(head) - 2: 18},
        notes=tuple(notes),
    )


def bar_lines(summary: Row) -> Iterator[str]:
    """What the bars say of a run, for its verdict: sentences."""
    bars = summary.get("error_bars")
    if not bars:
        return
    if bars["ended"] == "interrupted":
        yield "error bars: interrupted; what was run up to there is in their table"
    for run in bars["runs"]:
        if run["failure"]:
            yield f"error bars: {_run_name(run)} gave no numbers of all stages: {run['failure']}"
    if bars["increment_ratio"] is None and any(r["role"] == HALVED for r in bars["runs"]):
        yield "error bars: no part for increments, as no run with clearly shorter ones was made"
    kinds = Counter(row["kind"] for row in bars["measures"])
    erratic = sum(kinds[kind] for kind in ERRATIC)
    total = len(bars["measures"])
    if erratic:
        told = ", ".join(f"{kinds[kind]} {kind}" for kind in ERRATIC if kinds[kind])
        yield (
            f"error bars: {erratic} of {counted(total, 'number')} do not converge with the mesh in"
            f" an orderly way ({told}); their bars are three times the spread at least"
        )
    if kinds[NOT_ENOUGH]:
        yield f"error bars: {kinds[NOT_ENOUGH]} of {counted(total, 'number')} on too few meshes"
    for row in bars["measures"]:
        if row["open"]:
            yield (
                f"error bars: {row['stage']}: {row['measure']} {number(row['value'])} +-"
                f" {_two(row['uncertainty'])} {row['unit']}: a bound of the case lies within the"
                " bar, so a finer mesh might turn this check"
            )


def run_lines(runs: Sequence[Row]) -> Iterator[str]:
    """The runs of the family in words: one line, and one for each that failed."""
    made = [run for run in runs if not run["failure"]]
    if made:
        yield "runs: " + "; ".join(
            f"{_run_name(run)}, {run['increments']} increments, {run['seconds']:.0f} s"
            for run in made
        )
    for run in runs:
        if run["failure"]:
            yield f"{_run_name(run)} gave no numbers of all stages: {run['failure']}"
    coarse = ", ".join(_run_name(run) for run in runs if run["too_coarse"])
    if coarse:
        yield (
            "columns too long for the lands of the rings, so that orders of what they iron mean"
            f" little and bars are longer: {coarse}"
        )


def _run_name(run: Row) -> str:
    mesh = f"{run['columns']} x {run['layers']}"
    if run["role"] == HALVED:
        return "halved increments"
    return f"{mesh} elements" + (" (the case)" if run["role"] == FINE else "")


def _first(rows: Sequence[Row]) -> Iterator[Row]:
    """Rows to look at first."""
    largest: dict[str, float] = {}
    for row in rows:
        if row["measure"].startswith(FORCE):
            largest[row["stage"]] = max(row["value"], largest.get(row["stage"], 0.0))
    last: dict[str, float] = {}
    for row in rows:
        name, value = row["measure"], row["value"]
        bounded = row["low"] is not None or row["high"] is not None
        small = name.startswith(FORCE) and value < largest[row["stage"]]
        same = name in (THICKNESS, HEIGHT) and abs(value - last.get(name, 0.0)) < SAME * value
        last[name] = value
        if bounded or not (name == THINNING or small or same):
            yield row


def _cells(row: Row, *, whole: bool) -> tuple[str, ...]:
    scale, unit = (1e-3, "kN") if row["unit"] == "N" else (1.0, row["unit"] or "-")
    bar, value = row["uncertainty"], row["value"]
    sharp = None if bar is None else scale * bar
    share = "-" if bar is None or not value else _two(100.0 * abs(bar / value))
    order = "-" if row["order"] is None else f"{round(row['order'], 1) + 0.0:.1f}"
    return (
        row["stage"],
        row["measure"],
        _as_sharp_as(scale * value, sharp),
        "-" if bar is None else _two(scale * bar),
        unit,
        share,
        *((order,) if whole else ()),
        _extrapolated(row, scale, sharp),
        row["kind"],
    )


def _extrapolated(row: Row, scale: float, sharp: float | None) -> str:
    """The extrapolated number with its range; none where no order holds."""
    if row["extrapolated"] is None or sharp is None:
        return "-"
    ends = (row["value"] - row["uncertainty"], row["value"] + row["uncertainty"])
    low, high = (_near(scale * end, sharp) for end in ends)
    return f"{_near(scale * row['extrapolated'], sharp)} ({low}..{high})"


def _near(value: float, bar: float) -> str:
    """A number with the places that two digits of its bar have."""
    return f"{value:.{min(6, len(_two(bar).partition('.')[2]))}f}"


def _as_sharp_as(value: float, bar: float | None) -> str:
    """A number with as many places as two digits of its bar have, five digits at least."""
    digits = max(0, 5 - len(f"{abs(value):.0f}")) if abs(value) >= 1.0 else 5
    if bar:
        digits = max(digits, min(6, len(_two(bar).partition(".")[2])))
    return f"{value:.{digits}f}"


def _two(bar: float) -> str:
    """Two digits, without exponent down to a millionth."""
    if bar == 0.0:
        return "0"
    if bar >= 10.0:
        return f"{bar:.0f}"
    text = f"{bar:.2g}"
    return f"{bar:.7f}".rstrip("0").rstrip(".") if "e" in text and bar >= 1e-7 else text
