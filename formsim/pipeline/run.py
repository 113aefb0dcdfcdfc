"""The whole way of a case: blank, stages, record, checks, files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formsim.case.schema import Case
from formsim.case.stage import Stage
from formsim.errors import ConvergenceError, DependencyError
from formsim.pipeline.making import Maker, Watch
from formsim.results import store
from formsim.results.check import Check, expectations, limit_checks
from formsim.results.estimates import Estimate, estimates
from formsim.results.record import Line, StageRecord
from formsim.results.summary import Judged, Stop, begun, summarise
from formsim.results.theory_curves import theory_curves
from formsim.results.trust import trust_checks
from formsim.results.zones import thinnest
from formsim.stages.sheet import Sheet, make_sheet
from formsim.version import VERSION

TORN = 30.0
"""Thinning beyond which a stage that finds no equilibrium is called torn [%]."""

LESS_STRAIN = "smaller blank, larger radii, less holder force or friction"


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
        sheet = make_sheet(case)
        if folder is not None:
            store.start_series(folder, sheet.body)
    except KeyboardInterrupt:
        if folder is not None:
            stop = Stop("interrupted", "interrupted before the first stage")
            store.write_summary(folder, begun(case, stop))
        raise
    records, ended = _make_stages(case, sheet, folder, watch)
    line = Line(
        blank=sheet.body,
        material=sheet.material,
        thickness=case.sheet.thickness,
        blank_radius=0.5 * case.sheet.blank_diameter,
        stages=records,
    )
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
    sheet: Sheet,
    folder: store.Folder | None,
    watch: Watch | None,
) -> tuple[tuple[StageRecord, ...], tuple[Stop, BaseException] | None]:
    """Stages up to the last one or to the one that stopped, and why it did."""
    records: list[StageRecord] = []
    for number, stage in enumerate(case.stages):
        maker = Maker(case, sheet, number, folder, watch)
        ended: tuple[Stop, BaseException] | None = None
        try:
            maker.make(stage)
        except ConvergenceError as error:
            ended = _given_up(error, stage, maker, folder)
        except KeyboardInterrupt as error:
            ended = Stop("interrupted", _interrupted(stage, maker)), error
        if maker.record is not None:
            records.append(maker.record)
        sheet = maker.sheet
        if ended is not None:
            return tuple(records), ended
    return tuple(records), None


def _interrupted(stage: Stage, maker: Maker) -> str:
    where = f'interrupted in stage "{stage.name}"'
    if not maker.rows:
        return f"{where} before its first increment"
    during = " during springback, after" if maker.free else " at"
    return f"{where}{during} stroke {maker.rows[-1].stroke:.3f} mm"


def _given_up(
    error: ConvergenceError, stage: Stage, maker: Maker, folder: store.Folder | None
) -> tuple[Stop, ConvergenceError]:
    """The same error, naming its stage, a torn sheet, and where the last state lies."""
    kept = f"; the last accepted state is {folder.path / store.LAST_STATE}" if folder else ""
    hint, place = error.hint, thinnest(maker.sheet.body, maker.sheet.state, stage)
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
            save_picture(last.body, last.final, folder.figure("part"), last.condition)
        except DependencyError as error:
            warnings.append(f"no picture: {error}; {error.hint}")
    return warnings
