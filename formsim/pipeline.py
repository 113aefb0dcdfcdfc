"""The whole way of a case: blank, stages, record, checks, files."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from formsim.case.schema import Case
from formsim.case.stage import Stage
from formsim.errors import ConvergenceError, DependencyError
from formsim.material.model import Material
from formsim.results import store
from formsim.results.check import Check, expectations, limit_checks
from formsim.results.estimates import Estimate, estimates
from formsim.results.record import Frame, Line, StageRecord
from formsim.results.summary import Judged, Stop, begun, summarise
from formsim.results.theory_curves import theory_curves
from formsim.results.trust import trust_checks
from formsim.results.zones import thinnest
from formsim.solver.body import Body
from formsim.solver.state import Increment, State, fresh_state
from formsim.stages.run import Setup, form, set_up, spring_back
from formsim.stages.sheet import make_sheet
from formsim.version import VERSION

TORN = 30.0
"""Thinning beyond which a stage that finds no equilibrium is called torn [%]."""

LESS_STRAIN = "smaller blank, larger radii, less holder force or friction"

END_OF_STROKE, FREE = 0.9, 0.99
"""Where the end of the stroke and the state after springback stand in a stage's unit of time."""


@dataclass(frozen=True)
class Progress:
    """Where a run is, for whoever watches it.

    Attributes
    ----------
    stage : name of the stage
    number, count : which stage of how many, from 1
    fraction : estimated share of the stage's stroke [-]
    step : accepted increments of the stage
    seconds : since the stage began [s]
    body, state, increment : the sheet now
    """

    stage: str
    number: int
    count: int
    fraction: float
    step: int
    seconds: float
    body: Body
    state: State
    increment: Increment


Watch = Callable[[Progress], None]


@dataclass(frozen=True)
class Run:
    """A run, finished or given up.

    Attributes
    ----------
    case, line : what was asked for and what became of the sheet
    checks, theory : trust, theory and expectations
    summary : what ``summary.json`` holds
    folder : result folder, None when nothing was written
    """

    case: Case
    line: Line
    checks: tuple[Check, ...]
    theory: tuple[Estimate, ...]
    summary: dict[str, Any]
    folder: Path | None


def run_case(
    case: Case,
    into: Path | None = None,
    *,
    text: str = "",
    replace: bool = False,
    watch: Watch | None = None,
    prepare: Callable[[], None] | None = None,
) -> Run:
    """Solve all stages of a case.

    Parameters
    ----------
    into : result folder; None writes nothing
    text : the case file as it was written, kept in the folder
    replace : overwrite an earlier result in the folder
    watch : called after every accepted increment
    prepare : called once the folder is there and before anything is solved

    Raises
    ------
    ConvergenceError : a stage was given up; what was done up to there is in the folder
    KeyboardInterrupt : stopped by hand; what was done up to there is in the folder
    StoreError : the folder cannot be used
    """
    folder = _folder(case, into, text, replace)
    try:
        if prepare is not None:
            prepare()
        body, material = make_sheet(case), Material.from_card(case.sheet.material)
        if folder is not None:
            store.start_series(folder, body)
    except KeyboardInterrupt:
        if folder is not None:
            stop = Stop("interrupted", "interrupted before the first stage")
            store.write_summary(folder, begun(case, stop))
        raise
    records, ended = _make_stages(case, body, material, folder, watch)
    line = Line(body, material, case.sheet.thickness, 0.5 * case.sheet.blank_diameter, records)
    run = _judge(case, line, ended[0] if ended else None, into)
    if folder is not None:
        _write(run, folder)
    if ended:
        raise ended[1]
    return run


def _folder(case: Case, into: Path | None, text: str, replace: bool) -> store.Folder | None:
    if into is None:
        return None
    stamp = store.Stamp(case.title, case.digest, VERSION)
    folder = store.create_folder(into, text, stamp, replace=replace)
    store.write_summary(folder, begun(case))
    return folder


def _make_stages(
    case: Case,
    body: Body,
    material: Material,
    folder: store.Folder | None,
    watch: Watch | None,
) -> tuple[tuple[StageRecord, ...], tuple[Stop, BaseException] | None]:
    """Stages up to the last one or to the one that stopped, and why it did."""
    records: list[StageRecord] = []
    state = fresh_state(body)
    for number, stage in enumerate(case.stages):
        maker = _Maker(case, body, material, number, folder, watch)
        ended: tuple[Stop, BaseException] | None = None
        try:
            maker.make(stage, state)
        except ConvergenceError as error:
            ended = _given_up(error, stage, maker, folder)
        except KeyboardInterrupt as error:
            ended = Stop("interrupted", _interrupted(stage, maker)), error
        if maker.record is not None:
            records.append(maker.record)
            state = maker.record.final
        if ended is not None:
            return tuple(records), ended
    return tuple(records), None


class _Maker:
    """Makes one stage and keeps what was accepted, also when the stage is given up."""

    def __init__(
        self,
        case: Case,
        body: Body,
        material: Material,
        number: int,
        folder: store.Folder | None,
        watch: Watch | None,
    ) -> None:
        self.case, self.body, self.material, self.number = case, body, material, number
        self.folder, self.watch = folder, watch
        self.frames: list[Frame] = []
        self.rows: list[Increment] = []
        self.free: list[Increment] = []
        self.begin = time.perf_counter()
        self.record: StageRecord | None = None
        self.formed = self.final = fresh_state(body)

    def make(self, stage: Stage, state: State) -> None:
        setup = set_up(stage, self.case.sheet.thickness, self.body, self.material, state)
        self.formed = self.final = setup.start
        complete = False
        try:
            self._frame(stage, setup, "start", setup.start)
            self._form(stage, setup)
            if stage.springback:
                self._spring_back(stage, setup)
            complete = True
        finally:
            self._keep(stage, setup, complete)

    def _keep(self, stage: Stage, setup: Setup, complete: bool) -> None:
        """Record of what was accepted, with the last state as its last frame."""
        if not self.rows:
            return
        if self.frames[-1].state is not self.final:
            self._frame(stage, setup, "springback" if self.free else "forming", self.final)
        if self.folder is not None:
            store.set_frame_times(self.folder, self._times(setup))
            store.save_last_state(self.folder, self.number, stage.name, self.final)
        self.record = self._record(stage, setup, complete)

    def _form(self, stage: Stage, setup: Setup) -> None:
        marks = self._marks(stage, setup)
        for state, row in form(setup, marks):
            self.rows.append(row)
            self.formed = self.final = state
            self._tell(stage, setup, state, row)
            if any(abs(state.stroke - mark) < 1e-9 for mark in marks):
                self._frame(stage, setup, "forming", state)
        if self.frames[-1].state is not self.formed:
            self._frame(stage, setup, "forming", self.formed)

    def _spring_back(self, stage: Stage, setup: Setup) -> None:
        for state, row in spring_back(setup, self.formed):
            self.free.append(row)
            self.final = state
        self._frame(stage, setup, "springback", self.final)

    def _marks(self, stage: Stage, setup: Setup) -> tuple[float, ...]:
        """Strokes of the kept states and those the expectations ask for."""
        even = np.linspace(0.0, setup.plan.reach, self.case.output.frames + 1)[1:].tolist()
        asked = [
            want.at
            for want in self.case.expect
            if want.at is not None and want.stage in (None, stage.name)
        ]
        return tuple(sorted({*even, *asked}))

    def _frame(self, stage: Stage, setup: Setup, phase: str, state: State) -> None:
        tools = (
            {}
            if phase == "springback"
            else {
                tool.name: float(z)
                for tool, z in zip(setup.plan.tools, state.positions, strict=False)
            }
        )
        frame = Frame(stage.name, phase, state.stroke, state, tools)
        if self.folder is not None:
            begin, end = setup.plan.begin, max(setup.plan.end, state.stroke)
            time = self.number + self._share(frame, begin, end)
            store.append_frame(self.folder, self.body, frame, self.number, time)
        self.frames.append(frame)

    def _times(self, setup: Setup) -> list[float]:
        """Times of all frames, now that the last stroke is known."""
        last = self.formed.stroke
        return [self.number + self._share(f, setup.plan.begin, last) for f in self.frames]

    @staticmethod
    def _share(frame: Frame, begin: float, end: float) -> float:
        """Place of a frame in the time of its stage, from 0 to below 1, never twice the same."""
        if frame.phase == "forming":
            return END_OF_STROKE * (frame.stroke - begin) / (end - begin)
        return FREE if frame.phase == "springback" else 0.0

    def _tell(self, stage: Stage, setup: Setup, state: State, row: Increment) -> None:
        if self.watch is None:
            return
        plan = setup.plan
        fraction = (state.stroke - plan.begin) / (plan.reach - plan.begin)
        self.watch(
            Progress(
                stage=stage.name,
                number=self.number + 1,
                count=len(self.case.stages),
                fraction=min(1.0, fraction),
                step=len(self.rows),
                seconds=time.perf_counter() - self.begin,
                body=self.body,
                state=state,
                increment=row,
            )
        )

    def _record(self, stage: Stage, setup: Setup, complete: bool) -> StageRecord:
        return StageRecord(
            name=stage.name,
            kind=stage.kind,
            frame_tool=setup.plan.frame,
            tools=setup.plan.tools,
            pressures=setup.plan.pressures,
            increments=tuple(self.rows),
            release=tuple(self.free),
            frames=tuple(self.frames),
            formed=self.formed,
            final=self.final,
            seconds=time.perf_counter() - self.begin,
            complete=complete,
        )


def _interrupted(stage: Stage, maker: _Maker) -> str:
    where = f'interrupted in stage "{stage.name}"'
    if not maker.rows:
        return f"{where} before its first increment"
    during = " during springback, after" if maker.free else " at"
    return f"{where}{during} stroke {maker.rows[-1].stroke:.3f} mm"


def _given_up(
    error: ConvergenceError, stage: Stage, maker: _Maker, folder: store.Folder | None
) -> tuple[Stop, ConvergenceError]:
    """The same error, naming its stage, a torn sheet, and where the last state lies."""
    kept = f"; the last accepted state is {folder.path / store.LAST_STATE}" if folder else ""
    hint, place = error.hint, thinnest(maker.body, maker.final, stage)
    text = f'stage "{stage.name}" {error}'
    torn = error.reason == "torn"
    if torn:
        hint = LESS_STRAIN
        facts = error.facts
        text = (
            f'stage "{stage.name}": the sheet has torn in the {place.zone},'
            f" stroke {facts['stroke']:.4f} mm (R = {facts['radius']:.1f} mm of the blank,"
            f" {100.0 * facts['left']:.0f} % of its thickness left)"
        )
    elif place.thinning_percent > TORN:
        hint = (
            f"the sheet has thinned by {place.thinning_percent:.0f} % in the {place.zone}"
            f" (R = {place.original_radius:.1f} mm of the blank) and tears there: {LESS_STRAIN}"
        )
    located = type(error)(
        text + kept,
        reason=error.reason,
        history=error.history,
        facts={**error.facts, "stage": stage.name},
        hint=hint,
    )
    located.__cause__ = error
    return Stop("torn" if torn else "no equilibrium", str(located), hint), located


def _judge(case: Case, line: Line, stop: Stop | None, into: Path | None) -> Run:
    judged, theory = Judged(), tuple[Estimate, ...]()
    if stop is None:
        judged = Judged(
            trust_checks(case, line), limit_checks(case, line), expectations(case, line)
        )
        theory = estimates(case, line)
    checks = (*judged.trust, *judged.limits, *judged.expected)
    summary = summarise(case, line, judged, theory, stop)
    return Run(case, line, checks, theory, summary, into)


def _write(run: Run, folder: store.Folder) -> None:
    """Numbers first, then the pictures, which take longest."""
    if run.line.stages:
        store.write_thickness(folder, run.line, run.case.stages)
        store.write_forces(folder, run.line)
    store.write_summary(folder, run.summary)
    warnings = _draw(run, folder) if run.line.stages else []
    if warnings:
        store.write_summary(folder, {**run.summary, "warnings": warnings})


def _draw(run: Run, folder: store.Folder) -> list[str]:
    """Figures and picture; what cannot be drawn here is a warning, the numbers are there."""
    warnings: list[str] = []
    if run.case.output.figures:
        from formsim.report.figures import save_figures

        save_figures(run.line, folder.figure, theory_curves(run.line, run.case.stages))
    if run.case.output.picture:
        from formsim.report.render import save_picture

        last = run.line.stages[-1]
        try:
            save_picture(run.line.body, last.final, folder.figure("part"), last.condition)
        except DependencyError as error:
            warnings.append(f"no picture: {error}; {error.hint}")
    return warnings
