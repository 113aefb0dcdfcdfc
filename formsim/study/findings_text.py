"""What a study says as a whole, in words and tables."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from formsim.report.lines import Grid, folded, grid_text
from formsim.report.words import counted, number
from formsim.study.findings import Findings, Rows
from formsim.study.folder import SENSITIVITY
from formsim.study.scatter import Rate
from formsim.study.table import StudyTable
from formsim.study.words import result_text

STRAIGHT = 0.9
"""Share of the variance a straight law should explain before its slopes are told without a word."""


def study_text(made: StudyTable, found: Findings, folder: Path, files: Sequence[str]) -> str:
    """All that a study has come to, and where it lies."""
    where = textwrap.fill(f"study in {folder}: {', '.join(files)}", 100)
    return "\n".join(filter(None, [result_text(made), findings_text(found), where]))


def findings_text(found: Findings) -> str:
    """Rejects, scatter and sensitivity; empty where there is nothing to tell."""
    parts = []
    if found.rate is not None:
        parts.append("\n".join(folded(rate_text(found.rate, found.unjudged))))
    if found.scatter:
        parts.append(grid_text(scatter_grid(found.scatter)))
    if found.sensitivity:
        parts.append(grid_text(sensitivity_grid(found.sensitivity)))
    if found.silent:
        parts.append("\n".join(folded(f"no {SENSITIVITY}: {found.silent}")))
    return "\n" + "\n\n".join(parts) + "\n" if parts else ""


def rate_text(rate: Rate, unjudged: int) -> str:
    """The rate of rejects with its interval, in a sentence."""
    said = (
        f"rejects: {rate.rejects} of {counted(rate.count, 'judged sample')},"
        f" {100.0 * rate.share:.3g} %; with 95 % confidence the rate lies between"
        f" {100.0 * rate.low:.3g} and {100.0 * rate.high:.3g} % (Clopper and Pearson), as far as"
        " the scatter given is that of the shop"
    )
    if unjudged:
        said += f"; {counted(unjudged, 'sample')} without a verdict left out"
    return said


def scatter_grid(rows: Rows) -> Grid:
    """How the numbers of a sampled study scatter."""
    head = ("scatter of", "mean", "standard\ndeviation", "5 %\nbelow", "median", "95 %\nbelow")
    keys = ("mean", "deviation", "low", "median", "high")
    cells = tuple((str(row["number"]), *(number(row[key]) for key in keys)) for row in rows)
    return Grid("Scatter of the numbers", head, cells, left=(0,))


def sensitivity_grid(rows: Rows) -> Grid:
    """What moves the numbers, and how much these statements are worth."""
    if rows[0]["way"] == "variance":
        return _shares_grid(rows)
    head = ("what moves", "with", "slope", "error", "change over\nthe range")
    cells = tuple(
        (str(row["number"]), _short(row["input"]), number(row["slope"]), number(row["error"]),
         number(row["change_over_range"]))
        for row in rows
    )  # fmt: skip
    notes = tuple(("", told) for told in _remarks(rows))
    return Grid("What moves the numbers", head, cells, left=(0, 1), notes=notes)


def _remarks(rows: Rows) -> list[str]:
    """How much the slopes are worth."""
    if rows[0]["way"] == "difference":
        return ["error: half the difference of the slopes to both sides of the base case"]
    bent = {str(row["number"]) for row in rows if row["determination"] < STRAIGHT}
    told = ["error: standard error of a straight law through all variants that can be trusted"]
    if bent:
        told.append(
            f"a straight law explains less than {100.0 * STRAIGHT:.0f} % of the variance of"
            f" {', '.join(sorted(bent))}: look at the table before you use these slopes"
        )
    return told


def _shares_grid(rows: Sequence[Mapping[str, Any]]) -> Grid:
    head = ("variance of", "caused by", "alone", "95 %", "with others", "95 %")
    cells = tuple(
        (str(row["number"]), _short(row["input"]), f"{row['first_order']:.2f}",
         _interval(row, "first_order"), f"{row['total']:.2f}", _interval(row, "total"))
        for row in rows
    )  # fmt: skip
    source = f"Sobol indices from {rows[0]['samples']} samples, Saltelli 2010; intervals resampled"
    return Grid("What the variance comes from", head, cells, left=(0, 1), notes=(("", source),))


def _interval(row: Mapping[str, Any], key: str) -> str:
    low, high = row[f"{key}_low"], row[f"{key}_high"]
    return f"{low:.2f} to {high:.2f}" if math.isfinite(low) and math.isfinite(high) else "-"


def _short(name: object) -> str:
    """The end of a key path, enough to know it by."""
    return ".".join(str(name).split(".")[-2:])
