"""The sheet that goes from stage to stage: mesh, metal and state."""

from __future__ import annotations

from dataclasses import dataclass

from skfem import MeshQuad

from formsim.case.schema import Case
from formsim.geometry.blank import strip_mesh
from formsim.geometry.strip import strip_of
from formsim.material.model import Material
from formsim.solver.body import Body, build_body
from formsim.solver.state import State, fresh_state
from formsim.stages.grading import grade
from formsim.stages.start import start_corners


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


def _mesh(case: Case) -> MeshQuad:
    grading, thickness, begin = grade(case), case.sheet.thickness, case.began_with
    if begin is not None:
        corners = start_corners(begin, thickness, grading.columns, grading.layers)
        return strip_of(corners)
    return strip_mesh(
        grading.inner,
        grading.outer,
        thickness,
        columns=grading.columns,
        layers=grading.layers,
        even_to=grading.even_to,
        finer=grading.finer,
        rim=grading.rim,
    )


def make_sheet(case: Case) -> Sheet:
    """Flat blank, tube or cup the line of a case begins with, without stress."""
    body = build_body(_mesh(case))
    return Sheet(body, Material.from_card(case.sheet.material), fresh_state(body))
