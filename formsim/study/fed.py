"""A worker process fed with one variant at a time, on this machine or in a task of a cluster."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

from formsim.study.engine import AT, BEGUN, ENDED, LOST, OUTCOMES, Event
from formsim.study.folder import SAID, StudyFolder, process_name

ONE_THREAD = dict.fromkeys(
    (
        "OMP_NUM_THREADS",
        "OPENBLAS_NUM_THREADS",
        "MKL_NUM_THREADS",
        "NUMBA_NUM_THREADS",
        "VECLIB_MAXIMUM_THREADS",
    ),
    "1",
)
"""Environment of a worker: as many workers as processors, one thread each."""


class FedWorker:
    """Feeds one process, and begins a new one where that is lost.

    The process is killed where a variant takes longer than it may; its row then says so.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.process: subprocess.Popen[str] | None = None
        self.stopped = False

    def solve(self, key: str) -> Event:
        """Have a variant solved, and say what became of it: ended, lost, or no room on the disk."""
        try:
            if self.process is not None and self.process.poll() is not None:
                self.process = None
            if self.process is None:
                self.process = _started(self.folder)
            if self.stopped:
                self.process.kill()
            return self._asked(self.process, key)
        except OSError as error:
            why = f"its worker could not be reached: {error.strerror or error}"
        self.end()
        return Event(key, LOST, why)

    def _asked(self, process: subprocess.Popen[str], key: str) -> Event:
        """Hand a key over and wait for the answer; without one the process has died."""
        if process.stdin is None or process.stdout is None:
            return Event(key, LOST, "its worker has no pipes")
        folder = StudyFolder(self.folder)
        clock, before = _Clock(process), folder.row_stamp(key)
        process.stdin.write(f"{key}\n")
        process.stdin.flush()
        try:
            for line in process.stdout:
                word, name, rest = [*line.strip().split(" ", 2), "", ""][:3]
                if name == key and word in OUTCOMES:
                    return Event(key, OUTCOMES[word], rest)
                if name == key and word in (BEGUN, AT):
                    clock.told(word, rest)
        finally:
            clock.stop()
        why = _ending(process.wait())
        self.process = None
        folder.clear_scratch(key, process_name(process.pid))
        if clock.rang and not self.stopped:
            if folder.row_stamp(key) == before:
                folder.write_row(key, clock.row())
            return Event(key, ENDED)
        return Event(key, LOST, why)

    def stop(self) -> None:
        """End the process at once."""
        self.stopped = True
        if self.process is not None:
            self.process.kill()

    def end(self) -> None:
        """Let the process end by itself: nothing more comes."""
        process, self.process = self.process, None
        if process is None:
            return
        if self.stopped:
            process.kill()
        if process.stdin is not None:
            process.stdin.close()
        process.wait()


class _Clock:
    """Kills a process whose variant takes too long, and remembers how far it had come."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process, self.rang = process, False
        self.longest, self.begin, self.place = 0.0, 0.0, ""
        self.timer: threading.Timer | None = None

    def told(self, word: str, rest: str) -> None:
        """What the worker says of its variant: the time it may take [s], or where it is."""
        if word == AT:
            self.place = rest
            return
        self.longest, self.begin = float(rest or 0.0), time.perf_counter()
        if self.longest > 0.0:
            self.timer = threading.Timer(self.longest, self._ring)
            self.timer.daemon = True
            self.timer.start()

    def _ring(self) -> None:
        self.rang = True
        self.process.kill()

    def stop(self) -> None:
        """Nothing is waited for any more."""
        if self.timer is not None:
            self.timer.cancel()

    def row(self) -> dict[str, object]:
        """Row of a variant that took too long."""
        where = self.place or "before its first increment"
        return {
            "status": "not converged",
            "reason": f"stopped after {_minutes(self.longest)} {where}: longer than it may take",
            "hint": "allow more with --longest, or see with formsim run why it takes so long",
            "longest": self.longest,
            "seconds": time.perf_counter() - self.begin,
        }


def _minutes(seconds: float) -> str:
    return f"{seconds:g} s" if seconds < 120.0 else f"{seconds / 60.0:.3g} min"


def _started(folder: Path) -> subprocess.Popen[str]:
    """A worker, in a session of its own so that Ctrl-C reaches only the one who stops it."""
    with (folder / SAID).open("a", encoding="utf-8") as said:
        return subprocess.Popen(
            [sys.executable, "-m", "formsim", "worker", str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=said,
            text=True,
            encoding="utf-8",
            env={**os.environ, **ONE_THREAD},
            start_new_session=True,
        )


def _ending(code: int) -> str:
    """How a worker ended, in words."""
    if code >= 0:
        return f"its worker ended with exit code {code}, see {SAID} of the study"
    try:
        name = signal.Signals(-code).name
    except ValueError:
        name = f"signal {-code}"
    memory = ", as when memory runs out" if name == "SIGKILL" else ""
    return f"its worker was killed ({name}{memory})"
