"""The sheet that goes from stage to stage: mesh, metal and state."""

from __future__ import annotations

from dataclasses import dataclass

from formsim.case.schema import Case
from formsim.geometry.blank import strip_mesh
from formsim.material.model import Material
from formsim.solver.body import Body, build_body
from formsim.solver.state import State, fresh_state
from formsim.stages.grading import grade


@dataclass(frozen=True)
class Sheet:
    """What one stage leaves behind and the next one receives.

    Attributes
    ----------
    body, material : mesh and metal; a trim cuts the one, a bake softens the other
    state : shape, hardening and stresses
    """

    body: Body
    material: Material
    state: State


def make_sheet(case: Case) -> Sheet:
    """Flat blank of a case."""
    grading = grade(case)
    mesh = strip_mesh(
        grading.inner,
        grading.outer,
        case.sheet.thickness,
        columns=grading.columns,
        layers=grading.layers,
        even_to=grading.even_to,
        finer=grading.finer,
    )
    body = build_body(mesh)
    return Sheet(body, Material.from_card(case.sheet.material), fresh_state(body))
