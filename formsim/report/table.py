"""Result tables as plain text for a terminal, made from a summary; 100 columns wide at most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from formsim.report.error_table import error_table
from formsim.report.line_tables import line_tables
from formsim.report.lines import Grid, folded, grid_text
from formsim.report.risk_table import risk_table
from formsim.report.verdict import verdict_text
from formsim.report.words import KINKED, number, wanted
from formsim.results.summary import BY_VOLUME

OK, FAILED = "ok", "failed"
OWN_LIMIT = "own limit"
KINK_MARK = "*"
EXACT = "run with --exact"


def result_text(summary: Mapping[str, Any]) -> str:
    """Whole text of a run: head, verdict, stages, tools, solver, theory, checks."""
    grids = (
        stage_table(summary),
        risk_table(summary),
        tool_table(summary),
        *line_tables(summary),
        error_table(summary),
        solver_table(summary),
        theory_table(summary),
        check_table(summary),
    )
    parts = [_head(summary), verdict_text(summary), *map(grid_text, grids)]
    return "\n\n".join(part for part in parts if part) + "\n"


def kept_text(summary: Mapping[str, Any], folder: Path, files: Sequence[str]) -> str:
    """What a run has left, and where."""
    word, names = "results" if summary["finished"] else "kept", ", ".join(files)
    told = f"{word} in {folder}: {names}"
    if not summary["stages"]:
        told = f"no stage was begun, so there are no tables and no page; {folder} holds {names}"
    return "\n".join(folded(told))


def stage_table(summary: Mapping[str, Any]) -> Grid:
    """One row per stage: thickness and shape of the part after it."""
    head = (
        "stage",
        "min t [mm]",
        "zone",
        "at R\n[mm]",
        "thinning",
        "height\n[mm]",
        "dome depth\n[mm]",
        "stand diam.\n[mm]",
    )
    rows = [
        (
            _stage_name(stage),
            f"{stage['min_thickness']:.4f}" + (KINK_MARK if _by_volume(stage) else ""),
            stage["min_thickness_zone"],
            f"{stage['min_thickness_radius']:.2f}",
            f"{stage['max_thinning_percent']:.2f} %",
            f"{stage['height']:.2f}",
            f"{stage['dome_depth']:.2f}" if "dome_depth" in stage else "-",
            f"{stage['stand_diameter']:.2f}" if "stand_diameter" in stage else "-",
        )
        for stage in summary.get("stages", ())
    ]
    kinked = any(map(_by_volume, summary.get("stages", ())))
    notes = ((KINK_MARK, KINKED),) if kinked else ()
    title = "Stages: the part after each"
    return Grid(title, head, tuple(rows), left=(0, 2), widest={0: 16}, notes=notes)


def _by_volume(stage: Mapping[str, Any]) -> bool:
    return stage.get("min_thickness_by") == BY_VOLUME


def tool_table(summary: Mapping[str, Any]) -> Grid:
    """One row per stage and tool: peak force and work."""
    rows = []
    for stage in summary.get("stages", ()):
        peaks, work = stage.get("peak_force", {}), stage.get("work", {})
        for tool in dict.fromkeys([*peaks, *work]):
            force = f"{1e-3 * peaks[tool]:.3f}" if tool in peaks else "-"
            done = f"{work[tool]:.2f}" if tool in work else "-"
            rows.append((stage["name"], tool, force, done))
    head = ("stage", "tool", "peak force [kN]", "work [J]")
    return Grid("Tools: largest force and work", head, tuple(rows), left=(0, 1))


def solver_table(summary: Mapping[str, Any]) -> Grid:
    """One row per stage: how far it went and what the solver needed."""
    head = (
        "stage",
        "stroke [mm]",
        "increments",
        "iterations",
        "step halvings",
        "with a larger residual",
        "time [s]",
    )
    rows = [
        (
            str(stage["name"]),
            f"{stage['stroke']:.3f}",
            str(stage["increments"]),
            str(stage["iterations"]),
            str(stage["cuts"]),
            str(stage["loose_increments"]),
            f"{stage['seconds']:.1f}",
        )
        for stage in summary.get("stages", ())
    ]
    return Grid("What the solver needed", head, tuple(rows), left=(0,), widest={0: 16})


def theory_table(summary: Mapping[str, Any]) -> Grid:
    """One row per textbook number, with the simulated one beside it; remarks stand below."""
    theory = summary.get("theory", ())
    remarks = list(dict.fromkeys(row["remark"] for row in theory if row.get("remark")))
    rows = [
        (
            str(row["name"]),
            number(row["theory"]),
            number(row["simulated"]),
            str(row["unit"]) or "-",
            str(row["note"] or row["source"]) + _mark(remarks, row),
        )
        for row in theory
    ]
    head = ("theory", "closed form", "simulated", "unit", "source")
    notes = tuple((f"[{k}]", remark) for k, remark in enumerate(remarks, start=1))
    title, widest = "Textbook numbers beside the simulated ones", {0: 38, 4: 30}
    return Grid(title, head, tuple(rows), left=(0, 3, 4), widest=widest, notes=notes)


def _mark(remarks: Sequence[str], row: Mapping[str, Any]) -> str:
    """Number of the remark below the table, behind the source of a row that has one."""
    return f" [{remarks.index(row['remark']) + 1}]" if row.get("remark") else ""


def check_table(summary: Mapping[str, Any]) -> Grid:
    """One row per check, failed ones first."""
    checks = sorted(summary.get("checks", ()), key=lambda check: bool(check["passed"]))
    rows = [
        (
            OK if check["passed"] else FAILED,
            str(check["name"]),
            number(check["computed"]),
            wanted(check),
            _source(check),
        )
        for check in checks
    ]
    head = ("", "check", "computed", "wanted", "source")
    widest = {1: 34, 3: 23, 4: 21}
    return Grid("Checks", head, tuple(rows), left=(0, 1, 3, 4), widest=widest)


def _source(check: Mapping[str, Any]) -> str:
    source = str(check.get("source", ""))
    if check.get("kind") == "limit":
        return "limits of the case"
    return "set by formsim" if source == OWN_LIMIT else source


def _head(summary: Mapping[str, Any]) -> str:
    case = str(summary.get("case", ""))
    known = [f"{key} {summary[key]}" for key in ("digest", "version") if key in summary]
    known += [EXACT] if summary.get("exact") else []
    head = f"{case}  ({', '.join(known)})" if known else case
    start = summary.get("start")
    if not start:
        return head
    told = f'starts from {start["result"]} ({start["digest"]}) after stage "{start["after"]}"'
    return "\n".join([head, *folded(told)])


def _stage_name(stage: Mapping[str, Any]) -> str:
    name, kind = str(stage["name"]), str(stage.get("kind", ""))
    return name if not kind or name.startswith(kind) else f"{name} ({kind})"
