"""The summary of a run: the numbers a person or a study looks at first.

``summary.json`` holds the dictionary made here behind the stamp (``format``, ``case``, ``digest``,
``version``); the README describes every key.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from formsim.case.schema import Case
from formsim.case.stage import Stage, Trim
from formsim.case.start import Result
from formsim.results import shape
from formsim.results.check import Check
from formsim.results.closed_form import Estimate
from formsim.results.course import given_way
from formsim.results.earing import earing_row
from formsim.results.earing import valley as valley_of
from formsim.results.findings import findings as found
from formsim.results.forces import force_curves, lid_force, peak_forces, tool_work
from formsim.results.kind_row import kind_row
from formsim.results.press_times import press_row
from formsim.results.rate_and_heat import rate_row
from formsim.results.record import Line, StageRecord
from formsim.results.risk import RiskReport
from formsim.results.strains import surface_strains
from formsim.results.thickness import thickness_profile, volume_ratio
from formsim.results.windows import window_row
from formsim.results.zones import thinnest
from formsim.solver.state import Energy

TRUST, LIMIT, EXPECTATION = "trust", "limit", "expectation"
BY_NORMAL, BY_VOLUME = "normal", "volume"
"""How a smallest thickness was measured; by volume where the sheet is kinked, torn or folded."""

RUNNING = "the run is still going, or was ended from outside"


@dataclass(frozen=True)
class Stop:
    """Why a run ended before its last stage did.

    Attributes
    ----------
    ended : ``interrupted``, ``torn``, ``curled``, ``crushed``, ``folded`` or ``no equilibrium``
    failure : what happened, with stage and stroke
    hint : what to try
    """

    ended: str
    failure: str
    hint: str = ""


@dataclass(frozen=True)
class Judged:
    """All checks of a run, by what they say.

    Attributes
    ----------
    trust : whether the numbers can be trusted
    limits : the limits of the case
    expected : the expectations of the case, in its order
    """

    trust: tuple[Check, ...] = ()
    limits: tuple[Check, ...] = ()
    expected: tuple[Check, ...] = ()


def summarise(
    case: Case,
    line: Line,
    judged: Judged,
    theory: Sequence[Estimate],
    risks: RiskReport,
    stop: Stop | None = None,
) -> dict[str, Any]:
    """Plain dictionary of a run, finished or not."""
    rows = [
        stage_row(line, record, stage, case.made_before(k), _valley(case, line, k))
        | earing_row(case, record, stage)
        | press_row(case, record, stage, case.made_before(k))
        | rate_row(record, stage, case.made_before(k))
        for k, (record, stage) in enumerate(zip(line.stages, case.stages, strict=False))
    ]
    checks = check_rows(line, judged)
    return _head(case, stop) | {
        "passed": stop is None and all(check["passed"] for check in checks),
        "mass_g": shape.mass(line.body, line.material.density),
        "stages": rows,
        "risk": [asdict(row) for row in risks.worst],
        "checks": checks,
        "theory": [asdict(estimate) for estimate in theory],
    }


def begun(case: Case, stop: Stop | None = None) -> dict[str, Any]:
    """Summary of a run that has made no stage yet, with the keys of every summary."""
    empty: dict[str, Any] = {"stages": [], "risk": [], "checks": [], "theory": []}
    return _head(case, stop or Stop("running", RUNNING)) | empty


def _head(case: Case, stop: Stop | None) -> dict[str, Any]:
    findings = [asdict(finding) for finding in found(case) if finding.verdict != "good"]
    return {
        "finished": stop is None,
        "ended": stop.ended if stop else "finished",
        "failure": stop.failure if stop else "",
        "hint": stop.hint if stop else "",
        "warnings": [],
        "exact": False,
        "error_bars": None,
        "start": _start(case),
        "findings": findings,
        "passed": False,
        "mass_g": None,
        "limits": case.limits.model_dump(),
    }


def _start(case: Case) -> dict[str, Any] | None:
    """The result a case starts from, as the case names it, its digest, the stage, what failed."""
    if not isinstance(case.start, Result) or case.earlier is None:
        return None
    earlier = case.earlier
    return {
        "result": case.start.result,
        "digest": earlier.digest,
        "after": earlier.after,
        "failed": list(earlier.failed),
    }


def _valley(case: Case, line: Line, number: int) -> float:
    return valley_of(case, line, number) if isinstance(case.stages[number], Trim) else 0.0


def stage_row(
    line: Line,
    record: StageRecord,
    stage: Stage,
    before: Sequence[Stage] = (),
    valley: float = 0.0,
) -> dict[str, Any]:
    """Row of one stage; lengths in mm, forces in N, work in J, after springback.

    Parameters
    ----------
    before : stages the sheet went through before this one
    valley : of a trim, how far valleys between ears lie below the rim it was given [mm]
    """
    body, state, rows = record.body, record.final, record.increments
    place, energy = thinnest(body, state, stage, before), rows[-1].energy if rows else Energy()
    row = {
        "name": record.name,
        "kind": record.kind,
        "complete": record.complete,
        "min_thickness": place.thickness,
        "min_thickness_zone": place.zone,
        "min_thickness_radius": place.original_radius,
        "min_thickness_by": BY_VOLUME if place.kinked else BY_NORMAL,
        "max_thinning_percent": place.thinning_percent,
        "peak_force": peak_forces(record) | _lid_peak(record),
        "work": tool_work(record),
        "energy": {name: 1e-3 * value for name, value in asdict(energy).items()},
        "height": shape.height(body, state),
        "penetration_um": deepest_penetration(record),
        "rms_gap_um": typical_gap(record),
        "stroke": record.stroke,
        "increments": len(rows) + len(record.release),
        "iterations": sum(r.iterations for r in (*rows, *record.release)),
        "cuts": sum(r.cuts for r in (*rows, *record.release)),
        "loose_increments": sum(r.loose for r in (*rows, *record.release)),
        "windows": window_row(record),
        "seconds": record.seconds,
        "gave_way": given_way(record),
    }
    return row | kind_row(line, record, stage, before, valley)


def _lid_peak(record: StageRecord) -> dict[str, float]:
    force = lid_force(record)
    return {} if force is None else {"lid": float(np.abs(force).max())}


def deepest_penetration(record: StageRecord) -> dict[str, float]:
    """Deepest penetration of a loaded point from stroke 0 on, tools closed, by tool [um]."""
    made = [row for row in record.increments if row.stroke >= 0.0] or record.increments
    if not made:
        return {}
    deepest = np.min([row.deepest for row in made], axis=0)
    return {t.name: -1e3 * float(d) for t, d in zip(record.tools, deepest, strict=True)}


def typical_gap(record: StageRecord) -> dict[str, float]:
    """Pressure-weighted rms gap, median over the stage's loaded increments, by tool [um]."""
    if not record.increments:
        return {}
    gaps = np.array([row.rms_gap for row in record.increments])
    forces = np.abs(np.array([row.forces for row in record.increments]))
    named = {}
    for k, tool in enumerate(record.tools):
        loaded = forces[:, k] > 0.1 * forces[:, k].max(initial=0.0)
        named[tool.name] = 1e3 * float(np.median(gaps[loaded, k])) if loaded.any() else 0.0
    return named


def check_rows(line: Line, judged: Judged) -> list[dict[str, Any]]:
    """Rows of all checks with their kind, their bounds and, where one fails, the place."""
    rows = [_check_row(check, TRUST) for check in judged.trust]
    rows += [_check_row(check, LIMIT) for check in judged.limits]
    rows += [_check_row(check, EXPECTATION) for check in judged.expected]
    for row in rows:
        note = row.pop("note")
        row["place"] = "" if row["passed"] else note or place_of(row["name"], line)
    return rows


def _check_row(check: Check, kind: str) -> dict[str, Any]:
    low, high = check.band
    row = {key: value for key, value in asdict(check).items() if key != "bounds"}
    return row | {
        "computed": None if math.isnan(check.computed) else check.computed,
        "kind": kind,
        "low": low if math.isfinite(low) else None,
        "high": high if math.isfinite(high) else None,
        "passed": check.passed,
    }


def place_of(name: str, line: Line) -> str:
    """Where in the stage or on the sheet a trust check found its worst value; may be empty."""
    stage, _, what = name.partition(": ")
    record = next((record for record in line.stages if record.name == stage), None)
    if record is None:
        return ""
    if what.startswith("out-of-balance"):
        return _increment(record, int(np.argmax([r.residuals[-1] for r in _rows(record)])))
    if what.startswith("increments accepted"):
        return _increment(record, int(np.argmax([r.loose for r in _rows(record)])))
    if what.startswith("tool force"):
        curves = force_curves(record)
        return _tool_place(record, np.abs(curves.force - curves.balance_force)[1:])
    if what.startswith("deepest penetration"):
        deepest = np.array([row.deepest for row in record.increments])
        strokes = np.array([row.stroke for row in record.increments])
        return _tool_place(record, np.where(strokes[:, None] >= 0.0, -deepest, 0.0))
    if what.startswith("smallest volume ratio"):
        worst = min((record.formed, record.final), key=lambda s: volume_ratio(record.body, s).min())
        ratio = volume_ratio(record.body, worst)
        return f"at R = {record.body.radius.flat[int(ratio.argmin())]:.1f} mm of the blank"
    if what.startswith("normal thickness"):
        profile = thickness_profile(record.body, record.final)
        predicted = surface_strains(record.body, record.final).constant_volume_thickness
        k = int(np.abs(profile.volume_thickness / predicted - 1.0)[:-1].argmax())
        return f"at R = {profile.column_radius[k]:.1f} mm of the blank"
    return ""


def _rows(record: StageRecord) -> list[Any]:
    return [*record.increments, *record.release]


def _increment(record: StageRecord, number: int) -> str:
    if number >= len(record.increments):
        return "during springback"
    return f"at stroke {record.increments[number].stroke:.3f} mm"


def _tool_place(record: StageRecord, values: Any) -> str:
    row, tool = np.unravel_index(int(values.argmax()), values.shape)
    return f"at the {record.tools[int(tool)].name}, {_increment(record, int(row))}"
