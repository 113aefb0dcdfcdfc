"""Workers of a Dask cluster; the study folder has to lie where all of them see it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formsim.errors import DependencyError, FormsimError
from formsim.study.engine import BEGUN, ENDED, LOST, Event
from formsim.study.local import one_variant

WAIT = 10.0
"""Time in which a scheduler has to answer, and to have a worker [s]."""


@dataclass(frozen=True)
class DaskCluster:
    """Workers of a Dask scheduler that runs already.

    Attributes
    ----------
    address : of the scheduler, such as ``tcp://node1:8786``
    workers : most variants at a time; fewer where the cluster has fewer threads
    wait : see ``WAIT``
    """

    address: str
    workers: int
    wait: float = WAIT

    def solve(self, folder: Path, keys: Sequence[str]) -> Iterator[Event]:
        """Have variants solved, never more handed over than the cluster can begin at once."""
        with ExitStack() as stack:
            client = stack.enter_context(_client(self.address, self.wait))
            room = min(self.workers, sum(client.nthreads().values()))
            waiting, running = deque(keys), dict[Any, str]()
            stack.callback(lambda: client.cancel(list(running), force=True))
            while waiting or running:
                while waiting and len(running) < room:
                    key = waiting.popleft()
                    future = client.submit(solve_there, str(folder.resolve()), key, pure=False)
                    running[future] = key
                    yield Event(key, BEGUN)
                future = _first_done(running)
                yield _event(future, running.pop(future))


def solve_there(folder: str, key: str) -> str:
    """Solve a variant in a process of its own, whose death costs no worker of the cluster.

    Returns why it was lost; empty where it was not.
    """
    return one_variant(Path(folder), key)


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


def _first_done(running: dict[Any, str]) -> Any:
    from distributed import as_completed

    return next(iter(as_completed(list(running))))


def _event(future: Any, key: str) -> Event:
    error = future.exception()
    why = str(future.result()) if error is None else f"Dask lost it: {error}"
    return Event(key, LOST, why) if why else Event(key, ENDED)
