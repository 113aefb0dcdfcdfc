"""Workers on this machine: processes of their own, fed with one variant at a time."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from formsim.study.engine import BEGUN, ENDED, LOST, Event

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


def processors() -> int:
    """Processors this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


@dataclass(frozen=True)
class LocalWorkers:
    """Worker processes on this machine.

    Attributes
    ----------
    workers : how many
    """

    workers: int = field(default_factory=processors)

    def solve(self, folder: Path, keys: Sequence[str]) -> Iterator[Event]:
        """Have variants solved, each worker taking the next one as it gets free."""
        waiting, events = deque(keys), queue.SimpleQueue[Event | None]()
        crew = [_Worker(folder, waiting, events) for _ in range(min(self.workers, len(keys)))]
        for worker in crew:
            worker.start()
        try:
            left = len(crew)
            while left:
                event = events.get()
                if event is None:
                    left -= 1
                else:
                    yield event
        finally:
            waiting.clear()
            for worker in crew:
                worker.stop()
            for worker in crew:
                worker.join()


class _Worker(threading.Thread):
    """Feeds one process, and a new one where that is lost."""

    def __init__(
        self, folder: Path, waiting: deque[str], events: queue.SimpleQueue[Event | None]
    ) -> None:
        super().__init__(daemon=True)
        self.folder, self.waiting, self.events = folder, waiting, events
        self.process: subprocess.Popen[str] | None = None
        self.stopped = False

    def run(self) -> None:
        """Take variants until none waits."""
        try:
            while not self.stopped:
                try:
                    key = self.waiting.popleft()
                except IndexError:
                    break
                self.events.put(Event(key, BEGUN))
                self.events.put(self._solved(key))
            self._end()
        finally:
            self.events.put(None)

    def stop(self) -> None:
        """End the process at once."""
        self.stopped = True
        if self.process is not None:
            self.process.kill()

    def _solved(self, key: str) -> Event:
        try:
            if self.process is None:
                self.process = _started(self.folder)
            if self.stopped:
                self.process.kill()
            return self._asked(self.process, key)
        except OSError as error:
            why = f"its worker could not be reached: {error.strerror or error}"
        self._end()
        return Event(key, LOST, why)

    def _asked(self, process: subprocess.Popen[str], key: str) -> Event:
        """Hand a key over and wait for the answer; without one the process has died."""
        if process.stdin is None or process.stdout is None:
            return Event(key, LOST, "its worker has no pipes")
        process.stdin.write(f"{key}\n")
        process.stdin.flush()
        for line in process.stdout:
            word, _, rest = line.strip().partition(" ")
            name, _, why = rest.partition(" ")
            if name == key and word in (ENDED, LOST):
                return Event(key, ENDED) if word == ENDED else Event(key, LOST, why)
        why = _ending(process.wait())
        self.process = None
        return Event(key, LOST, why)

    def _end(self) -> None:
        """Let the process end by itself: nothing more comes."""
        process, self.process = self.process, None
        if process is None:
            return
        if self.stopped:
            process.kill()
        if process.stdin is not None:
            process.stdin.close()
        process.wait()


def one_variant(folder: Path, key: str) -> str:
    """Solve one variant in a process of its own; why it was lost, empty where it was not."""
    process = _started(folder, key)
    told = process.communicate()[0].splitlines()
    if f"{ENDED} {key}" in told:
        return ""
    lost = [line.removeprefix(f"{LOST} {key} ") for line in told if line.startswith(LOST)]
    return lost[0] if lost else _ending(process.returncode)


def _started(folder: Path, *keys: str) -> subprocess.Popen[str]:
    """A worker, in a session of its own so that Ctrl-C reaches only the one who stops it."""
    return subprocess.Popen(
        [sys.executable, "-m", "formsim", "worker", str(folder), *keys],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env={**os.environ, **ONE_THREAD},
        start_new_session=True,
    )


def _ending(code: int) -> str:
    """How a worker ended, in words."""
    if code >= 0:
        return f"its worker ended with exit code {code}"
    try:
        name = signal.Signals(-code).name
    except ValueError:
        name = f"signal {-code}"
    memory = ", as when memory runs out" if name == "SIGKILL" else ""
    return f"its worker was killed ({name}{memory})"
