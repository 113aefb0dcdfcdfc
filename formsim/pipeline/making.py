"""Makes one stage and keeps what was accepted, also when the stage is given up."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from formsim.case.schema import Case
from formsim.case.stage import Stage
from formsim.errors import ConvergenceError
from formsim.results import store
from formsim.results.course import course
from formsim.results.damage import damage_law
from formsim.results.damage_passed import Passing
from formsim.results.record import Frame, StageRecord
from formsim.solver.body import Body
from formsim.solver.state import Increment, State
from formsim.stages.prepare import prepare
from formsim.stages.run import Setup, form, set_up, spring_back
from formsim.stages.sheet import Sheet

END_OF_STROKE, FREE = 0.9, 0.99
"""Where the end of the stroke and the state after springback stand in a stage's unit of time."""

WRITE_EVERY = 1.0
"""Time for which kept states may wait before they are written [s]: what a killed process loses."""


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
    body, state : the sheet where all of it was last in equilibrium
    increment : one of those that led there
    tools : names of the tools, in the order of the forces of the increment
    fluids : pressures, which stand behind the tools in its positions
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
    tools: tuple[str, ...] = ()
    fluids: int = 0


Watch = Callable[[Progress], None]


class Maker:
    """Makes one stage and keeps what was accepted, also when the stage is given up."""

    def __init__(
        self,
        case: Case,
        sheet: Sheet,
        number: int,
        folder: store.Folder | None,
        watch: Watch | None,
        *,
        exact: bool = False,
        stride: float = 1.0,
    ) -> None:
        self.case, self.sheet, self.number = case, sheet, number
        self.folder, self.watch, self.exact, self.stride = folder, watch, exact, stride
        self.frames: list[Frame] = []
        self.rows: list[Increment] = []
        self.free: list[Increment] = []
        self.gauges: dict[str, list[float]] = {}
        self.peaks: list[tuple[int, State]] = []
        self.most, self.stable = 0.0, False
        self.waiting: list[tuple[Frame, float]] = []
        self.begin = self.written = time.perf_counter()
        self.record: StageRecord | None = None
        self.passing: Passing | None = None
        self.formed, self.ended = sheet.state, ""
        self.passed_on = sheet

    def make(self, stage: Stage) -> None:
        """Form and release; the sheet, the record and the files follow every accepted state."""
        self.sheet = prepare(stage, self.sheet, self.case.sheet.material)
        setup = set_up(stage, self.case.sheet.thickness, self.sheet, stride=self.stride)
        self._take(setup.start)
        self.formed = setup.start
        self._read(setup, setup.start)
        law = damage_law(self.case)
        if law.critical is not None and not setup.plan.idle:
            self.passing = Passing(law, self.sheet.body, setup.start)
        complete = False
        try:
            self._frame(stage, setup, "start", setup.start)
            self._form(stage, setup)
            if stage.springback and not setup.plan.specimen:
                self._spring_back(stage, setup)
            complete = True
            self.passed_on = self.sheet
            if setup.plan.specimen:
                self.passed_on = replace(self.sheet, state=setup.start)
        except ConvergenceError as error:
            self.ended = error.reason
            raise
        finally:
            self._keep(stage, setup, complete)

    def _take(self, state: State) -> None:
        self.sheet = replace(self.sheet, state=state)

    def _read(self, setup: Setup, state: State) -> None:
        for name, gauge in setup.plan.gauges.items():
            self.gauges.setdefault(name, []).append(gauge(state))

    def _keep(self, stage: Stage, setup: Setup, complete: bool) -> None:
        """Record of what was accepted, with the last state as its last frame."""
        if not self.rows and not setup.plan.idle:
            self._write()
            return
        final = self.sheet.state
        if self.frames[-1].state is not final:
            self._frame(stage, setup, "springback" if self.free else "forming", final)
        if self.folder is not None:
            self._write()
            store.set_frame_times(self.folder, self._times(setup))
            store.save_last_state(self.folder, self.number, stage.name, final)
        self.record = self._record(stage, setup, complete)

    def _form(self, stage: Stage, setup: Setup) -> None:
        asked, due = self._marks(stage, setup)
        for state, rows in form(setup, asked, exact=self.exact):
            self.formed = state
            self._take(state)
            self._read(setup, state)
            if self.passing is not None:
                self.passing.see(state)
            made = len(self.rows)
            self.rows.extend(rows)
            self._note_peak(setup, state, rows[-1])
            for step, row in enumerate(rows, made + 1):
                self._tell(stage, setup, state, row, step)
            if due and state.stroke > due[0] - 1e-9:
                due = [mark for mark in due if state.stroke <= mark - 1e-9]
                self._frame(stage, setup, "forming", state)
        if self.frames[-1].state is not self.formed:
            self._frame(stage, setup, "forming", self.formed)

    def _note_peak(self, setup: Setup, state: State, row: Increment) -> None:
        """Keep the state of a body under test at its largest load between two leaps, with its row.

        Which of them counts is known at the end.
        """
        load = 0.0 if setup.plan.load is None else setup.plan.load(row)
        if load > self.most and not row.unstable:
            self.peaks[len(self.peaks) - self.stable :] = [(len(self.rows), state)]
            self.most, self.stable = load, True
        self.stable = self.stable and not row.unstable

    def _spring_back(self, stage: Stage, setup: Setup) -> None:
        for state, rows in spring_back(setup, self.formed):
            self.free.extend(rows)
            self._take(state)
        self._frame(stage, setup, "springback", self.sheet.state)

    def _marks(self, stage: Stage, setup: Setup) -> tuple[tuple[float, ...], list[float]]:
        """Strokes that are hit exactly, and those at which, or next behind which, states are kept.

        What a body under test bears must not hang on how many states are kept.
        """
        even = np.linspace(0.0, setup.plan.reach, self.case.output.frames + 1)[1:].tolist()
        asked = [
            want.at
            for want in self.case.expect
            if want.at is not None and want.stage in (None, stage.name)
        ]
        kept = sorted({*even, *asked})
        return tuple(kept if setup.plan.load is None else sorted(asked)), kept

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
            begin, end = setup.plan.begin, max(setup.plan.end, state.stroke)
            self.waiting.append((frame, self.number + self._share(frame, begin, end)))
            if time.perf_counter() > self.written + WRITE_EVERY:
                self._write()

    def _write(self) -> None:
        """Put the frames that wait into the series, all at once: opening it takes longest."""
        if self.folder is None or not self.waiting:
            return
        frames, times = zip(*self.waiting, strict=True)
        store.append_frames(self.folder, self.sheet, frames, self.number, times)
        self.waiting.clear()
        self.written = time.perf_counter()

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

    def _tell(self, stage: Stage, setup: Setup, state: State, row: Increment, step: int) -> None:
        if self.watch is None:
            return
        plan = setup.plan
        fraction = (row.stroke - plan.begin) / (plan.reach - plan.begin)
        self.watch(
            Progress(
                stage=stage.name,
                number=self.number + 1,
                count=len(self.case.stages),
                fraction=min(1.0, fraction),
                step=step,
                seconds=time.perf_counter() - self.begin,
                body=self.sheet.body,
                state=state,
                increment=row,
                tools=tuple(tool.name for tool in plan.tools),
                fluids=len(plan.pressures),
            )
        )

    def _record(self, stage: Stage, setup: Setup, complete: bool) -> StageRecord:
        made = StageRecord(
            name=stage.name,
            kind=stage.kind,
            body=self.sheet.body,
            material=self.sheet.material,
            frame_tool=setup.plan.frame,
            tools=setup.plan.tools,
            pressures=setup.plan.pressures,
            increments=tuple(self.rows),
            release=tuple(self.free),
            frames=tuple(self.frames),
            formed=self.formed,
            final=self.sheet.state,
            seconds=time.perf_counter() - self.begin,
            complete=complete,
            ended=self.ended,
            specimen=setup.plan.specimen,
            gauges={name: tuple(values) for name, values in self.gauges.items()},
            lid=setup.plan.lid,
            passed=None if self.passing is None else self.passing.strokes,
        )
        if not self.peaks:
            return made
        top = course(made).top
        return replace(made, worst=next((state for row, state in self.peaks if row == top), None))
