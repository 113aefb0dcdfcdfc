"""What every column went through in a stage, by the limit curve and the damage law of a case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats, Ints
from formsim.case.stage import Stage
from formsim.results.curve import between_lines, strip
from formsim.results.damage import DamageLaw
from formsim.results.history import History
from formsim.results.limit_curve import LimitCurve
from formsim.results.record import Frame, StageRecord
from formsim.results.strains import middle_strains
from formsim.results.thickness import thickness_profile
from formsim.results.zones import zones
from formsim.solver.body import Body
from formsim.solver.damage import MEAN, SQUEEZED, TENSION
from formsim.solver.state import State

IRONED = 0.01
"""Plastic strain under pressure across the sheet from which a column counts as ironed: no limit
curve holds for it. Our own number."""


@dataclass(frozen=True)
class Trace(History):
    """Columns of a stage over its kept states, judged.

    Attributes
    ----------
    straight, level : how far they have come to the limit curve, on the straight way and at equal
        minor strain, 1 on it; not a number where none holds, (n_states, n_columns) [-]
    damage : by the law of the case, (n_states, n_columns) [-]; of a stage that was read from a
        result in its last state only, (1, n_columns)
    """

    straight: Floats
    level: Floats
    damage: Floats

    @property
    def thinning(self) -> Floats:
        """Loss of thickness by the strains at constant volume, (n_states, n_columns) [%]."""
        loss: Floats = 100.0 * -np.expm1(-(self.major + self.minor))
        return loss

    @property
    def ironed(self) -> Bools:
        """Columns that have flowed under pressure across the sheet at last, (n_columns)."""
        at_last: Bools = self.squeezed[-1]
        return at_last

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


def history_of(record: StageRecord, stage: Stage, before: Sequence[Stage]) -> History:
    """What a stage did to every column; ``before`` are the stages before it."""
    body, states = record.body, [frame.state for frame in record.frames]
    strains = np.array([middle_strains(body, state) for state in states])
    profile = thickness_profile(body, record.passed_on)
    thinned = profile.thinning_percent
    return History(
        stage=record.name,
        zones=zones(profile, stage, before)[:-1],
        way=between_lines(profile.way),
        strokes=np.array([_stroke(record, frame) for frame in record.frames]),
        phases=tuple(frame.phase for frame in record.frames),
        major=strains.max(axis=1),
        minor=strains.min(axis=1),
        squeezed=np.array([_squeezed(body, state) for state in states]),
        thinned=np.maximum(thinned[1:], thinned[:-1]),
        integrals=np.array([_integrals(body, state) for state in states]),
        passed=record.passed,
    )


def trace_of(history: History, curve: LimitCurve | None, law: DamageLaw) -> Trace:
    """A history by a limit curve, which does not hold for columns that were ironed, and a law."""
    nothing = np.full_like(history.major, np.nan)
    readings = (nothing, nothing)
    if curve is not None:
        strains = history.major, history.minor
        readings = curve.straight(*strains), curve.level(*strains)
    straight, level = (np.where(history.squeezed, np.nan, one) for one in readings)
    damage = law.of(history.integrals)
    return Trace(**vars(history), straight=straight, level=level, damage=damage)


def _squeezed(body: Body, state: State) -> Bools:
    """Columns that have flowed while they were squeezed across the sheet, (n_columns).

    The median of their points counts: in a neck the pressure of single points wanders.
    """
    points = state.damage[..., SQUEEZED].reshape(strip(body).count, -1)
    squeezed: Bools = np.median(points, axis=1) > IRONED
    return squeezed


def _integrals(body: Body, state: State) -> Floats:
    """Means of the elements, (n_columns, n_layers, 3)."""
    columns = strip(body)
    damage = state.damage
    points = np.stack([damage[..., TENSION], damage[..., MEAN], state.strain], axis=-1)
    means: Floats = points.mean(axis=1).reshape(columns.count, columns.layers, 3)
    return means
