"""A stage against time: what the ram of the press does while its tools work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from formsim.arrays import Floats
from formsim.case.press import RamMotion
from formsim.case.schema import Case
from formsim.case.stage import Iron, Stage, Stroke
from formsim.errors import TheoryRangeError
from formsim.results.forces import force_curves
from formsim.results.ironing import RingFigures, ring_figures, works_fully
from formsim.results.ram import Ram, stage_motion
from formsim.results.record import Line, StageRecord
from formsim.results.strains import surface_strains
from formsim.results.theory.heating import ring_strain_rate, temperature_rise
from formsim.results.theory.plastic_work import work_density
from formsim.results.thickness import thickness_profile
from formsim.results.zones import zones


@dataclass(frozen=True)
class PressFigures:
    """A stage made by a press whose ram is at its bottom when the stage ends.

    Attributes
    ----------
    start, end : time of stroke 0 and of the last stroke, zero at the bottom of the ram [s]
    contact_speed, peak_speed : of the ram at stroke 0 and at most over the stage [mm/s]
    ring_strain_rate : largest equivalent strain rate inside each ring, by its name [1/s]
    wall_temperature_rise : largest one in the wall by the work of this stage, no heat lost; None
        without a wall or where the card of the metal has no heat capacity [K]
    """

    start: float
    end: float
    contact_speed: float
    peak_speed: float
    ring_strain_rate: dict[str, float]
    wall_temperature_rise: float | None


def ram_of(press: RamMotion | None, record: StageRecord) -> Ram | None:
    """The ram at the rows of ``force_curves``; None where no press makes the stage to its end.

    Tools close on their own before stroke 0: those rows have the time of stroke 0, at its speed.
    """
    if press is None or not record.complete or not record.tools or not record.increments:
        return None
    try:
        return stage_motion(press, np.maximum(force_curves(record).stroke, 0.0))
    except TheoryRangeError:
        return None


def press_figures(
    case: Case, record: StageRecord, stage: Stage, before: Sequence[Stage] = ()
) -> PressFigures | None:
    """Times, speeds, strain rates and heat of a stage; None where no press makes it."""
    ram = ram_of(case.press, record)
    if ram is None:
        return None
    heat = case.sheet.material.heat_capacity
    rings = ring_figures(record, stage) if isinstance(stage, Iron | Stroke) else ()
    rates = {r.name: _ring_rate(record, stage, r, ram.speed) for r in rings}
    return PressFigures(
        start=float(ram.time[0]),
        end=float(ram.time[-1]) + 0.0,
        contact_speed=float(ram.speed[0]),
        peak_speed=float(ram.speed.max()),
        ring_strain_rate={name: rate for name, rate in rates.items() if rate is not None},
        wall_temperature_rise=_heating(record, heat, (*before, stage)),
    )


def press_notes(case: Case, line: Line) -> list[str]:
    """Stages whose stroke came out longer than that of the press, so that they have no times."""
    if case.press is None:
        return []
    return [
        f"{record.name}: the press moves {case.press.stroke:g} mm and the stage took"
        f" {record.stroke:.2f} mm, so it has no times"
        for record in line.stages
        if record.tools and record.increments and record.stroke > case.press.stroke
    ]


def press_row(
    case: Case, record: StageRecord, stage: Stage, before: Sequence[Stage] = ()
) -> dict[str, Any]:
    """Keys of a stage that a press adds to its row of the summary."""
    found = press_figures(case, record, stage, before)
    return {} if found is None else {"press": asdict(found)}


def _ring_rate(
    record: StageRecord, stage: Stage, figures: RingFigures, speed: Floats
) -> float | None:
    """Mean strain rate in the cone of a ring at the fastest moment of its work [1/s]."""
    if not isinstance(stage, Iron | Stroke) or figures.reduction <= 0.0:
        return None
    curves = force_curves(record)
    names = [name for name in curves.tools if name.startswith("ring")]
    force = np.abs(curves.force[:, curves.tools.index(figures.name)])
    fastest = float(speed[works_fully(force)].max())
    ring = stage.rings[names.index(figures.name)]
    try:
        return ring_strain_rate(
            figures.entry_thickness,
            figures.exit_thickness,
            ring.entry_angle,
            fastest,
            record.material.r_bar,
        )
    except TheoryRangeError:
        return None


def _heating(
    record: StageRecord, heat_capacity: float | None, made: Sequence[Stage]
) -> float | None:
    """Largest rise over the columns of the wall by the area under the flow curve [K]."""
    names = zones(thickness_profile(record.body, record.formed), made[-1], made[:-1])
    wall = np.array(names[1:]) == "wall"
    if heat_capacity is None or not wall.any():
        return None
    start, end = record.frames[0].state, record.formed
    before, after = (surface_strains(record.body, s).equivalent for s in (start, end))
    worst = max(
        work_density(record.material.flow, float(low), max(float(low), float(high)))
        for low, high in zip(before[wall], after[wall], strict=True)
    )
    return temperature_rise(worst, record.material.density, heat_capacity)
