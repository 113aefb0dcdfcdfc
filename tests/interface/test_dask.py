"""Variants on a Dask cluster: with one of this machine where Dask is installed, else a stand-in."""

import sys
import time
from concurrent.futures import ThreadPoolExecutor, wait
from types import ModuleType

import pytest

from formsim.cli import main
from formsim.errors import DependencyError, FormsimError
from formsim.study.dask import DaskCluster
from formsim.study.engine import BEGUN, ENDED, LOST, Event
from formsim.study.folder import open_study
from tests.interface.small import small_cup

ADDRESS = "tcp://127.0.0.1:8786"


class Client:
    """Runs what is submitted in threads of its own."""

    threads = 2

    def __init__(self, address, timeout):
        if not address.endswith("8786"):
            raise OSError("timed out")
        self.pool, self.cancelled = ThreadPoolExecutor(2), []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def nthreads(self):
        return {"a": 1, "b": self.threads - 1} if self.threads else {}

    def submit(self, function, *words, pure):
        assert not pure
        return self.pool.submit(function, *words)

    def cancel(self, futures, force):
        assert force
        for future in futures:
            future.cancel()

    def run(self, function, *words):
        function(*words)

    def close(self):
        self.pool.shutdown()


@pytest.fixture
def stand_in(monkeypatch):
    module = ModuleType("distributed")
    module.Client, module.wait = Client, wait
    monkeypatch.setitem(sys.modules, "distributed", module)
    monkeypatch.setattr(Client, "threads", 2)
    return module


@pytest.fixture
def solved(monkeypatch):
    """Workers that say what they are told to, by key; the workers that were begun."""
    begun = []

    class Fed:
        stopped = False

        def __init__(self, folder):
            self.ended = False
            begun.append(self)

        def solve(self, key):
            time.sleep(0.05)
            said = {"lost": (LOST, "its worker was killed (SIGKILL)")}
            return Event(key, *said.get(key, (ENDED, "")))

        def stop(self):
            self.stopped = True

        def end(self):
            self.ended = True

    monkeypatch.setattr("formsim.study.dask.FedWorker", Fed)
    return begun


def test_processes_stay_for_the_next_variant_and_end_with_the_study(tmp_path, stand_in, solved):
    folder = open_study(tmp_path / "study").path
    events = DaskCluster(ADDRESS, 8).solve(folder, list("abcdef"))
    assert len([one for one in events if one.what == ENDED]) == 6
    assert len(solved) == 2
    assert all(one.stopped and one.ended for one in solved)


def test_what_is_lost_is_told_with_its_reason(tmp_path, stand_in, solved):
    folder = open_study(tmp_path / "study").path
    events = list(DaskCluster(ADDRESS, 8).solve(folder, ["a", "lost", "b"]))
    assert sorted((one.key, one.what) for one in events if one.what != BEGUN) == [
        ("a", ENDED),
        ("b", ENDED),
        ("lost", LOST),
    ]
    assert [one.why for one in events if one.what == LOST] == ["its worker was killed (SIGKILL)"]


@pytest.mark.parametrize(("workers", "most"), [(1, 1), (8, 2)])
def test_no_more_is_handed_over_than_can_begin(tmp_path, stand_in, solved, workers, most):
    open_now, peak = 0, 0
    folder = open_study(tmp_path / "study").path
    for event in DaskCluster(ADDRESS, workers).solve(folder, list("abcdef")):
        open_now += 1 if event.what == BEGUN else -1
        peak = max(peak, open_now)
    assert peak == most


def test_a_scheduler_that_is_not_there(tmp_path, stand_in):
    with pytest.raises(FormsimError, match=r"no Dask scheduler answers at tcp://x:1") as error:
        list(DaskCluster("tcp://x:1", 8).solve(tmp_path, ["a"]))
    assert "dask scheduler" in error.value.hint


def test_a_scheduler_without_workers(tmp_path, stand_in, monkeypatch):
    monkeypatch.setattr(Client, "threads", 0)
    with pytest.raises(FormsimError, match="has no workers"):
        list(DaskCluster(ADDRESS, 8).solve(tmp_path, ["a"]))


def test_without_dask_the_message_says_so(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(DependencyError, match="Dask is not installed"):
        list(DaskCluster(ADDRESS, 8).solve(tmp_path, ["a"]))


@pytest.mark.slow
def test_a_study_is_solved_by_a_cluster(tmp_path, capsys):
    distributed = pytest.importorskip("distributed")
    case, into = tmp_path / "cup.toml", tmp_path / "study"
    case.write_text(small_cup(), encoding="utf-8")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, dashboard_address=None
    ) as cluster:
        words = ["sweep", str(case), "--vary", "sheet.thickness = [0.27, 0.28]", "--into"]
        assert main([*words, str(into), "--on", cluster.scheduler_address]) == 0
    assert "2 done; verdicts: 2 good" in capsys.readouterr().out


@pytest.mark.slow
def test_a_cluster_stops_what_takes_too_long(tmp_path, capsys):
    """The mesh of the first variant is far too fine for the time; the next is solved."""
    distributed = pytest.importorskip("distributed")
    case = tmp_path / "cup.toml"
    case.write_text(small_cup(), encoding="utf-8")
    words = ["sweep", str(case), "--vary", "mesh.columns = [1500, 90]", "--longest", "8 s"]
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, dashboard_address=None
    ) as cluster:
        into = ["--into", str(tmp_path / "study"), "--on", cluster.scheduler_address]
        assert main([*words, *into]) == 0
    told = capsys.readouterr().out
    assert "1 not converged, 1 done" in told and "variant 1: stopped after 8 s in stage" in told
