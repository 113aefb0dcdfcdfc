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
from formsim.pipeline.making import Progress, Watch
from formsim.pipeline.run import Keep, Run, run_case
from formsim.results.files import full_disk, is_full
from formsim.results.store import load_summary
from formsim.sources import sources
from formsim.stages.warmup import compile_kernels, is_compiled
from formsim.study.engine import AT, BEGUN, ENDED, FULL, LOST
from formsim.study.folder import Job, StudyFolder, process_name, read_job
from formsim.study.plan import key_of
from formsim.study.room import is_scarce
from formsim.study.wanted import least_margin, measures

KEPT = {
    "summary": Keep(tables=False, history=False, pictures=False),
    "curves": Keep(history=False, pictures=False),
    "history": Keep(pictures=False),
}
"""What stays of a variant, by the word of the study."""

STATUS = {"finished": "done", "no equilibrium": "not converged"}
"""Words of a summary that a table of a study says otherwise."""


OFTEN = 0.2
"""Time between two words on how far a variant is [s]."""

IDLE = 600.0
"""Time after which a worker that nobody asks for anything ends [s]."""


def work(path: Path, keys: Iterable[str], tell: Callable[[str], None]) -> None:
    """Solve variants one after the other.

    Parameters
    ----------
    tell : given lines of a word of ``engine``, a key, and more: the time it may take [s] as it
        begins, with such a time how far it is, and what became of it

    Raises
    ------
    StoreError : the folder holds no study of this version
    """
    folder, job = read_job(path)
    if not is_compiled():
        compile_kernels()
    for key in keys:
        tell(f"{BEGUN} {key} {job.longest or 0.0:g}")
        watch = _Watch(key, tell).show if job.longest else None
        try:
            solve_variant(folder, job, key, watch)
            tell(f"{ENDED} {key}")
        except (StoreError, MemoryError) as error:
            full = is_full(error)
            told = full_disk(folder.result(key), error) if full else error
            folder.clear_scratch(key, process_name(os.getpid()))
            tell(f"{FULL if full else LOST} {key} {_one_line(told)}")


def _one_line(error: BaseException) -> str:
    """What an error says, as a line of a worker has it."""
    return " ".join(str(error).split()) or "out of memory"


class _Watch:
    """Tells how far a variant is, now and then and whenever a stage begins."""

    def __init__(self, key: str, tell: Callable[[str], None]) -> None:
        self.key, self.tell, self.last, self.stage = key, tell, 0.0, ""

    def show(self, progress: Progress) -> None:
        """Tell stage and stroke."""
        now = time.perf_counter()
        if now - self.last < OFTEN and progress.stage == self.stage:
            return
        self.last, self.stage = now, progress.stage
        stroke = progress.increment.stroke
        self.tell(f'{AT} {self.key} in stage "{self.stage}", at stroke {stroke:.3f} mm')


def solve_variant(
    folder: StudyFolder, job: Job, key: str, watch: Watch | None = None
) -> dict[str, Any]:
    """Solve one variant and write its row; whatever goes wrong with the case stands in the row.

    Raises
    ------
    StoreError : something cannot be read or written
    """
    begin = time.perf_counter()
    try:
        row = _solved(folder, job, key, watch)
    except (StoreError, MemoryError):
        raise
    except FormsimError as error:
        row = {"status": "refused", "reason": str(error), "hint": error.hint}
    except Exception as error:
        # The library of the time series does not always say why it could not write.
        if is_full(error) or is_scarce(folder):
            raise full_disk(folder.result(key), error) from error
        reason = f"a fault of the program: {type(error).__name__}: {error}"
        row = {"status": "failed", "reason": reason, "traceback": traceback.format_exc()}
    row |= {"seconds": time.perf_counter() - begin, "keep": job.keep}
    folder.write_row(key, row)
    return row


def _solved(folder: StudyFolder, job: Job, key: str, watch: Watch | None) -> dict[str, Any]:
    case, text = _case(folder, job, key)
    into, run = folder.scratch(key), None
    folder.clear_scratch(key, process_name(os.getpid()))
    try:
        run = run_case(case, into, text=text, keep=KEPT[job.keep], watch=watch)
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
    if job.sources != sources():
        message = "the study was planned by other sources of formsim than those of this worker"
        raise StoreError(message, hint="have the same formsim on all nodes, and repeat the command")
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
    """Keys that come line by line.

    The process ends at once when whoever sends them is gone, and by itself when none come any more.
    """
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
        try:
            key = waiting.get(timeout=IDLE)
        except queue.Empty:
            return
        idle.clear()
        if not key:
            return
        yield key
