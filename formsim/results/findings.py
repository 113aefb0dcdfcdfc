"""All that can be said of a case before it is solved: handbook rules, its mesh, its ears."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.case.finding import Finding, Verdict
from formsim.case.rules import preflight
from formsim.case.schema import Case
from formsim.case.stage import Draw, Trim
from formsim.errors import TheoryRangeError
from formsim.results.earing import foreseen_valley
from formsim.results.theory.drawing import ideal_peak_force
from formsim.results.theory.volume import cup_height
from formsim.stages.bake import metal_behind
from formsim.stages.coarse import layer_findings, mesh_findings

SOURCE = (
    "ring model of the ears, own derivation; behind the draw their height grows as the wall gets"
    " longer at constant volume, own estimate; height by constant volume and nominal walls"
)


LEAST_FORCE = (
    "ideal work, Siebel and Beisswaenger 1955 (memory), and the holder force; friction and bending"
    " come on top"
)


def findings(case: Case) -> tuple[Finding, ...]:
    """All that can be said of a case before it is solved: rules, forces, mesh and ears."""
    return (
        *preflight(case),
        *force_findings(case),
        *stroke_findings(case),
        *mesh_findings(case),
        *layer_findings(case),
        *ear_findings(case),
    )


def force_findings(case: Case) -> Iterator[Finding]:
    """Whether the press may give what a draw needs at least; nothing where no limit is given."""
    given, sheet = case.limits.press_force, case.sheet
    if given is None or sheet.hole_diameter:
        return
    material = metal_behind((), sheet.material)
    for stage in case.stages:
        if not isinstance(stage, Draw) or stage.stroke != "through":
            continue
        wall = stage.punch.diameter + sheet.thickness
        try:
            ideal = ideal_peak_force(material.flow, sheet.blank_diameter, wall, sheet.thickness)
        except TheoryRangeError:
            continue
        least = ideal + (stage.holder.force or 0.0)
        rule, limit = f"{stage.name}: limits.press_force [N]", f"above {least:.0f}"
        text = f"the die bears {1e-3 * least:.3g} kN at least: the limit cannot be kept"
        if 10.0 * given < least <= 1e3 * given:
            text += f"; is {given:g} kN meant? Plain numbers are N"
        if given >= least:
            yield Finding(rule, given, limit, LEAST_FORCE, "good", "")
        else:
            yield Finding(rule, given, limit, LEAST_FORCE, "will fail", text)


def stroke_findings(case: Case) -> Iterator[Finding]:
    """Draws that leave a flange, where damage or a limit curve is judged: up to there only."""
    sheet = case.sheet
    if (case.damage is None and case.forming_limit is None) or sheet.hole_diameter:
        return
    for stage in case.stages:
        if not isinstance(stage, Draw) or stage.stroke == "through" or stage.punch.nose_ring:
            continue
        punch = stage.punch
        try:
            height = cup_height(
                sheet.blank_diameter, punch.diameter, punch.nose_radius, sheet.thickness
            )
        except TheoryRangeError:
            continue
        if stage.stroke < height:
            text = (
                "a flange is left, and the sheet is judged up to there only: what a whole draw asks"
                ' of it is told by stroke = "through"'
            )
            limit, source = f"above {height:.3g}", "cup height at constant thickness, geometry"
            yield Finding(f"{stage.name}: stroke [mm]", stage.stroke, limit, source, "watch", text)


def ear_findings(case: Case) -> Iterator[Finding]:
    """Whether a trim runs below the valleys between the ears; nothing where none are expected."""
    for number, (stage, received) in enumerate(zip(case.stages, case.received(), strict=True)):
        if not isinstance(stage, Trim) or received is None or received.height is None:
            continue
        valley = foreseen_valley(case, number)
        if valley <= 0.0:
            continue
        above = received.height - stage.height
        verdict: Verdict = "good" if above > valley else "watch"
        text = (
            "valleys between the ears stay below the cut, so the rim is not square: cut at"
            f" {received.height - valley:.2f} mm at most, or take a larger blank"
        )
        rule, limit = f"{stage.name}: mean rim above the cut [mm]", f"above {valley:.2f}"
        told = "" if verdict == "good" else text
        yield Finding(rule, above, limit, SOURCE, verdict, told)
