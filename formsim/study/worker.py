"""A worker: solves variants of a study by their keys and writes back what became of them."""

from __future__ import annotations

import os
import queue
import threading
import time
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, TextIO

from formsim.case.load import parse_case
from formsim.case.schema import Case
from formsim.errors import FormsimError, StoreError
from formsim.pipeline.run import Keep, Run, run_case
from formsim.results.store import load_summary
from formsim.study.engine import ENDED, LOST
from formsim.study.folder import Job, StudyFolder, read_job
from formsim.study.plan import key_of
from formsim.study.wanted import least_margin, measures

KEPT = {
    "summary": Keep(tables=False, history=False, pictures=False),
    "curves": Keep(history=False, pictures=False),
    "history": Keep(pictures=False),
}
"""What stays of a variant, by the word of the study."""

STATUS = {"finished": "done", "no equilibrium": "not converged"}
"""Words of a summary that a table of a study says otherwise."""


def work(path: Path, keys: Iterable[str], tell: Callable[[str], None]) -> None:
    """Solve variants one after the other; ``tell`` is given a line on each: ended or lost, its key.

    Raises
    ------
    StoreError : the folder holds no study of this version
    """
    folder, job = read_job(path)
    for key in keys:
        try:
            solve_variant(folder, job, key)
            tell(f"{ENDED} {key}")
        except (StoreError, MemoryError) as error:
            tell(f"{LOST} {key} {error or 'out of memory'}")


def solve_variant(folder: StudyFolder, job: Job, key: str) -> dict[str, Any]:
    """Solve one variant and write its row; whatever goes wrong with the case stands in the row.

    Raises
    ------
    StoreError : something cannot be read or written
    """
    begin = time.perf_counter()
    try:
        row = _solved(folder, job, key)
    except (StoreError, MemoryError):
        raise
    except FormsimError as error:
        row = {"status": "refused", "reason": str(error), "hint": error.hint}
    except Exception as error:
        reason = f"a fault of the program: {type(error).__name__}: {error}"
        row = {"status": "failed", "reason": reason, "traceback": traceback.format_exc()}
    row |= {"seconds": time.perf_counter() - begin, "keep": job.keep}
    folder.write_row(key, row)
    return row


def _solved(folder: StudyFolder, job: Job, key: str) -> dict[str, Any]:
    case, text = _case(folder, job, key)
    into, run = folder.scratch(key), None
    folder.clear_scratch(key)
    try:
        run = run_case(case, into, text=text, keep=KEPT[job.keep])
    except FormsimError:
        # A run that ends early has written its summary by then.
        with suppress(StoreError):
            if load_summary(into)["ended"] != "running":
                return _kept(folder, job, key, run)
        raise
    return _kept(folder, job, key, run)


def _case(folder: StudyFolder, job: Job, key: str) -> tuple[Case, str]:
    try:
        text = folder.case(key).read_text(encoding="utf-8")
    except OSError as error:
        message = f"the case of variant {key} cannot be read: {error.strerror or error}"
        raise StoreError(message, hint="run formsim sweep again") from None
    case = parse_case(text, f"variant {key}", job.cases)
    if key_of(case) != key:
        message = "a file the case names has changed since the study was planned"
        raise FormsimError(message, hint="run formsim sweep again")
    return case, text


def _kept(folder: StudyFolder, job: Job, key: str, run: Run | None) -> dict[str, Any]:
    """Row of a run that has left its files; they become the result of the variant."""
    summary = load_summary(folder.scratch(key))
    folder.keep_result(key)
    failure = summary["failure"].replace(str(folder.scratch(key)), str(folder.result(key)))
    margin, where = least_margin(summary) if summary.get("finished") else (None, "")
    return {
        "status": STATUS.get(summary["ended"], summary["ended"]),
        "reason": failure,
        "hint": summary["hint"],
        "solver_seconds": sum(stage["seconds"] for stage in summary["stages"]),
        "measures": measures(run, job.wanted) if run else {},
        "least_margin_percent": margin,
        "least_margin_of": where,
        "mass_g": summary["mass_g"],
        "failed_checks": [check for check in summary["checks"] if not check["passed"]],
    }


def keys_from(stream: TextIO) -> Iterator[str]:
    """Keys that come line by line; the process ends at once when whoever sends them is gone."""
    waiting: queue.SimpleQueue[str] = queue.SimpleQueue()
    idle = threading.Event()

    def listen() -> None:
        for line in stream:
            waiting.put(line.strip())
        if not idle.is_set():
            os._exit(1)
        waiting.put("")

    threading.Thread(target=listen, daemon=True).start()
    while True:
        idle.set()
        key = waiting.get()
        idle.clear()
        if not key:
            return
        yield key
