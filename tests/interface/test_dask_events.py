"""A real Dask scheduler with workers, of which some are lost, while a study runs on them."""

import signal
import subprocess
import sys
from contextlib import suppress

import pytest

from formsim.errors import FormsimError
from formsim.study.asked import asked_study
from formsim.study.conduct import conduct
from formsim.study.dask import DaskCluster
from formsim.study.folder import open_study
from formsim.study.plan import plan_study
from tests.interface.calls import (
    ended,
    kill,
    stamps,
    started,
    states,
    wait_for,
    whole,
    workers_in,
)

pytestmark = pytest.mark.slow

DONE, FAILED, INTERRUPTED = 0, 1, 130
COUNT = 6
VARY = ("--vary", "sheet.thickness = 0.27:0.28:0.002")


class Cluster:
    """A scheduler and its workers, each a process of its own."""

    def __init__(self, folder):
        self.folder, self.processes = folder, []
        self.scheduler = self._start("scheduler", "--host", "127.0.0.1", "--port", "0")

    def _start(self, what, *more):
        words = [sys.executable, "-m", "distributed.cli.dask_" + what, "--no-dashboard"]
        words += ["--scheduler-file", str(self.folder / "scheduler.json"), *more]
        log = (self.folder / f"{what}-{len(self.processes)}.txt").open("wb")
        process = subprocess.Popen(words, stdout=log, stderr=log, start_new_session=True)
        self.processes.append(process)
        return process

    def worker(self):
        """One more worker, which nobody begins again."""
        more = ("--nthreads", "1", "--no-nanny", "--local-directory", str(self.folder))
        return self._start("worker", *more)

    def client(self):
        from distributed import Client

        return Client(scheduler_file=str(self.folder / "scheduler.json"), timeout=30.0)

    @property
    def address(self):
        with self.client() as client:
            return client.scheduler.address

    def wait(self, count):
        with self.client() as client:
            client.wait_for_workers(count, timeout=60.0)

    def end(self):
        for process in reversed(self.processes):
            with suppress(ProcessLookupError):
                process.kill()
            process.wait()


@pytest.fixture
def cluster(tmp_path):
    pytest.importorskip("distributed")
    place = tmp_path / "cluster"
    place.mkdir()
    cluster = Cluster(place)
    yield cluster
    cluster.end()


@pytest.fixture
def two(cluster):
    """The cluster with two workers, which stand in it."""
    cluster.workers = [cluster.worker(), cluster.worker()]
    cluster.wait(2)
    return cluster


def call(case, cluster):
    return started(case, *VARY, "--on", cluster.address)


def test_a_killed_process_costs_one_more_try(case, two):
    process = call(case, two)
    wait_for(lambda: stamps(case))
    kill(wait_for(lambda: workers_in(case))[0])
    code, told = ended(process)
    assert code == DONE, told
    assert whole(case, COUNT)


def test_a_lost_worker_leaves_its_variants_to_the_other(case, two):
    process = call(case, two)
    wait_for(lambda: stamps(case))
    two.workers[0].kill()
    code, told = ended(process)
    assert code == DONE, told
    assert whole(case, COUNT)


def test_a_worker_that_comes_later_takes_its_share(case, cluster):
    cluster.worker()
    cluster.wait(1)
    process = call(case, cluster)
    wait_for(lambda: stamps(case))
    cluster.worker()
    wait_for(lambda: len(workers_in(case)) == 2)
    code, told = ended(process)
    assert code == DONE, told
    assert whole(case, COUNT)


def test_a_retired_worker_leaves_its_variants_to_the_other(case, two):
    process = call(case, two)
    wait_for(lambda: stamps(case))
    with two.client() as client:
        client.retire_workers([next(iter(client.scheduler_info()["workers"]))])
    code, told = ended(process)
    assert code == DONE, told
    assert whole(case, COUNT)


def test_without_any_worker_the_study_ends_and_goes_on_with_another(case, two):
    asked = asked_study(case, [VARY[1]], {})
    plan, folder = plan_study(asked.study, case, "s.toml"), open_study(case.parent / "study")

    def lose(standing):
        if standing.done:
            for worker in two.workers:
                worker.kill()

    engine = DaskCluster(two.address, 8, alone=3.0)
    with pytest.raises(FormsimError, match="has no workers any more") as error:
        conduct(plan, folder, engine, asked.seen_from(folder.path), lose)
    assert "what is solved stays" in error.value.hint
    first = stamps(case)
    assert 0 < len(first) < COUNT
    wait_for(lambda: not workers_in(case))
    two.worker()
    two.wait(1)
    code, told = ended(call(case, two))
    assert code == DONE, told
    assert whole(case, COUNT) and {path: stamps(case)[path] for path in first} == first


def test_a_lost_scheduler_ends_the_study_with_its_table(case, two):
    process = call(case, two)
    wait_for(lambda: stamps(case))
    two.scheduler.kill()
    code, told = ended(process)
    assert code == FAILED and "Dask scheduler" in told and "Traceback" not in told, told
    # A worker that still solves when the call ends writes its row behind the table.
    assert 0 < states(case).count("done") <= len(stamps(case))


def test_a_killed_call_leaves_the_cluster_to_the_next(case, two):
    process = call(case, two)
    wait_for(lambda: stamps(case))
    wait_for(lambda: len(workers_in(case)) == 2)
    old = set(workers_in(case))
    process.kill()
    process.communicate()
    first = stamps(case)
    process = call(case, two)
    # Those of the call that was killed are not left at the same variants.
    wait_for(lambda: set(workers_in(case)) - old)
    assert not old & set(workers_in(case))
    code, told = ended(process)
    assert code == DONE, told
    assert whole(case, COUNT) and {path: stamps(case)[path] for path in first} == first


def test_ctrl_c_ends_the_processes_and_the_same_command_goes_on(case, two):
    process = call(case, two)
    wait_for(lambda: stamps(case))
    process.send_signal(signal.SIGINT)
    code, told = ended(process)
    assert code == INTERRUPTED and "the same command goes on" in told, told
    wait_for(lambda: not workers_in(case), 20.0)
    first = stamps(case)
    assert states(case).count("waiting") == COUNT - len(first) > 0
    code, told = ended(call(case, two))
    assert code == DONE, told
    assert whole(case, COUNT) and {path: stamps(case)[path] for path in first} == first
