"""Whether the mesh of a case is fine enough for the lands of its rings, told beforehand."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from formsim.case.filling import TESTED_LAYERS, TESTS
from formsim.case.finding import Finding
from formsim.case.schema import Case
from formsim.case.stage import Iron, Stroke
from formsim.case.tools import Punch
from formsim.stages.grading import Grading, grade

LEAST, ENOUGH = 1.1, 1.3
"""Land over the columns of the ironed wall: below the first numbers and solver suffer."""

LAYERS_MEASURED = "measured on cases/canister_line against meshes of three and four layers"

UNMEASURED = "our own default; for a body that was not ironed its effect was not measured"
FORMED_APART = (
    f"formed and tested in one run this body would have {TESTED_LAYERS} layers, so that its limits"
    f" would differ a little: form it with layers = {TESTED_LAYERS} under [mesh] to compare"
)

MEASURED = (
    "measured on cases/canister_line: at 0.65 its wall came out 1 % too thin and the ring force a"
    " tenth too high, with 2.5 times the iterations of 1.5"
)


def mesh_findings(case: Case) -> Iterator[Finding]:
    """Columns of the wall behind every ring to its land; none for the mesh of a result."""
    if case.earlier is not None:
        return
    grading = grade(case)
    for stage in case.stages:
        if not isinstance(stage, Iron | Stroke):
            continue
        for number, ring in enumerate(stage.rings, start=1):
            gap = 0.5 * (ring.bore - stage.punch.diameter)
            share = ring.land / longest_behind(case, grading, stage.punch, gap)
            which = f"ring {number}" if len(stage.rings) > 1 else "ring"
            what = f"{stage.name}: {which} land in columns of the mesh"
            yield _finding(what, share, grading.columns)


def layer_findings(case: Case) -> Iterator[Finding]:
    """Layers of the mesh of an ironed body that is tested, where there are fewer than usual."""
    ironed = any(isinstance(stage, Iron | Stroke) for stage in case.made_before(len(case.stage)))
    layers = case.mesh.layers
    if layers >= TESTED_LAYERS or not any(s.kind in TESTS for s in case.stages):
        return
    what, limit = "layers of the mesh of a body that is tested", f"at least {TESTED_LAYERS}"
    if not ironed:
        if case.earlier is not None:
            yield Finding(what, layers, limit, UNMEASURED, "watch", FORMED_APART)
        return
    text = (
        "the load it folds at may be off by 2 %, its inside pressure by 1 %: form the body with"
        f" layers = {TESTED_LAYERS} under [mesh]"
    )
    yield Finding(what, layers, limit, LAYERS_MEASURED, "watch", text)


def longest_behind(case: Case, grading: Grading, punch: Punch, gap: float) -> float:
    """Longest column of the wall behind a ring, by constant volume [mm].

    A column at R of the blank is stretched along the wall by the ratio of its radii while it is
    drawn, and by that of the thickness before to the gap while it is ironed.
    """
    lengths = grading.lengths
    ironed = max(case.sheet.thickness / gap, 1.0)
    if case.began_with is not None:
        drawn = max(case.began_with.diameter / punch.diameter, 1.0)
        return float(lengths.max()) * drawn * ironed
    radius = grading.inner + np.cumsum(lengths) - 0.5 * lengths
    wall = radius > 0.5 * punch.diameter
    stretch = radius[wall] / (0.5 * punch.diameter)
    return float((lengths[wall] * stretch).max(initial=0.0)) * ironed


def _finding(rule: str, share: float, columns: int) -> Finding:
    """Finding of one ring, with the columns that would do."""
    limit = f"at least {LEAST:g}"
    if share >= LEAST:
        return Finding(rule, share, limit, MEASURED, "good", "")
    needed = 10 * math.ceil(0.1 * columns * ENOUGH / share)
    text = (
        "too coarse a mesh: the wall comes out too thin, the force too high, and the solver needs"
        f" many more iterations; take {needed} columns under [mesh], or leave them out"
    )
    return Finding(rule, share, limit, MEASURED, "watch", text)
