"""How far a run can be trusted: equilibrium, volume, energy, penetration, two force measures."""

from __future__ import annotations

import numpy as np

from formsim.case.schema import Case
from formsim.case.stage import Draw
from formsim.results.check import Check
from formsim.results.estimates import height_from_wall
from formsim.results.forces import force_mismatch
from formsim.results.record import Line, StageRecord
from formsim.results.shape import height, volume
from formsim.results.strains import surface_strains
from formsim.results.theory.volume import volume_change
from formsim.results.thickness import thickness_profile, volume_ratio
from formsim.results.trust_heat import heat_checks
from formsim.results.windows import largest_jump, synchronisations
from formsim.solver.tempo import FACTOR
from formsim.solver.window import Windows

OWN = "own limit"
RESIDUAL, FORCES, ENERGY, PENETRATION, DISTORTION = 1e-6, 1e-6, 0.01, 2.0, 0.1
VISCOUS, SINKING = 0.01, 0.1
JUMP = Windows().worst_jump
FREE_VOLUME, LOCAL_VOLUME, CUP_HEIGHT = 1e-4, 0.01, 0.04

ELASTIC = 0.01
"""Plastic work over all work below which a body has only sprung: help is measured by this then."""


def trust_checks(case: Case, line: Line) -> tuple[Check, ...]:
    """Trust table of a run, stage by stage."""
    checks: list[Check] = []
    for record, stage in zip(line.stages, case.stages, strict=False):
        checks += _solution(record, line)
        checks += _volume(record)
        checks += heat_checks(record)
        if isinstance(stage, Draw) and _is_plain_cup(case, stage):
            checks.append(_cup_height(record, line, stage))
    return tuple(checks)


def _is_plain_cup(case: Case, stage: Draw) -> bool:
    """Whether the formula for a flat base, a wall up to the rim and no hole applies."""
    through = stage.stroke == "through"
    return through and stage.punch.nose_ring is None and case.sheet.hole_diameter == 0.0


def _cup_height(record: StageRecord, line: Line, stage: Draw) -> Check:
    expected = height_from_wall(line, record, stage)
    return Check(
        name=f"{record.name}: cup height against constant volume with the real wall",
        computed=height(record.body, record.final),
        expected=expected,
        tolerance=CUP_HEIGHT * expected,
        unit="mm",
        source="constant volume of a cup with flat base and even nose",
    )


def _solution(record: StageRecord, line: Line) -> list[Check]:
    rows = (*record.increments, *record.release)
    ratio = min(volume_ratio(record.body, s).min() for s in (record.formed, record.final))
    return [
        _limit(
            record,
            "out-of-balance force over internal force",
            RESIDUAL,
            "",
            max((row.residuals[-1] for row in rows), default=0.0),
        ),
        _limit(
            record,
            "increments accepted above the tolerance",
            0.0,
            "",
            float(sum(row.loose for row in rows)),
        ),
        *(_tools(record, line) if record.increments else ()),
        Check(
            f"{record.name}: smallest volume ratio of a point",
            float(ratio),
            1.0,
            DISTORTION,
            "",
            OWN,
        ),
    ]


def _tools(record: StageRecord, line: Line) -> list[Check]:
    made = [row for row in record.increments if row.stroke >= 0.0]
    deepest = max((-row.deepest.min(initial=0.0) for row in made), default=0.0)
    return [
        _limit(
            record,
            "tool force by contact against internal forces",
            FORCES,
            "",
            force_mismatch(record),
        ),
        *_energies(record),
        *(_windows(record) if synchronisations(record) else ()),
        _limit(
            record,
            "deepest penetration of a loaded contact point during the stroke",
            PENETRATION,
            "% of t",
            100.0 * float(deepest) / line.thickness,
        ),
    ]


def _energies(record: StageRecord) -> list[Check]:
    energy = record.increments[-1].energy
    lent = energy.viscous + energy.guard
    spent = energy.elastic + energy.plastic + energy.friction + lent + energy.sinking
    work = max(abs(energy.external), 1e-300)
    return [
        _limit(
            record,
            "work of the press not found as elastic, plastic or frictional",
            ENERGY,
            "",
            (energy.external - spent) / work,
        ),
        _limit(
            record,
            "work of the help lent where the sheet jumps or its free rim folds, over plastic work",
            VISCOUS,
            "",
            lent / (energy.plastic if energy.plastic > ELASTIC * work else work),
        ),
        _limit(
            record,
            "work of the tools on their way into the numerical contact, over work of the press",
            SINKING,
            "",
            energy.sinking / work,
        ),
    ]


def _windows(record: StageRecord) -> list[Check]:
    return [
        _limit(
            record,
            "out-of-balance force of all columns where windows end, over internal force",
            RESIDUAL,
            "",
            max(row.residuals[-1] for row in record.increments if row.sync is not None),
        ),
        _limit(
            record,
            "jump of a tool force when all columns were solved again, over its peak",
            JUMP,
            "",
            largest_jump(record),
        ),
    ]


def _volume(record: StageRecord) -> list[Check]:
    flat = float(record.body.volume.sum())
    loaded = volume_change(volume(record.body, record.formed), flat)
    free = volume_change(volume(record.body, record.final), flat)
    constancy = "constant volume of plastic flow"
    checks = [
        Check(
            f"{record.name}: change of volume {record.loaded}",
            loaded,
            0.0,
            elastic_volume(record),
            "",
            "elastic change under biaxial flow stress",
        )
    ]
    if not record.specimen:  # Folds of a crushed body are as sharp as its sheet is thick.
        what = f"{record.name}: normal thickness against thickness from surface strains"
        checks.append(Check(what, local_mismatch(record), 0.0, LOCAL_VOLUME, "", constancy))
    if record.release:
        checks.append(
            Check(
                f"{record.name}: change of volume after springback",
                free,
                0.0,
                FREE_VOLUME,
                "",
                constancy,
            )
        )
    return checks


def elastic_volume(record: StageRecord) -> float:
    """Relative change of volume of sheet in biaxial tension at its flow stress [-].

    Mean stress two thirds of the flow stress over the bulk modulus: as much as sheet forming can
    do elastically, since plastic flow keeps the volume. Rate and heat change the flow stress.
    """
    stress = record.material.flow.stress(np.array([record.formed.strain.max()]))
    factor = record.formed.heat[..., FACTOR].max(initial=0.0) or 1.0
    return float(2.0 / 3.0 * stress[0] / record.material.bulk * factor)


def local_mismatch(record: StageRecord) -> float:
    """Largest relative difference of volume-true thickness and ``t0 exp(-(e1 + e2))`` [-].

    Without what lies nearer to the rim than the rim is thick, the last column at least: the end is
    free to slant, and no normal joins its faces there.
    """
    profile = thickness_profile(record.body, record.final)
    predicted = surface_strains(record.body, record.final).constant_volume_thickness
    ends = profile.arc_length[1:]
    inside = ends < ends[-1] - profile.thickness[-1]
    return float(np.abs(profile.volume_thickness / predicted - 1.0)[inside].max(initial=0.0))


def _limit(record: StageRecord, what: str, limit: float, unit: str, value: float) -> Check:
    return Check(f"{record.name}: {what}", float(value), 0.0, limit, unit, OWN)
