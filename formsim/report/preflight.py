"""What a case will do, as plain text, before anything is solved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from formsim.case.describe import Row
from formsim.case.earlier import Earlier, start_notes
from formsim.case.finding import Finding
from formsim.case.limits import Limits
from formsim.case.press import RamMotion
from formsim.case.schema import Case
from formsim.case.stage import (
    Bake,
    Bulge,
    Dome,
    Draw,
    Flange,
    Iron,
    Neck,
    Pressurise,
    Redraw,
    Stage,
    Stretch,
    Stroke,
    TopLoad,
    Trim,
    brought_to_limit,
)
from formsim.case.start import Tube
from formsim.report.lines import Grid, folded, grid_text, table
from formsim.report.rate_words import material_lines, speed_lines
from formsim.report.rule_text import finding_lines
from formsim.report.words import number
from formsim.results.closed_form import Estimate
from formsim.stages.grading import grade


def stages_text(case: Case) -> str:
    """Sheet, mesh and stages in a few lines."""
    sheet = case.sheet
    card = sheet.material
    lines = [
        f"sheet   {card.name}, {sheet.thickness:g} mm, {_start_words(case)}",
        f"        {'invented data' if card.invented else card.source}; {card.r_note}",
        *(
            _earlier_lines(case.earlier, case.limits)
            if case.earlier
            else [f"mesh    {grade(case).words}"]
        ),
    ]
    if case.press is not None:
        lines.append(f"press   {_press_words(case.press)}")
    lines += material_lines(card)
    lines += [f"stage   {k + 1} {_stage_text(stage)}" for k, stage in enumerate(case.stages)]
    lines += speed_lines(case)
    return "\n".join(lines)


def _earlier_lines(earlier: Earlier, limits: Limits) -> list[str]:
    """Which result a case goes on from, what was done to its sheet, and what to know of it."""
    done = ", ".join(stage.name for stage in earlier.stages)
    return [
        f'start   {earlier.folder} ({earlier.digest}) after "{earlier.after}", on its mesh',
        *folded(f"done    {done}"),
        *(line for note in start_notes(earlier, limits) for line in folded(f"warning: {note}")),
    ]


def _start_words(case: Case) -> str:
    start = case.began_with
    if start is None:
        return f"blank {case.sheet.blank_diameter:g} mm"
    size = start.length if isinstance(start, Tube) else start.height
    return f"{start.kind} {start.diameter:g} mm, {size:g} mm high"


def _press_words(press: RamMotion) -> str:
    rod = "" if press.rod_length is None else f", rod {press.rod_length:g} mm"
    return (
        f"{press.motion}, stroke {press.stroke:g} mm, {press.strokes_per_minute:g} per minute{rod}"
    )


_RIMS = {"lid": "closed by a lid", "clamped": "clamped"}


def _stage_text(stage: Stage) -> str:
    match stage:
        case Draw():
            way = stage.stroke if stage.stroke == "through" else f"{stage.stroke:g} mm"
            what = (
                f"punch {stage.punch.diameter:g} mm, nose {stage.punch.nose_radius:g} mm,"
                f" die opening {stage.die.opening(stage.punch):g} mm, stroke {way}"
            )
        case Redraw():
            way = stage.stroke if stage.stroke == "through" else f"{stage.stroke:g} mm"
            what = (
                f"{stage.direction}, punch {stage.punch.diameter:g} mm,"
                f" die opening {stage.die.opening(stage.punch):g} mm, stroke {way}"
            )
        case Iron():
            way = stage.stroke if stage.stroke == "through" else f"{stage.stroke:g} mm"
            bores = ", ".join(f"{ring.bore:g}" for ring in stage.rings)
            what = f"punch {stage.punch.diameter:g} mm, rings {bores} mm, stroke {way}"
        case Stroke():
            bores = ", ".join(f"{ring.bore:g}" for ring in stage.rings)
            dome = "" if stage.depth is None else f", dome {stage.depth:g} mm deep"
            what = (
                f"punch {stage.punch.diameter:g} mm, die opening"
                f" {stage.die.opening(stage.punch):g} mm, rings {bores} mm{dome}"
            )
        case Trim():
            what = f"cut square {stage.height:g} mm above the lowest point"
        case Bake() if stage.factor is not None:
            what = f"flow stress times {stage.factor:g}"
        case Bake():
            what = f"{stage.time:g} s at {stage.temperature:g} degC"
        case Neck():
            what = f"die throat {stage.die.diameter:g} mm, depth {stage.depth:g} mm"
        case Flange():
            what = f"tool {stage.tool.diameter:g} mm, depth {stage.depth:g} mm"
        case Pressurise():
            to = "the limit" if stage.until == "limit" else f"{stage.until:g} MPa"
            what = f"inside pressure up to {to}, rim {_RIMS[stage.rim]}, base {stage.base}"
        case TopLoad():
            inside = f", {stage.pressure:g} MPa inside" if stage.pressure else ""
            what = f"until it folds, {stage.rim} at the rim, base {stage.base}{inside}"
        case Dome():
            what = f"crown radius {stage.dome.crown_radius:g} mm, depth {stage.depth:g} mm"
        case Stretch():
            what = f"punch {stage.punch.diameter:g} mm, depth {stage.depth:g} mm"
        case Bulge():
            what = f"opening {stage.diameter:g} mm, pole height {stage.height:g} mm"
    after = "springback" if stage.springback else "no springback"
    after = "the next stage gets an undamaged body" if brought_to_limit(stage) else after
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


FORESEEN = (
    "left out are hardening by drawing, thinning and springback of the dome, bending of the nose"
    " and folding at necks and flange, where bodies usually give way first; the run finds these"
)


def limits_text(limits: Sequence[Estimate]) -> str:
    """Textbook limits of a finished body, and what they leave out."""
    rows = [(one.name, number(one.theory), one.unit, one.note or one.source) for one in limits]
    head = ("textbook limit by nominal sizes", "", "unit", "source")
    text = table(head, rows, left=(0, 2, 3), widest={0: 44, 3: 38})
    return "\n".join([text, *folded(FORESEEN)])


def values_text(rows: Sequence[Row]) -> str:
    """Every value of a case and whether it was given, as text."""
    return grid_text(values_table(rows))


def values_table(rows: Sequence[Row]) -> Grid:
    """Every value of a case and whether it was given."""
    shown = tuple(
        (row.key, "not set" if row.value is None else str(row.value), row.unit, row.origin)
        for row in rows
    )
    head = ("key", "value", "unit", "origin")
    return Grid("Every value of the case", head, shown, left=(0, 1, 2, 3))
