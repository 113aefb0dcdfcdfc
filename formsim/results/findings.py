"""All that can be said of a case before it is solved: handbook rules, its mesh, its ears."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.case.finding import Finding, Verdict
from formsim.case.rules import preflight
from formsim.case.schema import Case
from formsim.case.stage import Trim
from formsim.results.earing import foreseen_valley
from formsim.stages.coarse import layer_findings, mesh_findings

SOURCE = (
    "ring model of the ears, own derivation; behind the draw their height grows as the wall gets"
    " longer at constant volume, own estimate; height by constant volume and nominal walls"
)


def findings(case: Case) -> tuple[Finding, ...]:
    """All that can be said of a case before it is solved, by rules, mesh and ears."""
    return (*preflight(case), *mesh_findings(case), *layer_findings(case), *ear_findings(case))


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
