"""The same case on coarser meshes and with shorter increments, for error bars of its numbers."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from formsim.case.schema import COLUMNS, FRAMES, Case
from formsim.errors import FormsimError
from formsim.pipeline.making import Watch
from formsim.pipeline.run import Run, attempt, folder_of, told_more
from formsim.results import store
from formsim.results.error_bars import (
    COARSE,
    FINE,
    HALVED,
    MEDIUM,
    Member,
    bar_columns,
    error_bars,
    increments_of,
)
from formsim.stages.coarse import mesh_findings
from formsim.stages.grading import with_columns

RATIO = 2.0**0.5
"""Columns of one mesh over those of the next coarser one: more than the 1.3 that Celik et al. 2008
ask for, and the coarsest mesh still has half the columns."""

HALF = 0.5


class Variant(NamedTuple):
    """A case to be run beside the own one; ``refused`` says why it cannot be, empty where it can.

    ``columns`` is None for the mesh of the own case, ``stride`` the longest increments over its.
    """

    role: str
    columns: int | None
    stride: float
    refused: str = ""


def with_error_bars(
    run: Run,
    *,
    exact: bool = False,
    watch: Watch | None = None,
    tell: Callable[[str], None] | None = None,
) -> Run:
    """A finished run with ``error_bars`` in its summary and, where it has a folder, in its files.

    Nothing is kept of the runs this needs but their numbers. One that does not finish is told, its
    finished stages count and the others go on; the files of the run itself stay as they are.

    Parameters
    ----------
    exact : work on all columns in every increment, as the run itself did
    watch : called after every accepted increment
    tell : called with a line of text before every run

    Raises
    ------
    KeyboardInterrupt : stopped by hand; bars of the runs made up to there are kept
    """
    own = run.line.blank.columns
    columns = own.count if own else 0
    seconds = sum(stage["seconds"] for stage in run.summary["stages"])
    layers = run.case.mesh.layers
    members = [Member(FINE, columns, layers, increments_of(run.summary), seconds)]
    summaries = {FINE: run.summary}
    try:
        for variant in variants(run.case, columns):
            if tell is not None and not variant.refused:
                tell(_announced(variant, columns))
            member, summary = _made(run.case, variant, columns, exact, watch)
            members.append(member)
            if summary is not None:
                summaries[variant.role] = summary
    except KeyboardInterrupt:
        _kept(run, error_bars(members, summaries, "interrupted"))
        raise
    return _kept(run, error_bars(members, summaries, "finished"))


def variants(case: Case, columns: int) -> Iterator[Variant]:
    """Runs beside the own one, the cheapest first.

    Parameters
    ----------
    columns : of the mesh of the case, given or worked out
    """
    for role, ratio in ((COARSE, RATIO**2), (MEDIUM, RATIO)):
        fewer = round(columns / ratio)
        refused = ""
        if case.earlier is not None:
            refused = "the case starts from a result and keeps its mesh"
        elif fewer < COLUMNS.low:
            refused = f"{fewer} columns are too few, a mesh has {COLUMNS.low} at least"
        yield Variant(role, fewer, 1.0, refused)
    yield Variant(HALVED, None, HALF)


def _made(
    case: Case, variant: Variant, own_columns: int, exact: bool, watch: Watch | None
) -> tuple[Member, dict[str, Any] | None]:
    """One run of the family and its summary; no fault of it may stop the others."""
    columns, begin = variant.columns or own_columns, time.perf_counter()
    summary, failure, coarse = None, variant.refused, False
    if not failure:
        varied = _varied(case, variant)
        coarse = any(finding.verdict != "good" for finding in mesh_findings(varied))
        try:
            made, ended = attempt(varied, watch=watch, exact=exact, stride=variant.stride)
            summary, failure = made.summary, "" if ended is None else str(ended)
        except FormsimError as error:
            failure = str(error)
        except Exception as error:
            failure = f"{type(error).__name__}: {error}"
        else:
            if isinstance(ended, KeyboardInterrupt):
                raise ended
    count = None if summary is None or failure else increments_of(summary)
    seconds = time.perf_counter() - begin
    layers = case.mesh.layers
    return Member(variant.role, columns, layers, count, seconds, failure, coarse), summary


def _varied(case: Case, variant: Variant) -> Case:
    """The case on another mesh, or with more kept states: increments end at each of them."""
    if variant.columns is not None:
        return with_columns(case, variant.columns)
    frames = min(FRAMES.high, round(case.output.frames / variant.stride))
    output = case.output.model_copy(update={"frames": frames})
    return case.model_copy(update={"output": output})


def _announced(variant: Variant, columns: int) -> str:
    mesh = f"{variant.columns or columns} columns"
    return (
        f"error bars: {mesh}, halved increments" if variant.stride < 1.0 else f"error bars: {mesh}"
    )


def _kept(run: Run, bars: dict[str, Any]) -> Run:
    """The run with its bars, in its folder too."""
    folder = folder_of(run)
    if folder is not None:
        store.write_error_bars(folder, bar_columns(bars))
    return told_more(run, {"error_bars": bars})
