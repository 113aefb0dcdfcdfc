"""Workers of a Dask cluster; the study folder has to lie where all of them see it."""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formsim.errors import DependencyError, FormsimError
from formsim.study.engine import BEGUN, LOST, Event, What
from formsim.study.fed import FedWorker

WAIT = 10.0
"""Time in which a scheduler has to answer, and to have a worker [s]."""

LOOK, ALONE = 5.0, 60.0
"""Time between two looks for workers, and time a scheduler may be without any [s]: lost ones may be
begun again."""


@dataclass(frozen=True)
class DaskCluster:
    """Workers of a Dask scheduler that runs already.

    Attributes
    ----------
    address : of the scheduler, such as ``tcp://node1:8786``
    workers : most variants at a time; fewer where the cluster has fewer threads
    wait, alone : see ``WAIT`` and ``ALONE``
    """

    address: str
    workers: int
    wait: float = WAIT
    alone: float = ALONE

    def solve(self, folder: Path, keys: Sequence[str]) -> Iterator[Event]:
        """Have variants solved, never more handed over than the cluster can begin at once."""
        with ExitStack() as stack:
            client = stack.enter_context(_client(self.address, self.wait))
            # Processes of a call that was killed may still be at variants of the study.
            with self._answering():
                client.run(end_there, str(folder.resolve()))
            waiting, running = deque(keys), dict[Any, str]()
            stack.callback(_close, client, running, str(folder.resolve()))
            while waiting or running:
                # Workers come and go while a study runs.
                room = max(1, min(self.workers, self._threads(client)))
                while waiting and len(running) < room:
                    key = waiting.popleft()
                    with self._answering():
                        future = client.submit(solve_there, str(folder.resolve()), key, pure=False)
                    running[future] = key
                    yield Event(key, BEGUN)
                future = self._first_done(client, running)
                yield self._event(future, running.pop(future))

    def _first_done(self, client: Any, running: Mapping[Any, str]) -> Any:
        """The variant that ends first.

        Raises
        ------
        FormsimError : the scheduler has gone, or has no workers any more
        """
        from distributed import wait

        begin = time.monotonic()
        while True:
            with self._answering(), suppress(TimeoutError):
                done, _ = wait(list(running), timeout=LOOK, return_when="FIRST_COMPLETED")
                if done:
                    return done.pop()
            begin = time.monotonic() if self._threads(client) else begin
            if time.monotonic() - begin > self.alone:
                message = f"the Dask scheduler at {self.address} has no workers any more"
                hint = f"dask worker {self.address} --nthreads 1; then repeat the command:"
                raise FormsimError(message, hint=f"start some with: {hint} what is solved stays")

    def _threads(self, client: Any) -> int:
        """Threads of all workers, each of which solves one variant at a time."""
        with self._answering():
            return int(sum(client.nthreads().values()))

    def _event(self, future: Any, key: str) -> Event:
        with self._answering():
            error = future.exception()
            if error is not None:
                return Event(key, LOST, f"Dask lost it: {error}")
            return Event(key, *future.result())

    @contextmanager
    def _answering(self) -> Iterator[None]:
        """Turn what a client says of a scheduler that has gone into one message."""
        try:
            yield
        except (OSError, RuntimeError, CancelledError) as error:
            message = f"the Dask scheduler at {self.address} does not answer any more"
            hint = "see what became of it, and repeat the command: what is solved stays"
            raise FormsimError(message, hint=hint) from error


def solve_there(folder: str, key: str) -> tuple[What, str]:
    """Solve a variant in a process that stays for the next; what became of it, and why.

    That process is no worker of the cluster, which its death would cost.
    """
    with _LOCK:
        idle, busy = _CREWS.setdefault(folder, ([], []))
        worker = idle.pop() if idle else FedWorker(Path(folder))
        busy.append(worker)
    event = worker.solve(key)
    with _LOCK:
        busy.remove(worker)
        if not worker.stopped:
            idle.append(worker)
    return event.what, event.why


def end_there(folder: str) -> None:
    """End all processes of a study on a worker of the cluster."""
    with _LOCK:
        idle, busy = _CREWS.pop(folder, ([], []))
        for worker in (*idle, *busy):
            worker.stop()
    for worker in idle:
        worker.end()


_LOCK = threading.Lock()
_CREWS: dict[str, tuple[list[FedWorker], list[FedWorker]]] = {}
"""Idle and busy processes of every study, on a worker of the cluster."""


def _close(client: Any, running: dict[Any, str], folder: str) -> None:
    """Leave nothing of a study on the cluster."""
    # Workers or a scheduler that have died cannot end anything any more.
    with suppress(Exception):
        client.cancel(list(running), force=True)
        client.run(end_there, folder)


def _client(address: str, wait: float) -> Any:
    """Client of a scheduler that answers and has workers.

    Raises
    ------
    DependencyError : Dask is not installed here
    FormsimError : no scheduler answers, or it has no worker
    """
    try:
        from distributed import Client
    except ImportError:
        message = "Dask is not installed here"
        raise DependencyError(message, hint="pip install 'formsim[dask]', here and there") from None
    # Tracebacks of lost connections that the library logs say less than our own message.
    for name in list(logging.root.manager.loggerDict):
        if name.partition(".")[0] == "distributed":
            logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        client = Client(address, timeout=wait)
    except (OSError, ValueError) as error:
        message = f"no Dask scheduler answers at {address}: {error}"
        raise FormsimError(message, hint="start one with: dask scheduler") from None
    if not client.nthreads():
        client.close()
        message = f"the Dask scheduler at {address} has no workers"
        raise FormsimError(message, hint=f"start some with: dask worker {address} --nthreads 1")
    return client
