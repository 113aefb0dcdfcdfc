"""The summary of a run: the numbers a person or a study looks at first.

``summary.json`` holds the dictionary made here behind the stamp (``format``, ``case``, ``digest``,
``version``); DEVELOPERS.md describes every key.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from formsim.case.schema import Case
from formsim.case.stage import Stage
from formsim.results import shape
from formsim.results.check import Check
from formsim.results.estimates import Estimate
from formsim.results.forces import peak_forces, peak_pressure, tool_work
from formsim.results.record import Line, StageRecord
from formsim.results.zones import thinnest


def summarise(
    case: Case,
    line: Line,
    checks: Sequence[Check],
    theory: Sequence[Estimate],
    failure: str = "",
) -> dict[str, Any]:
    """Plain dictionary of a run, finished or not."""
    rows = [
        stage_row(line, record, stage)
        for record, stage in zip(line.stages, case.stages, strict=False)
    ]
    return {
        "finished": not failure,
        "failure": failure,
        "warnings": [],
        "passed": not failure and all(check.passed for check in checks),
        "mass_g": shape.mass(line.body, line.material.density),
        "limits": case.limits.model_dump(),
        "stages": rows,
        "checks": [check_row(check) for check in checks],
        "theory": [asdict(estimate) for estimate in theory],
    }


def stage_row(line: Line, record: StageRecord, stage: Stage) -> dict[str, Any]:
    """Row of one stage; lengths in mm, forces in N, work in J, after springback."""
    body, state, rows = line.body, record.final, record.increments
    place = thinnest(body, state, stage)
    row = {
        "name": record.name,
        "kind": record.kind,
        "min_thickness": place.thickness,
        "min_thickness_zone": place.zone,
        "min_thickness_radius": place.original_radius,
        "max_thinning_percent": place.thinning_percent,
        "peak_force": peak_forces(record),
        "work": tool_work(record),
        "height": shape.height(body, state),
        "penetration_um": deepest_penetration(record),
        "rms_gap_um": typical_gap(record),
        "stroke": rows[-1].stroke,
        "increments": len(rows) + len(record.release),
        "iterations": sum(r.iterations for r in (*rows, *record.release)),
        "cuts": sum(r.cuts for r in (*rows, *record.release)),
        "loose_increments": sum(r.loose for r in (*rows, *record.release)),
        "seconds": record.seconds,
    }
    if record.kind == "dome":
        row["dome_depth"] = shape.dome_depth(body, state)
        row["stand_diameter"] = shape.stand_diameter(body, state)
    if record.pressures:
        row["peak_pressure"] = peak_pressure(record)
    return row


def deepest_penetration(record: StageRecord) -> dict[str, float]:
    """Deepest penetration of a loaded point from stroke 0 on, tools closed, by tool [um]."""
    made = [row for row in record.increments if row.stroke >= 0.0] or record.increments
    deepest = np.min([row.deepest for row in made], axis=0)
    return {t.name: -1e3 * float(d) for t, d in zip(record.tools, deepest, strict=True)}


def typical_gap(record: StageRecord) -> dict[str, float]:
    """Pressure-weighted rms gap, median over the stage's loaded increments, by tool [um]."""
    gaps = np.array([row.rms_gap for row in record.increments])
    forces = np.abs(np.array([row.forces for row in record.increments]))
    named = {}
    for k, tool in enumerate(record.tools):
        loaded = forces[:, k] > 0.1 * forces[:, k].max(initial=0.0)
        named[tool.name] = 1e3 * float(np.median(gaps[loaded, k])) if loaded.any() else 0.0
    return named


def check_row(check: Check) -> dict[str, Any]:
    """Row of one check."""
    return asdict(check) | {"passed": check.passed}
