"""The blank of a case as a meshed body."""

from __future__ import annotations

from formsim.case.schema import Case
from formsim.geometry.blank import strip_mesh
from formsim.solver.body import Body, build_body
from formsim.stages.grading import grade


def make_sheet(case: Case) -> Body:
    """Meshed blank of a case."""
    grading = grade(case)
    mesh = strip_mesh(
        grading.inner,
        grading.outer,
        case.sheet.thickness,
        columns=grading.columns,
        layers=grading.layers,
        even_to=grading.even_to,
    )
    return build_body(mesh)
