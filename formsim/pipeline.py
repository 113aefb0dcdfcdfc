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
from formsim.results.summary import summarise
from formsim.results.theory_curves import theory_curves
from formsim.results.trust import trust_checks
from formsim.results.zones import thinnest
from formsim.solver.body import Body
from formsim.solver.state import Increment, State, fresh_state
from formsim.stages.run import Setup, form, set_up, spring_back
from formsim.stages.sheet import make_sheet
from formsim.version import VERSION

TORN = 30.0
"""Thinning beyond which a stage that stops is called torn [%]; sheet metals fail earlier."""


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
) -> Run:
    """Solve all stages of a case.

    Parameters
    ----------
    into : result folder; None writes nothing
    text : the case file as it was written, kept in the folder
    replace : overwrite an earlier result in the folder
    watch : called after every accepted increment

    Raises
    ------
    ConvergenceError : a stage was given up; what was done up to there is in the folder
    StoreError : the folder cannot be used
    """
    folder = None
    if into is not None:
        stamp = store.Stamp(case.title, case.digest, VERSION)
        folder = store.create_folder(into, text, stamp, replace=replace)
    body, material = make_sheet(case), Material.from_card(case.sheet.material)
    if folder is not None:
        store.start_series(folder, body)
    records: list[StageRecord] = []
    failure: ConvergenceError | None = None
    state = fresh_state(body)
    for number, stage in enumerate(case.stages):
        maker = _Maker(case, body, material, number, folder, watch)
        try:
            maker.make(stage, state)
        except ConvergenceError as error:
            failure = _located(error, stage, maker, folder)
        if maker.record is not None:
            records.append(maker.record)
            state = maker.record.final
        if failure is not None:
            break
    line = Line(
        body, material, case.sheet.thickness, 0.5 * case.sheet.blank_diameter, tuple(records)
    )
    run = _judge(case, line, "" if failure is None else str(failure), into)
    if folder is not None:
        _write(run, folder)
    if failure is not None:
        raise failure
    return run


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
        self._frame(stage, setup, "start", setup.start)
        self.formed = self.final = setup.start
        try:
            self._form(stage, setup)
            if stage.springback:
                self._spring_back(stage, setup)
        finally:
            if self.folder is not None:
                store.save_last_state(self.folder, self.number, stage.name, self.final)
            if self.rows:
                self.record = self._record(stage, setup)

    def _form(self, stage: Stage, setup: Setup) -> None:
        marks = self._marks(stage, setup)
        for state, row in form(setup, marks):
            self.formed = self.final = state
            self.rows.append(row)
            self._tell(stage, setup, state, row)
            if any(abs(state.stroke - mark) < 1e-9 for mark in marks):
                self._frame(stage, setup, "forming", state)
        if self.frames[-1].state is not self.formed:
            self._frame(stage, setup, "forming", self.formed)

    def _spring_back(self, stage: Stage, setup: Setup) -> None:
        for state, row in spring_back(setup, self.formed):
            self.final = state
            self.free.append(row)
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
        self.frames.append(frame)
        if self.folder is not None:
            time = self.number + self._share(setup, phase, state.stroke)
            store.append_frame(self.folder, self.body, frame, self.number, time)

    @staticmethod
    def _share(setup: Setup, phase: str, stroke: float) -> float:
        """Place of a frame in the time of its stage, from 0 to below 1, never twice the same."""
        if phase == "forming":
            begin, end = setup.plan.begin, setup.plan.end
            return 0.01 + 0.97 * (stroke - begin) / (end - begin)
        return 0.99 if phase == "springback" else 0.0

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

    def _record(self, stage: Stage, setup: Setup) -> StageRecord:
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
        )


def _located(
    error: ConvergenceError, stage: Stage, maker: _Maker, folder: store.Folder | None
) -> ConvergenceError:
    """The same error, naming its stage, a torn sheet, and where the last state lies."""
    kept = f"; the last accepted state is {folder.path / store.LAST_STATE}" if folder else ""
    hint, place = error.hint, thinnest(maker.body, maker.final, stage)
    if place.thinning_percent > TORN:
        hint = (
            f"the sheet has thinned by {place.thinning_percent:.0f} % in the {place.zone}"
            f" (R = {place.original_radius:.1f} mm of the blank) and tears there: smaller blank,"
            " larger radii, less holder force or friction"
        )
    located = type(error)(
        f'stage "{stage.name}" {error}{kept}',
        reason=error.reason,
        history=error.history,
        facts={**error.facts, "stage": stage.name},
        hint=hint,
    )
    located.__cause__ = error
    return located


def _judge(case: Case, line: Line, failure: str, into: Path | None) -> Run:
    checks: tuple[Check, ...] = ()
    theory: tuple[Estimate, ...] = ()
    if not failure:
        checks = (
            *trust_checks(case, line),
            *limit_checks(case, line),
            *expectations(case, line),
        )
        theory = estimates(case, line)
    summary = summarise(case, line, checks, theory, failure)
    return Run(case, line, checks, theory, summary, into)


def _write(run: Run, folder: store.Folder) -> None:
    if run.line.stages:
        store.write_thickness(folder, run.line, run.case.stages)
        store.write_forces(folder, run.line)
    warnings = _draw(run, folder) if run.line.stages else []
    store.write_summary(folder, {**run.summary, "warnings": warnings})


def _draw(run: Run, folder: store.Folder) -> list[str]:
    """Figures and picture; what cannot be drawn here is a warning, the numbers are there."""
    warnings: list[str] = []
    if run.case.output.figures:
        from formsim.report.figures import save_figures

        save_figures(run.line, folder.figure, theory_curves(run.line, run.case.stages))
    if run.case.output.picture:
        from formsim.report.render import save_picture

        try:
            save_picture(run.line.body, run.line.stages[-1].final, folder.figure("part"))
        except DependencyError as error:
            warnings.append(f"no picture: {error}; {error.hint}")
    return warnings
