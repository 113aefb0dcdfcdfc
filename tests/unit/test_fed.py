"""Workers fed one variant at a time, and shares of tasks, with processes that only pretend."""

import subprocess
import sys
import threading

import pytest

from formsim.study import fed
from formsim.study.engine import ENDED, FULL, LOST, Event
from formsim.study.fed import FedWorker
from formsim.study.folder import open_study
from formsim.study.share import Share, work_off

WORKER = """
import os, socket, sys, time
for line in sys.stdin:
    key = line.strip()
    print("begun", key, 0.5 if "slow" in key else 0, flush=True)
    if key == "slow":
        print("at slow in stage \\"draw\\", at stroke 1.250 mm", flush=True)
        os.mkdir(f"{sys.argv[1]}/results/.slow~{socket.gethostname()}-{os.getpid()}")
        time.sleep(60)
    if key == "dies":
        os.kill(os.getpid(), 9)
    print(key if key in ("full", "lost") else "ended", key, "why so", flush=True)
    if key == "leaves":
        sys.exit()
"""


@pytest.fixture
def folder(tmp_path):
    return open_study(tmp_path / "study")


@pytest.fixture
def started(monkeypatch):
    """Processes that were begun."""
    begun = []

    def start(folder):
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
        begun.append(subprocess.Popen([sys.executable, "-c", WORKER, str(folder)], **pipes))
        return begun[-1]

    monkeypatch.setattr(fed, "_started", start)
    yield begun
    for one in begun:
        one.kill()


def test_one_process_solves_one_variant_after_the_other(folder, started):
    worker = FedWorker(folder.path)
    assert [worker.solve(key).what for key in ("a", "lost", "b", "full")] == [
        ENDED,
        LOST,
        ENDED,
        FULL,
    ]
    worker.end()
    assert len(started) == 1 and started[0].poll() == 0


def test_a_process_that_dies_costs_the_variant_it_was_at(folder, started):
    worker = FedWorker(folder.path)
    told = [worker.solve(key) for key in ("a", "dies", "b")]
    assert [one.what for one in told] == [ENDED, LOST, ENDED]
    assert "SIGKILL" in told[1].why and len(started) == 2


def test_a_process_that_has_left_by_itself_is_begun_again(folder, started):
    worker = FedWorker(folder.path)
    assert worker.solve("leaves").what == ENDED
    started[0].wait()
    assert worker.solve("b").what == ENDED


def test_a_variant_that_hangs_is_stopped_and_its_row_says_where(folder, started):
    """It does not even listen any more; the next one is solved by another process."""
    worker = FedWorker(folder.path)
    other = folder.path / "results" / ".slow~another-1"
    other.mkdir()
    assert [worker.solve(key).what for key in ("slow", "b")] == [ENDED, ENDED]
    row = folder.row("slow")
    assert row["status"] == "not converged"
    assert row["reason"] == (
        'stopped after 0.5 s in stage "draw", at stroke 1.250 mm: longer than it may take'
    )
    assert list((folder.path / "results").glob(".*")) == [other] and 0.4 < row["seconds"] < 10.0


def test_a_row_written_at_the_last_moment_stays(folder, started, monkeypatch):
    """The clock rings between the row and the word on it."""
    worker = FedWorker(folder.path)
    threading.Timer(0.2, folder.write_row, ("slow", {"status": "done"})).start()
    assert worker.solve("slow").what == ENDED
    assert folder.row("slow")["status"] == "done"


def test_a_quick_variant_may_be_followed_by_a_quick_one(folder, started):
    """The time is that of one variant, not of the worker."""
    worker = FedWorker(folder.path)
    assert [worker.solve(f"slowly{k}").what for k in range(3)] == [ENDED] * 3
    assert len(started) == 1


def test_tasks_that_share_take_every_variant_once(tmp_path):
    share, keys = Share(tmp_path), [f"k{k}" for k in range(200)]
    share.put(keys)
    taken = [[] for _ in range(4)]
    crew = [threading.Thread(target=lambda own: own.extend(share.take()), args=(t,)) for t in taken]
    for one in crew:
        one.start()
    for one in crew:
        one.join()
    assert sorted(key for own in taken for key in own) == sorted(keys)
    assert set(share.taken()) == set(keys)


def test_a_task_goes_on_behind_a_lost_variant_and_says_which(folder, started, tmp_path):
    share = Share(tmp_path / "share")
    share.put(["a", "dies", "b"])
    work_off(folder.path, share.place)
    found = share.taken()
    assert set(found) == {"a", "b", "dies"} and not found["a"] and not found["b"]
    assert found["dies"].what == LOST and "SIGKILL" in found["dies"].why


def test_a_task_takes_no_more_where_the_disk_is_full(folder, started, tmp_path):
    share = Share(tmp_path / "share")
    share.put(["full", "b"])
    work_off(folder.path, share.place)
    assert share.taken() == {"full": Event("full", FULL, "why so")}
    assert list(share.take()) == ["b"]
