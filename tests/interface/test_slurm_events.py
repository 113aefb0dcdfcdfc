"""A real Slurm of two nodes that fail, and calls that are killed or stopped, amid a study."""

import os
import signal
import subprocess
import time
from contextlib import suppress
from pathlib import Path

import pytest

from formsim.study.asked import asked_study
from formsim.study.conduct import conduct
from formsim.study.folder import open_study
from formsim.study.plan import plan_study
from formsim.study.slurm import SlurmArray
from tests.interface.calls import (
    ended,
    kill,
    stamps,
    started,
    states,
    wait_for,
    whole,
    words_of,
    workers_in,
)

pytestmark = pytest.mark.slow

DONE, INTERRUPTED, COUNT = 0, 130, 6
VARY = "sheet.thickness = 0.27:0.28:0.002"


def call(case, env):
    return started(case, "--vary", VARY, "--on", "slurm", "--workers", "2", env=env)


def queue(env):
    words = ["squeue", "--noheader"]
    return subprocess.run(words, env=env, capture_output=True, text=True, check=True).stdout


def test_a_killed_call_leaves_its_array_to_the_next(case, slurm):
    process = call(case, slurm)
    wait_for(lambda: stamps(case))
    process.kill()
    process.communicate()
    first = stamps(case)
    job = (case.parent / "study" / "slurm" / "id.txt").read_text().strip()
    assert job in queue(slurm)
    process = call(case, slurm)
    wait_for(lambda: job not in queue(slurm))
    code, told = ended(process)
    assert code == DONE, told
    assert whole(case, COUNT) and {path: stamps(case)[path] for path in first} == first


def test_ctrl_c_ends_the_array_and_the_same_command_goes_on(case, slurm):
    process = call(case, slurm)
    wait_for(lambda: stamps(case))
    process.send_signal(signal.SIGINT)
    code, told = ended(process)
    assert code == INTERRUPTED and "the same command goes on" in told, told
    wait_for(lambda: not workers_in(case) and not queue(slurm).strip())
    first = stamps(case)
    assert states(case).count("waiting") > 0
    code, told = ended(call(case, slurm))
    assert code == DONE, told
    assert whole(case, COUNT) and {path: stamps(case)[path] for path in first} == first


def test_a_controller_that_hangs_costs_no_variant(case, slurm, monkeypatch):
    """Its commands give up after some seconds; its tasks go on meanwhile."""
    process = call(case, slurm)
    wait_for(lambda: stamps(case))
    controller = int((Path(slurm["SLURM_CONF"]).parent / "slurmctld.pid").read_text())
    os.kill(controller, signal.SIGSTOP)
    try:
        time.sleep(20.0)
    finally:
        os.kill(controller, signal.SIGCONT)
    code, told = ended(process)
    assert code == DONE, told
    assert whole(case, COUNT)


def test_a_lost_node_leaves_its_share_to_the_other(case, slurm, monkeypatch):
    """All of its processes die at once. It stays down, so this comes last."""
    for name, value in slurm.items():
        monkeypatch.setenv(name, value)
    asked = asked_study(case, [VARY], {})
    plan, lost = plan_study(asked.study, case, "s.toml"), []

    def lose(standing):
        if standing.done and not lost:
            lost.extend(of_node("n2", Path(slurm["SLURM_CONF"]).parent))
            for pid in lost:
                kill(pid)

    try:
        table = conduct(plan, open_study(case.parent / "study"), SlurmArray(2, 0.2, 2.0), {}, lose)
    finally:
        # What keeps tasks is ended by the daemon of its node, which is not there any more.
        for pid in pids():
            own = f"SLURM_CONF={slurm['SLURM_CONF']}".encode() in environment(pid)
            if own and b"".join(words_of(pid)).startswith(b"slurmstepd"):
                kill(pid)
    assert table.columns["status"] == ["done"] * COUNT and len(lost) > 2
    assert whole(case, COUNT)


def of_node(name, folder):
    """Process ids of a node: its daemon first, then what keeps its tasks, then these."""
    found = [int((folder / f"slurmd-{name}.pid").read_text())]
    tasks = [pid for pid in pids() if f"SLURMD_NODENAME={name}".encode() in environment(pid)]
    keepers = {parent(pid) for pid in tasks} - {1, os.getpid()}
    found += [pid for pid in keepers if words_of(pid)[0].startswith(b"slurmstepd")]
    return found + tasks


def pids():
    return [int(place.name) for place in Path("/proc").glob("[0-9]*")]


def environment(pid):
    with suppress(OSError):
        return Path(f"/proc/{pid}/environ").read_bytes().split(b"\0")
    return []


def parent(pid):
    with suppress(OSError):
        return int(Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[1])
    return 1
