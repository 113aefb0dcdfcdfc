"""Workers on this machine: processes of their own, fed with one variant at a time."""

from __future__ import annotations

import os
import queue
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from formsim.study.engine import BEGUN, Event
from formsim.study.fed import FedWorker


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
                worker.worker.stop()
            for worker in crew:
                worker.join()


class _Worker(threading.Thread):
    """Takes variants for one fed worker."""

    def __init__(
        self, folder: Path, waiting: deque[str], events: queue.SimpleQueue[Event | None]
    ) -> None:
        super().__init__(daemon=True)
        self.worker, self.waiting, self.events = FedWorker(folder), waiting, events

    def run(self) -> None:
        """Take variants until none waits."""
        try:
            while not self.worker.stopped:
                try:
                    key = self.waiting.popleft()
                except IndexError:
                    break
                self.events.put(Event(key, BEGUN))
                self.events.put(self.worker.solve(key))
            self.worker.end()
        finally:
            self.events.put(None)
