"""The whole way of a case: blank, stages, record, checks, files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from formsim.case.card_file import written_out
from formsim.case.earlier import start_notes
from formsim.case.named_file import named_files
from formsim.case.schema import Case
from formsim.case.stage import brought_to_limit
from formsim.case.start import Result
from formsim.errors import ConvergenceError, DependencyError, FormsimError, StoreError
from formsim.pipeline.ended import given_up, interrupted, refused
from formsim.pipeline.making import Maker, Watch
from formsim.results import store
from formsim.results.check import Check, expectations, limit_checks, risk_checks
from formsim.results.closed_form import Estimate
from formsim.results.course import given_way
from formsim.results.estimates import estimates
from formsim.results.kept_sheets import (
    load_histories,
    load_passed_on,
    save_histories,
    save_passed_on,
)
from formsim.results.notes import line_notes
from formsim.results.press_times import press_notes
from formsim.results.record import Line, StageRecord
from formsim.results.risk import RiskReport, risk_report
from formsim.results.summary import Judged, Stop, begun, summarise
from formsim.results.theory_curves import theory_curves
from formsim.results.trace import history_of
from formsim.results.trust import trust_checks
from formsim.stages.bake import metal_behind
from formsim.stages.drawn_check import drawn_tools
from formsim.stages.sheet import Sheet, make_sheet
from formsim.stages.warmup import compile_kernels, is_compiled
from formsim.version import VERSION

UNSEEN = "stopped by hand before all figures and the page were made; formsim report makes the page"


@dataclass(frozen=True)
class Keep:
    """What a run writes into its folder beside the case and ``summary.json``.

    Attributes
    ----------
    tables : thickness, forces, risks
    history : the moving sheet, its tools, the last state, the sheet as every stage passes it on
    pictures : figures and the rendered part, where the case asks for them
    """

    tables: bool = True
    history: bool = True
    pictures: bool = True


EVERYTHING = Keep()


@dataclass(frozen=True)
class Run:
    """A run, finished or given up.

    Attributes
    ----------
    case, line : what was asked for and what became of the sheet
    checks, theory : trust, theory and expectations
    risks : every risk of every zone, and what the columns went through
    summary : what ``summary.json`` holds
    folder : result folder, None when nothing was written
    """

    case: Case
    line: Line
    checks: tuple[Check, ...]
    theory: tuple[Estimate, ...]
    risks: RiskReport
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
    exact: bool = False,
    stride: float = 1.0,
    keep: Keep = EVERYTHING,
) -> Run:
    """Solve all stages of a case; nothing is written or drawn without a folder.

    Parameters
    ----------
    into : result folder; None writes nothing
    text : the case file as it was written, kept in the folder
    replace : overwrite an earlier result in the folder
    watch : called after every accepted increment
    prepare : called once the folder is there; left out, kernels are compiled where none are yet
    exact : work on all columns in every increment
    stride : longest increments over the usual ones; no result tells it, as it is for comparisons
    keep : what goes into the folder

    Raises
    ------
    CaseError : a drawing of a tool cannot be used
    ConvergenceError : a stage was given up; what was done up to there is in the folder
    RefusedError : a stage cannot be made of its sheet; what was done before is in the folder
    KeyboardInterrupt : stopped by hand; what was done up to there is in the folder
    StoreError : the folder cannot be used
    """
    folder = _folder_for(case, into, text, replace)
    run, ended = attempt(
        case, folder, watch=watch, prepare=prepare, exact=exact, stride=stride, keep=keep
    )
    if ended is not None:
        raise ended
    return run


def attempt(
    case: Case,
    folder: store.Folder | None = None,
    *,
    watch: Watch | None = None,
    prepare: Callable[[], None] | None = None,
    exact: bool = False,
    stride: float = 1.0,
    keep: Keep = EVERYTHING,
) -> tuple[Run, BaseException | None]:
    """Solve what can be solved of a case: the run, and what ended it before its last stage.

    Parameters are those of ``run_case``; it raises what comes before the first stage.
    """
    history = folder if keep.history else None
    try:
        if prepare is not None:
            prepare()
        elif not is_compiled():
            compile_kernels()
        line = _received(case)
        if history is not None:
            store.start_series(history, line.blank)
            save_histories(history, line.before)
    except KeyboardInterrupt:
        if folder is not None:
            stop = Stop("interrupted", "interrupted before the first stage")
            store.write_summary(folder, begun(case, stop))
        raise
    try:
        records, ended = _make_stages(case, line, history, watch, exact=exact, stride=stride)
    except BaseException:
        _close(history)
        raise
    stopped, error = ended or (None, None)
    line = line.after(records)
    try:
        _close(history)
        run = _judged(case, line, stopped, folder, exact, keep)
    except KeyboardInterrupt as late:  # The stages are made: their numbers are not given up.
        _close(history)
        run, error = _judged(case, line, stopped, folder, exact, keep), error or late
    try:
        _show(run, folder, keep)
    except KeyboardInterrupt as late:
        error = error or late
        if folder is not None:
            warnings = [*run.summary["warnings"], UNSEEN]
            store.write_summary(folder, {**run.summary, "warnings": warnings})
    return run, error


def _close(history: store.Folder | None) -> None:
    if history is not None:
        store.close_series(history)


def _received(case: Case) -> Line:
    """The line before its first stage of this case: its sheet, and what was done to it."""
    thickness, radius = case.sheet.thickness, 0.5 * case.sheet.blank_diameter
    if case.earlier is None:
        sheet = make_sheet(case)
        return Line(sheet.body, sheet.material, thickness, radius, (), sheet.state)
    made = load_passed_on(case.earlier)
    metal = metal_behind(case.before, case.sheet.material)
    return Line(
        blank=made.body,
        material=metal,
        thickness=thickness,
        blank_radius=radius,
        stages=(),
        state=made.state,
        blank_volume=made.blank_volume,
        before=load_histories(case.earlier),
    )


def _folder_for(case: Case, into: Path | None, text: str, replace: bool) -> store.Folder | None:
    """A new result folder, once it is known that the drawings of the case can be used."""
    drawn_tools(case)
    if into is None:
        return None
    if case.earlier and into.resolve() in {one.resolve() for one in case.earlier.folders}:
        message = f"{into} holds the result this case starts from, which would be lost"
        raise StoreError(message, hint="choose another folder with --into")
    drawings = tuple(named_files(case))
    whole = written_out(text, case.origin.folder)
    begin, earlier = case.start, case.earlier
    started = (begin.result, earlier.folder) if isinstance(begin, Result) and earlier else None
    folder = store.create_folder(
        into, whole, _stamp(case), replace=replace, drawings=drawings, started=started
    )
    store.write_summary(folder, begun(case))
    return folder


def _stamp(case: Case) -> store.Stamp:
    return store.Stamp(case.title, case.digest, VERSION)


def _make_stages(
    case: Case,
    line: Line,
    folder: store.Folder | None,
    watch: Watch | None,
    *,
    exact: bool,
    stride: float,
) -> tuple[tuple[StageRecord, ...], tuple[Stop, BaseException] | None]:
    """Stages up to the last one or to the one that stopped, and why it did."""
    records: list[StageRecord] = []
    spoilt = "" if case.earlier is None else case.earlier.gave_way
    sheet = Sheet(line.blank, line.material, line.begin)
    for number, stage in enumerate(case.stages):
        maker = Maker(case, sheet, number, folder, watch, exact=exact, stride=stride)
        ended: tuple[Stop, BaseException] | None = None
        try:
            maker.make(stage)
        except ConvergenceError as error:
            ended = given_up(error, maker, folder)
        except (StoreError, DependencyError):
            raise
        except FormsimError as error:
            ended = refused(error, stage)
        except KeyboardInterrupt as error:
            ended = Stop("interrupted", interrupted(stage, maker)), error
        if maker.record is not None:
            records.append(replace(maker.record, spoilt=spoilt))
            spoilt = given_way(records[-1])
        sheet = maker.passed_on
        if ended is not None:
            return tuple(records), ended
        if folder is not None and not brought_to_limit(stage):
            done = history_of(records[-1], stage, case.made_before(number))
            volume = line.metal
            save_passed_on(folder, number, sheet.body, sheet.state, volume, done)
    return tuple(records), None


def _judge(case: Case, line: Line, stop: Stop | None, into: Path | None, exact: bool) -> Run:
    judged, theory, risks = Judged(), tuple[Estimate, ...](), risk_report(case, line)
    if stop is None:
        limits = (*limit_checks(case, line), *risk_checks(risks.rows))
        judged = Judged(trust_checks(case, line), limits, expectations(case, line, risks.traces))
        theory = estimates(case, line)
    checks = (*judged.trust, *judged.limits, *judged.expected)
    notes = [*line_notes(case, line), *press_notes(case, line), *risks.notes]
    if case.earlier is not None:
        notes = [*start_notes(case.earlier, case.limits), *notes]
    summary = summarise(case, line, judged, theory, risks, stop)
    summary |= {"warnings": notes, "exact": exact}
    return Run(case, line, checks, theory, risks, summary, into)


def _judged(
    case: Case, line: Line, stop: Stop | None, folder: store.Folder | None, exact: bool, keep: Keep
) -> Run:
    """A run with its checks, its numbers written."""
    run = _judge(case, line, stop, None if folder is None else folder.path, exact)
    if folder is not None:
        _write(run, folder, keep)
    return run


def _write(run: Run, folder: store.Folder, keep: Keep) -> None:
    """Tables first, then what a reader of them looks for."""
    if run.line.stages and keep.tables:
        store.write_thickness(folder, run.line, run.case.stages, run.case.before)
        store.write_forces(folder, run.line, run.case.press)
        store.write_strength(folder, run.line)
        store.write_risk(folder, run.risks)
    if run.line.stages and keep.history:
        store.write_tools(folder, run.line)
    store.write_summary(folder, run.summary)


def _show(run: Run, folder: store.Folder | None, keep: Keep) -> None:
    """Pictures, which take longest, and the page of all."""
    if folder is None or not keep.pictures:
        return
    told = list(run.summary["warnings"])
    for last in (_draw, _report):
        if warnings := last(run, folder):
            told += warnings
            store.write_summary(folder, {**run.summary, "warnings": told})


def folder_of(run: Run) -> store.Folder | None:
    """Where a run has written, None for nowhere."""
    return None if run.folder is None else store.Folder(run.folder, _stamp(run.case))


def told_more(run: Run, more: dict[str, Any]) -> Run:
    """The same run with more in its summary; file and page in its folder are made anew."""
    folder = folder_of(run)
    if folder is not None:
        summary = store.load_summary(folder.path) | more
        store.write_summary(folder, summary)
        if warnings := _report(run, folder):
            summary = {**summary, "warnings": [*summary["warnings"], *warnings]}
            store.write_summary(folder, summary)
    return replace(run, summary=run.summary | more)


def _draw(run: Run, folder: store.Folder) -> list[str]:
    """Figures and picture; what cannot be drawn here is a warning, the numbers are there."""
    warnings: list[str] = []
    if not run.line.stages:
        return warnings
    if run.case.output.figures:
        from formsim.report.figures import save_figures

        theory = theory_curves(run.line, run.case.stages)
        save_figures(run.line, folder.figure, theory, run.risks)
    if run.case.output.picture:
        from formsim.report.render import save_picture

        made = [record for record in run.line.stages if not record.specimen]
        last = (made or run.line.stages)[-1]
        try:
            save_picture(last.body, last.final, folder.figure("part"), last.condition)
        except DependencyError as error:
            warnings.append(f"no picture: {error}; {error.hint}")
    return warnings


def _report(run: Run, folder: store.Folder) -> list[str]:
    """The page a person reads; whatever keeps it from being made must not lose the run."""
    if not run.case.output.report:
        return []
    try:
        from formsim.report.html import report_html

        store.write_report(folder.path, report_html(folder.path))
    except Exception as error:
        why = f"{type(error).__name__}: {error}"
        return [f"no {store.REPORT}: {why}; the numbers are there"]
    return []
