"""Tables of the page of a run: those of the terminal, and every zone, rule, value and file."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from formsim.report.error_table import error_table
from formsim.report.line_tables import line_tables
from formsim.report.lines import Grid
from formsim.report.risk_table import risk_cells, star_notes
from formsim.report.table import (
    check_table,
    solver_table,
    stage_table,
    theory_table,
    tool_table,
)
from formsim.report.words import number

CHECKS = {
    "trust": "Trust: whether the numbers can be relied on",
    "limit": "Limits of the case",
    "expectation": "Expectations of the case",
}


class Section(NamedTuple):
    """Tables under one heading; ``nothing`` is said where there are none."""

    name: str
    title: str
    grids: tuple[Grid, ...]
    nothing: str


def sections(summary: Mapping[str, Any]) -> tuple[Section, ...]:
    """All tables of a summary, in the order of the page."""
    checks = tuple(_checks(summary, kind, title) for kind, title in CHECKS.items())
    found = (
        ("stages", "Stages", (stage_table(summary),), "No stage was made."),
        ("zones", "Zones and risks", (zones_table(summary),), "No risks were judged."),
        (
            "tools",
            "Tools, rings, necks and loads",
            (tool_table(summary), *line_tables(summary)),
            "No tool has worked.",
        ),
        (
            "theory",
            "Theory beside simulation",
            (theory_table(summary),),
            "No textbook number was worked out.",
        ),
        (
            "bars",
            "Error bars for mesh and increments",
            (error_table(summary, whole=True),),
            "Not asked for: formsim run CASE --error-bars works them out.",
        ),
        ("checks", "Can the numbers be trusted", checks, "No checks were made."),
        (
            "rules",
            "Handbook rules not kept",
            (findings_table(summary),),
            "The case keeps all handbook rules it was compared with.",
        ),
        ("solver", "What the solver needed", (solver_table(summary),), "Nothing was solved."),
    )
    return tuple(
        Section(name, title, tuple(grid for grid in grids if grid.rows), nothing)
        for name, title, grids, nothing in found
    )


def zones_table(summary: Mapping[str, Any]) -> Grid:
    """One row per zone and risk in the stage where it is worst, with its reason."""
    risks = summary.get("risk", ())
    rows = tuple((*risk_cells(row), str(row["reason"]), str(row["source"])) for row in risks)
    head = ("verdict", "risk", "zone", "stage", "number", "limit", "margin", "why", "source")
    title = "Every zone and risk, in the stage where it is worst; the worst come first"
    return Grid(title, head, rows, left=(0, 1, 2, 3, 7, 8), notes=star_notes(risks))


def findings_table(summary: Mapping[str, Any]) -> Grid:
    """One row per handbook rule that the case does not keep."""
    rows = tuple(
        (
            str(finding["verdict"]),
            str(finding["rule"]),
            number(finding["value"]),
            str(finding["limit"]),
            str(finding["consequence"]),
            str(finding["source"]),
        )
        for finding in summary.get("findings", ())
    )
    head = ("verdict", "rule", "case", "usual", "what follows", "source")
    return Grid("Handbook rules the case does not keep", head, rows, left=(0, 1, 3, 4, 5))


def files_table(sizes: Mapping[str, int]) -> Grid:
    """One row per file of the result."""
    rows = tuple((name, f"{1e-3 * size:.1f}") for name, size in sizes.items())
    return Grid("Files of the result", ("file", "size [kB]"), rows, left=(0,))


def _checks(summary: Mapping[str, Any], kind: str, title: str) -> Grid:
    checks = [c for c in summary.get("checks", ()) if c.get("kind", "trust") == kind]
    grid = check_table({"checks": checks})
    return Grid(title, ("verdict", *grid.head[1:]), grid.rows, left=grid.left)
