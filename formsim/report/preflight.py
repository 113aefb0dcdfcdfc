"""What a case will do, as plain text, before anything is solved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from formsim.case.describe import Row
from formsim.case.rules import Finding
from formsim.case.schema import Case
from formsim.case.stage import Bulge, Dome, Draw, Stage, Stretch
from formsim.report.table import table
from formsim.report.verdict import finding_lines
from formsim.stages.grading import grade


def stages_text(case: Case) -> str:
    """Sheet, mesh and stages in a few lines."""
    sheet, grading = case.sheet, grade(case)
    card = sheet.material
    lines = [
        f"sheet   {card.name}, {sheet.thickness:g} mm, blank {sheet.blank_diameter:g} mm",
        f"        {'invented data' if card.invented else card.source}; {card.r_note}",
        f"mesh    {grading.columns} columns x {grading.layers} layers",
    ]
    lines += [f"stage   {k + 1} {_stage_text(stage)}" for k, stage in enumerate(case.stages)]
    return "\n".join(lines)


def _stage_text(stage: Stage) -> str:
    match stage:
        case Draw():
            way = stage.stroke if stage.stroke == "through" else f"{stage.stroke:g} mm"
            what = (
                f"punch {stage.punch.diameter:g} mm, nose {stage.punch.nose_radius:g} mm,"
                f" die opening {stage.opening_diameter:g} mm, stroke {way}"
            )
        case Dome():
            what = f"crown radius {stage.dome.crown_radius:g} mm, depth {stage.depth:g} mm"
        case Stretch():
            what = f"punch {stage.punch.diameter:g} mm, depth {stage.depth:g} mm"
        case Bulge():
            what = f"opening {stage.diameter:g} mm, pole height {stage.height:g} mm"
    after = "springback" if stage.springback else "no springback"
    return f"{stage.name} ({stage.kind}): {what}, {after}"


def rules_text(findings: Sequence[Finding]) -> str:
    """Handbook rules against the case, what follows from those not kept, and the sources."""
    sources = list(dict.fromkeys(f.source for f in findings))
    rows = [
        (f.verdict, f.rule, f"{f.value:.4g}", f.limit, f"[{sources.index(f.source) + 1}]")
        for f in findings
    ]
    head = ("", "rule", "case", "usual", "source")
    lines = [table(head, rows, left=(0, 1, 3), widest={1: 46, 3: 24})]
    told = [line for f in findings if f.verdict != "good" for line in finding_lines(asdict(f))]
    lines += ["", *told] if told else []
    lines += ["", *(f"[{k}] {source}" for k, source in enumerate(sources, start=1))]
    return "\n".join(lines)


def values_text(rows: Sequence[Row]) -> str:
    """Every value of a case and whether it was given."""
    shown = [
        (row.key, "not set" if row.value is None else str(row.value), row.unit, row.origin)
        for row in rows
    ]
    return table(("key", "value", "unit", "origin"), shown, left=(0, 1, 2, 3))
