"""Textbook limits of a finished body by nominal sizes, before anything is solved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from formsim.case.schema import Case
from formsim.case.stage import Pressurise, Stage, TopLoad
from formsim.case.workpiece import Workpiece
from formsim.material.model import Material
from formsim.results.closed_form import Estimate, Row, estimate
from formsim.results.estimates_strength import (
    Cap,
    Wall,
    axial_rows,
    dome_of,
    dome_rows,
    hoop_row,
)
from formsim.results.theory.ironing import ironing_strain
from formsim.results.theory.necking import crush_load
from formsim.stages.bake import metal_behind


def foreseen_limits(case: Case) -> tuple[Estimate, ...]:
    """Limits for all pressurise and top_load stages of a case whose body is known.

    The wall is as thick as the tightest gap and hardened by its ironing alone; the dome has the
    crown of its tool and the thickness of the sheet. Nothing is told of a body that is not known.
    """
    rows: list[Row] = []
    for number, (stage, work) in enumerate(zip(case.stages, case.received(), strict=True)):
        if work is not None and work.form == "cup":
            rows += _rows(case, stage, work, case.made_before(number))
    return tuple(estimate(row) for row in rows)


def _rows(case: Case, stage: Stage, work: Workpiece, before: Sequence[Stage]) -> Iterator[Row]:
    if not isinstance(stage, Pressurise | TopLoad):
        return
    material = metal_behind(before, case.sheet.material)
    wall = _nominal_wall(work, material, case.sheet.thickness)
    if isinstance(stage, TopLoad):
        yield from axial_rows(stage.name, material, wall, stage.pressure, None)
        return
    yield hoop_row(stage.name, wall, None)
    tool = dome_of(before)
    if tool is not None:
        cap = Cap(tool.crown_radius, 0.5 * tool.diameter, case.sheet.thickness)
        yield from dome_rows(stage.name, material, cap, None)


def _nominal_wall(work: Workpiece, material: Material, thickness: float) -> Wall:
    """The wall by its nominal sizes; its flow stress is that behind the ironing alone."""
    strain = ironing_strain(max(1.0 - work.wall / thickness, 0.0), material.r_bar)
    flow = float(material.flow.stress(np.array([strain]))[0])
    mean = work.inner + work.wall
    return Wall(0.5 * mean, work.wall, flow, crush_load(flow, mean, work.wall))
