"""What every column went through in a stage: strains and damage in the kept states."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats, Ints
from formsim.case.stage import Stage
from formsim.results.curve import between_lines
from formsim.results.damage import DamageLaw, ironed
from formsim.results.limit_curve import LimitCurve
from formsim.results.record import Frame, StageRecord
from formsim.results.strains import middle_strains
from formsim.results.thickness import thickness_profile
from formsim.results.zones import zones


@dataclass(frozen=True)
class Trace:
    """Columns of a stage over its kept states.

    Attributes
    ----------
    stage : name
    zones : zone of every column in the last state, (n_columns)
    way : place of the columns before the first stage, in a flat blank its radius, (n_columns) [mm]
    strokes, phases : of the states, (n_states) [mm]
    major, minor : log strains of the middle of the sheet, (n_states, n_columns) [-]
    straight, level : how far they have come to the limit curve, on the straight way and at equal
        minor strain, 1 on it; not a number where none holds, (n_states, n_columns) [-]
    damage : by the law of the case, (n_states, n_columns) [-]
    thinning : loss of thickness by these strains at constant volume, (n_states, n_columns) [%]
    thinned : at last, along the normal, of the two lines beside a column the larger, (n_columns)
        [%]
    squeezed : columns that have flowed under pressure across the sheet by then, (n_states,
        n_columns)
    """

    stage: str
    zones: tuple[str, ...]
    way: Floats
    strokes: Floats
    phases: tuple[str, ...]
    major: Floats
    minor: Floats
    straight: Floats
    level: Floats
    damage: Floats
    thinning: Floats
    thinned: Floats
    squeezed: Bools

    @property
    def ironed(self) -> Bools:
        """Columns that are ironed at last, (n_columns)."""
        last: Bools = self.squeezed[-1]
        return last

    @property
    def share(self) -> Floats:
        """The more severe reading of the limit curve, (n_states, n_columns) [-]."""
        found: Floats = np.fmax(self.straight, self.level)
        return found

    @property
    def beyond(self) -> Bools:
        """Columns that were stretched where the curve does not reach, (n_columns)."""
        unknown: Bools = np.isnan(self.share) & ~self.squeezed
        return np.asarray(unknown.any(axis=0))

    @property
    def worst_share(self) -> Floats:
        """Largest share up to where a column was ironed, (n_columns) [-]; else not a number."""
        most = self.known_share.max(axis=0)
        return np.where(np.isneginf(most), np.nan, most)

    @property
    def nearest_stroke(self) -> Floats:
        """Stroke at which every column was nearest to the curve, (n_columns) [mm]."""
        strokes: Floats = self.strokes[self.nearest]
        return strokes

    @property
    def nearest(self) -> Ints:
        """State in which every column was nearest to the curve, (n_columns)."""
        states: Ints = self.known_share.argmax(axis=0)
        return states

    @property
    def known_share(self) -> Floats:
        """Shares, minus infinity where no curve holds, (n_states, n_columns) [-]."""
        return np.where(np.isnan(self.share), -np.inf, self.share)


def _stroke(record: StageRecord, frame: Frame) -> float:
    """Stroke of a state; a springback happens at the last one [mm]."""
    return record.stroke if frame.phase == "springback" else frame.stroke


def trace_of(
    record: StageRecord,
    stage: Stage,
    before: Sequence[Stage],
    curve: LimitCurve | None,
    law: DamageLaw,
) -> Trace:
    """Trace of a stage; ``before`` are the stages before it."""
    body, states = record.body, [frame.state for frame in record.frames]
    strains = np.array([middle_strains(body, state) for state in states])
    major, minor = strains.max(axis=1), strains.min(axis=1)
    profile = thickness_profile(body, record.final)
    thinned = profile.thinning_percent
    nothing = np.full_like(major, np.nan)
    squeezed = np.array([ironed(body, state) for state in states])
    readings = (nothing, nothing)
    if curve is not None:
        readings = curve.straight(major, minor), curve.level(major, minor)
    straight, level = (np.where(squeezed, np.nan, one) for one in readings)
    return Trace(
        stage=record.name,
        zones=zones(profile, stage, before)[:-1],
        way=between_lines(profile.way),
        strokes=np.array([_stroke(record, frame) for frame in record.frames]),
        phases=tuple(frame.phase for frame in record.frames),
        major=major,
        minor=minor,
        straight=straight,
        level=level,
        damage=np.array([law.of(body, state) for state in states]),
        thinning=100.0 * -np.expm1(-(major + minor)),
        thinned=np.maximum(thinned[1:], thinned[:-1]),
        squeezed=squeezed,
    )
