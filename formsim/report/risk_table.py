"""Table of risks for a terminal: the worst zone of every risk, and what is near a limit set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from formsim.report.lines import Grid
from formsim.report.words import number
from formsim.results.limit_curve import VALIDITY
from formsim.results.risk_words import NO_LIMIT

_STARS = {"limit curve": "*", "wrinkle index": "**"}
_MARKS = {"over": "OVER", "not judged": "-", NO_LIMIT: "no limit"}
_NOTES = {
    "limit curve": VALIDITY,
    "wrinkle index": "an index, no forecast: an axisymmetric model cannot show a wrinkle; hoop"
    " pressure of a ring no tool holds over the stress at which a flat strip of its size would"
    " buckle",
}


def risk_table(summary: Mapping[str, Any]) -> Grid:
    """One row per risk with its worst zone, and one per place that is over or near a limit set.

    Below it stands why what is over, or to be watched, is so.
    """
    rows = list(shown(summary.get("risk", ())))
    cells = tuple((*risk_cells(row), str(row["source"])) for row in rows)
    head = ("", "risk", "zone", "stage", "number", "limit", "margin", "source of the limit")
    why = [("", _told(row)) for row in rows if _told_below(row)]
    title, widest = "Risks: the worst zone of each", {2: 13, 3: 12, 7: 26}
    notes = (*star_notes(rows), *why)
    return Grid(title, head, cells, left=(0, 1, 2, 3, 7), widest=widest, notes=notes)


def risk_cells(row: Mapping[str, Any]) -> tuple[str, ...]:
    """Verdict, risk, zone, stage, number, limit and margin of a row in words."""
    return (
        _MARKS.get(row["verdict"], row["verdict"]),
        str(row["risk"]) + _STARS.get(row["risk"], ""),
        str(row["zone"]),
        str(row["stage"]),
        _with_unit(row["value"], row["unit"]),
        _with_unit(row["limit"], row["unit"]),
        "-" if row["margin"] is None else f"{100.0 * row['margin']:.0f} %",
    )


def star_notes(rows: Sequence[Mapping[str, Any]]) -> tuple[tuple[str, str], ...]:
    """What has to be known of some risks, where a row has a number of them."""
    told = {row["risk"] for row in rows if row["value"] is not None}
    return tuple((mark, _NOTES[risk]) for risk, mark in _STARS.items() if risk in told)


def _told_below(row: Mapping[str, Any]) -> bool:
    """Whether a row has its sentence below the table; limits of physics have it in the verdict."""
    return row["verdict"] == "watch" or (row["verdict"] == "over" and bool(row["own"]))


def shown(rows: Sequence[Mapping[str, Any]]) -> Iterator[Mapping[str, Any]]:
    """Rows for the terminal, in the order of the summary: the worst come first."""
    seen: set[str] = set()
    judged = {row["risk"] for row in rows if row["verdict"] != "not judged"}
    for row in rows:
        first = row["risk"] not in seen
        if row["verdict"] == "not judged" and row["risk"] in judged:
            continue
        if first or (row["own"] and row["verdict"] in ("over", "watch")):
            seen.add(row["risk"])
            yield row


def over_lines(summary: Mapping[str, Any]) -> Iterator[str]:
    """A sentence for every place that is over a limit of physics; it fails no check."""
    for row in summary.get("risk", ()):
        if row["verdict"] == "over" and not row["own"]:
            yield _told(row)


def _told(row: Mapping[str, Any]) -> str:
    return f"{row['verdict']}, {row['stage']}: {row['reason']}"


def _with_unit(value: float | None, unit: str) -> str:
    return "-" if value is None else f"{number(value)} {unit}".rstrip()
