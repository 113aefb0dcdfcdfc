"""Result tables as plain text for a terminal, made from a summary."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

OK, FAILED = "ok", "failed"
_GAP = "  "


def result_text(summary: Mapping[str, Any]) -> str:
    """Whole table of a run: head, stages, tools, checks, verdict."""
    parts = [
        _head(summary),
        stage_table(summary),
        tool_table(summary),
        theory_table(summary),
        check_table(summary),
    ]
    parts.append(_verdict(summary))
    return "\n\n".join(part for part in parts if part) + "\n"


def stage_table(summary: Mapping[str, Any]) -> str:
    """One row per stage: thickness, height and what the solver needed."""
    head = (
        "stage",
        "min t [mm]",
        "zone",
        "at R [mm]",
        "thinning",
        "height [mm]",
        "steps",
        "iter.",
        "cuts",
        "loose",
        "time [s]",
    )
    rows = [
        (
            _stage_name(stage),
            f"{stage['min_thickness']:.4f}",
            stage["min_thickness_zone"],
            f"{stage['min_thickness_radius']:.2f}",
            f"{stage['max_thinning_percent']:.2f} %",
            f"{stage['height']:.2f}",
            str(stage["increments"]),
            str(stage["iterations"]),
            str(stage["cuts"]),
            str(stage["loose_increments"]),
            f"{stage['seconds']:.1f}",
        )
        for stage in summary.get("stages", ())
    ]
    return table(head, rows, left=(0, 2)) if rows else ""


def tool_table(summary: Mapping[str, Any]) -> str:
    """One row per stage and tool: peak force and work."""
    rows = []
    for stage in summary.get("stages", ()):
        peaks, work = stage.get("peak_force", {}), stage.get("work", {})
        for tool in dict.fromkeys([*peaks, *work]):
            force = f"{1e-3 * peaks[tool]:.3f}" if tool in peaks else "-"
            done = f"{work[tool]:.2f}" if tool in work else "-"
            rows.append((stage["name"], tool, force, done))
    return (
        table(("stage", "tool", "peak force [kN]", "work [J]"), rows, left=(0, 1)) if rows else ""
    )


def theory_table(summary: Mapping[str, Any]) -> str:
    """One row per textbook number, with the simulated one beside it."""
    rows = [
        (
            str(row["name"]),
            _number(row["theory"]),
            _number(row["simulated"]),
            str(row["unit"]) or "-",
            str(row["note"] or row["source"]),
        )
        for row in summary.get("theory", ())
    ]
    head = ("theory", "closed form", "simulated", "unit", "source")
    return table(head, rows, left=(0, 3, 4)) if rows else ""


def check_table(summary: Mapping[str, Any]) -> str:
    """One row per check, failed ones first."""
    checks = sorted(summary.get("checks", ()), key=lambda check: bool(check["passed"]))
    rows = [
        (
            OK if check["passed"] else FAILED,
            str(check["name"]),
            _number(check["computed"]),
            _number(check["expected"]),
            _number(check["tolerance"]),
            str(check.get("source", "")),
        )
        for check in checks
    ]
    head = ("", "check", "computed", "expected", "tolerance", "source")
    return table(head, rows, left=(0, 1, 5)) if rows else ""


def table(head: Sequence[str], rows: Iterable[Sequence[str]], *, left: Sequence[int] = ()) -> str:
    """Aligned columns under a ruled head; columns in ``left`` are left-aligned."""
    lines = [list(head), *(list(row) for row in rows)]
    widths = [max(len(line[k]) for line in lines) for k in range(len(head))]
    shown = [
        _GAP.join(
            text.ljust(width) if k in left else text.rjust(width)
            for k, (text, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    ]
    rule = "-" * max(len(line) for line in shown)
    return "\n".join([shown[0], rule, *shown[1:]])


def _head(summary: Mapping[str, Any]) -> str:
    case = str(summary.get("case", ""))
    known = [f"{key} {summary[key]}" for key in ("digest", "version") if key in summary]
    return f"{case}  ({', '.join(known)})" if known else case


def _verdict(summary: Mapping[str, Any]) -> str:
    limits = summary.get("limits", {})
    missing = "" if limits.get("max_thinning_percent") else "\nthinning: no limit given"
    warned = "".join(f"\nwarning: {text}" for text in summary.get("warnings", ()))
    return _checks_verdict(summary) + missing + warned


def _checks_verdict(summary: Mapping[str, Any]) -> str:
    if summary.get("failure"):
        return f"not finished: {summary['failure']}"
    checks = summary.get("checks", ())
    if not checks:
        return "no checks were made"
    bad = sum(not check["passed"] for check in checks)
    count = len(checks)
    if bad:
        return f"{bad} of {count} checks {FAILED}"
    return f"all {count} checks {OK}" if count > 1 else f"the check is {OK}"


def _stage_name(stage: Mapping[str, Any]) -> str:
    name, kind = str(stage["name"]), str(stage.get("kind", ""))
    return name if not kind or name.startswith(kind) else f"{name} ({kind})"


def _number(value: object) -> str:
    if isinstance(value, bool) or value is None:
        return "-" if value is None else str(value)
    if isinstance(value, int | float):
        return f"{value:.5g}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return " to ".join(_number(part) for part in value)
    return str(value)
