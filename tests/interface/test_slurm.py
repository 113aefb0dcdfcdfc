"""Job arrays: with stand-ins for the commands of Slurm, and with a Slurm on this machine alone."""

import os
import re
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path
from threading import Timer

import pytest

from formsim.cli import main
from formsim.errors import DependencyError, FormsimError
from formsim.study.asked import asked_study
from formsim.study.conduct import conduct
from formsim.study.engine import BEGUN, ENDED, LOST
from formsim.study.folder import open_study
from formsim.study.plan import plan_study
from formsim.study.share import Share
from formsim.study.slurm import SlurmArray, script

SBATCH = """#!{python}
import os, re, subprocess, sys
from pathlib import Path
home, text = Path(__file__).parent, Path(sys.argv[2]).read_text()
last = int(re.search(r"--array=1-(\\d+)\\n", text)[1])
(home / "queue").write_text("".join(f"{{k}}\\n" for k in range(1, last + 1)))
subprocess.Popen([sys.executable, str(home / "node"), sys.argv[2], str(last)],
                 stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
print("4711;cluster")
"""
NODE = """#!{python}
import os, subprocess, sys
from pathlib import Path
home = Path(__file__).parent
for task in range(1, int(sys.argv[2]) + 1):
    if not (home / "queue").exists():
        break
    subprocess.run(["sh", sys.argv[1]], env={{**os.environ, "SLURM_ARRAY_TASK_ID": str(task)}})
    left = [line for line in (home / "queue").read_text().split() if int(line) > task]
    (home / "queue").write_text("".join(f"{{k}}\\n" for k in left))
"""
TAKES_ONE = """#!{python}
import sys
from pathlib import Path
place = Path(sys.argv[1]).parent
first = min((place / "waiting").iterdir())
first.rename(place / "taken" / first.name.partition("_")[2])
open("{times}", "a").write("1")
(Path(__file__).parent / "queue").unlink()
"""
SQUEUE = """#!{python}
from pathlib import Path
queue = Path(__file__).parent / "queue"
tasks = queue.read_text().split() if queue.exists() else []
for place, task in enumerate(tasks):
    print(task, "RUNNING" if place == 0 else "PENDING")
"""
SCANCEL = """#!{python}
import sys
from pathlib import Path
home = Path(__file__).parent
(home / "cancelled").open("a").write(sys.argv[1] + "\\n")
(home / "queue").unlink(missing_ok=True)
"""


@pytest.fixture
def cluster(tmp_path, monkeypatch):
    home = tmp_path / "bin"
    home.mkdir()
    commands = {"sbatch": SBATCH, "node": NODE, "squeue": SQUEUE, "scancel": SCANCEL}
    for name, text in commands.items():
        (home / name).write_text(text.format(python=sys.executable))
        (home / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{home}{os.pathsep}{os.environ['PATH']}")
    return home


def test_a_task_is_a_worker_that_takes_its_share(tmp_path):
    """The line of the worker, with blanks in the path, by a real shell; without work no Python."""
    place = tmp_path / "my study" / "slurm"
    share = Share(place)
    share.put(["a"])
    text = script(place, place.parent, 2)
    assert "#SBATCH --array=1-2\n" in text and "export OMP_NUM_THREADS=1" in text
    told = re.sub(r"exec \S+ -m formsim", "echo", text)

    def said():
        return subprocess.run(["sh", "-c", told], capture_output=True, text=True, check=True).stdout

    assert said().strip() == f"worker {place.parent} --share {place}"
    assert list(share.take()) == ["a"]
    assert said() == ""


def tasks_of(submitted):
    return int(re.search(r"--array=1-(\d+)\n", submitted.read_text())[1])


@pytest.mark.parametrize(
    ("workers", "variants", "tasks"), [(2, 3, 2), (8, 3, 3), (5000, 1200, 1000)]
)
def test_no_array_is_longer_than_its_work_or_a_cluster_allows(
    tmp_path, cluster, workers, variants, tasks
):
    folder = open_study(tmp_path / "study")
    (cluster / "node").write_text("")
    (cluster / "squeue").write_text("#!/bin/sh\n")
    engine = SlurmArray(workers, poll=0.01, grace=0.0)
    events = list(engine.solve(folder.path, [f"k{k}" for k in range(variants)]))
    assert {one.what for one in events} == {LOST} and "has begun it" in events[0].why
    assert tasks_of(folder.path / "slurm" / "array.sh") == tasks


def test_without_slurm_the_message_says_so(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(DependencyError, match="there is no sbatch here"):
        list(SlurmArray(2).solve(open_study(tmp_path / "study").path, ["a"]))


def test_what_sbatch_refuses_is_told(tmp_path, cluster):
    (cluster / "sbatch").write_text("#!/bin/sh\necho 'invalid partition' >&2\nexit 1\n")
    with pytest.raises(FormsimError, match="sbatch failed: invalid partition") as error:
        list(SlurmArray(2).solve(open_study(tmp_path / "study").path, ["a"]))
    assert "SBATCH_PARTITION" in error.value.hint


@pytest.mark.slow
def test_a_task_tells_how_its_variants_were_lost(tmp_path, cluster):
    """No study to work on: the workers fail, and nothing ever writes a row."""
    folder = open_study(tmp_path / "study")
    events = list(SlurmArray(2, poll=0.05, grace=0.3).solve(folder.path, ["a", "b"]))
    assert {(one.key, one.what) for one in events} >= {("a", LOST), ("b", LOST)}
    assert "its worker ended with exit code 1" in events[-1].why


def test_what_a_vanished_task_had_begun_is_lost_and_the_rest_gets_another_array(tmp_path, cluster):
    """As a time limit ends it: the first array takes one variant, the second the others."""
    folder = open_study(tmp_path / "study")
    keys = ["a", "b", "c"]
    (cluster / "node").write_text(TAKES_ONE.format(python=sys.executable, times=cluster / "times"))
    events = list(SlurmArray(1, poll=0.05, grace=0.2).solve(folder.path, keys))
    assert [(one.key, one.what) for one in events] == [
        (key, what) for key in keys for what in (BEGUN, LOST)
    ]
    assert "see slurm/4711_*.txt" in events[-1].why
    assert (cluster / "times").read_text() == "1" * len(keys)


def test_a_call_that_ends_cancels_its_job(tmp_path, cluster):
    folder = open_study(tmp_path / "study")
    events = SlurmArray(2, poll=0.05).solve(folder.path, ["a", "b"])
    assert next(events).what == BEGUN
    events.close()
    assert (cluster / "cancelled").read_text() == "4711\n"
    assert not (cluster / "queue").exists()


@pytest.mark.slow
def test_a_study_is_solved_by_an_array(case, cluster, capsys):
    into = case.parent / "study"
    words = ["sweep", str(case), "--vary", "sheet.thickness = [0.27, 0.28]", "--on", "slurm"]
    assert main([*words, "--into", str(into)]) == 0
    told = capsys.readouterr().out
    assert "2 done; verdicts: 2 good" in told
    folder = open_study(into)
    rows = [folder.row(path.stem) for path in (into / "rows").glob("*.json")]
    assert [row["status"] for row in rows] == ["done", "done"]
    assert main([*words, "--into", str(into)]) == 0
    assert (cluster / "cancelled").read_text() == "4711\n"
    assert (into / "slurm" / "array.sh").is_file()


def test_a_controller_that_does_not_answer_costs_no_variant(tmp_path, cluster):
    """As while it is begun again: what its tasks do meanwhile counts."""
    folder = open_study(tmp_path / "study")
    told = f"#!{sys.executable}\nimport sys\nsys.exit('Unable to contact slurm controller')\n"
    (cluster / "squeue").write_text(told)
    (cluster / "node").write_text("")
    events = SlurmArray(1, poll=0.02, grace=0.0).solve(folder.path, ["a"])
    Timer(0.3, folder.write_row, ("a", {"status": "done"})).start()
    assert [(one.key, one.what) for one in events] == [("a", ENDED)]
    events = SlurmArray(1, poll=0.02, grace=0.0, outage=0.1).solve(folder.path, ["b"])
    with pytest.raises(FormsimError, match="Unable to contact"):
        list(events)


def test_a_job_that_cannot_be_cancelled_is_by_the_next_call(tmp_path, cluster):
    folder = open_study(tmp_path / "study")
    cancel = (cluster / "scancel").read_text()
    (cluster / "scancel").write_text("#!/bin/sh\necho 'Unable to contact controller' >&2; exit 1\n")
    events = SlurmArray(2, poll=0.05).solve(folder.path, ["a", "b"])
    assert next(events).what == BEGUN
    events.close()
    assert (folder.path / "slurm" / "id.txt").read_text() == "4711\n"
    (cluster / "scancel").write_text(cancel)
    again = SlurmArray(2, poll=0.05).solve(folder.path, ["a"])
    assert next(again).what == BEGUN
    assert (cluster / "cancelled").read_text() == "4711\n"
    again.close()


def wait_for_an_empty_queue(seconds=30.0):
    """A job that is cancelled takes a moment to go; daemons stopped before leave its keeper."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        told = subprocess.run(["squeue", "--noheader"], capture_output=True, text=True, check=True)
        if not told.stdout.strip():
            return
        time.sleep(0.2)
    pytest.fail(f"still in the queue: {told.stdout}")


@pytest.mark.slow
def test_a_study_is_solved_by_a_real_array(case, slurm, capsys, monkeypatch):
    """Two nodes: one variant that is good, one that tears."""
    for name, value in slurm.items():
        monkeypatch.setenv(name, value)
    into = case.parent / "study"
    vary = ("--vary", "sheet.blank_diameter = [118.0, 200.0]")
    assert main(["sweep", str(case), *vary, "--on", "slurm", "--into", str(into)]) == 0
    assert "1 done, 1 torn; verdicts: 1 good, 1 reject" in capsys.readouterr().out


@pytest.mark.slow
def test_a_killed_task_of_a_real_array_is_begun_again(case, slurm, monkeypatch):
    for name, value in slurm.items():
        monkeypatch.setenv(name, value)
    asked = asked_study(case, ["sheet.thickness = [0.28]"], {})
    plan = plan_study(asked.study, case, "s.toml")
    folder, engine, killed = open_study(case.parent / "study"), SlurmArray(2, 0.2, 2.0), []

    class Killing:
        workers = 2

        def solve(self, path, keys):
            for event in engine.solve(path, keys):
                if event.what == BEGUN and not killed:
                    killed.append((path / "slurm" / "id.txt").read_text().strip())
                    subprocess.run(["scancel", "--signal=KILL", "--full", *killed], check=True)
                yield event

    table = conduct(plan, folder, Killing(), {})
    assert len(killed) == 1
    assert table.columns["status"] == ["done"]


def own_workers():
    """Process ids of workers that are fed; the tasks that feed them are called with a share."""
    found = []
    for file in Path("/proc").glob("[0-9]*/cmdline"):
        with suppress(OSError):
            words = file.read_bytes().split(b"\0")
            if b"worker" in words and b"--share" not in words and b"formsim" in words:
                found.append(int(file.parent.name))
    return found


@pytest.mark.slow
def test_a_killed_worker_of_a_real_task_costs_only_its_variant(case, slurm, monkeypatch):
    """One task with a share of four; its process dies within the second one."""
    for name, value in slurm.items():
        monkeypatch.setenv(name, value)
    asked = asked_study(case, ["sheet.thickness = [0.27, 0.275, 0.28, 0.285]"], {})
    plan = plan_study(asked.study, case, "s.toml")
    engine, begun, lost, killed = SlurmArray(1, 0.2, 2.0), [], [], []

    class Killing:
        workers = 1

        def solve(self, path, keys):
            for event in engine.solve(path, keys):
                begun.extend([event.key] * (event.what == BEGUN))
                lost.extend([event.key] * (event.what == LOST))
                if event.what == BEGUN and len(begun) == 2:
                    killed.extend(pid for pid in own_workers() if is_of(pid, path))
                    os.kill(killed[0], signal.SIGKILL)
                yield event

    table = conduct(plan, open_study(case.parent / "study"), Killing(), {})
    assert table.columns["status"] == ["done"] * 4
    assert len(killed) == 1 and lost == [begun[1]]
    assert len(begun) == 5 and begun[-1] == begun[1]


def is_of(pid, path):
    """Whether a process works on the study in a folder."""
    with suppress(OSError):
        return str(path.resolve()).encode() in Path(f"/proc/{pid}/cmdline").read_bytes()
    return False


@pytest.mark.slow
def test_a_drained_node_leaves_its_share_to_the_other(case, slurm, monkeypatch):
    for name, value in slurm.items():
        monkeypatch.setenv(name, value)
    asked = asked_study(case, ["sheet.thickness = 0.27:0.29:0.004"], {})
    plan = plan_study(asked.study, case, "s.toml")
    done = []

    def drain(standing):
        if standing.done and not done:
            done.append(standing.done)
            state("n2", "drain")

    try:
        table = conduct(plan, open_study(case.parent / "study"), SlurmArray(2, 0.2), {}, drain)
    finally:
        state("n2", "resume")
    assert table.columns["status"] == ["done"] * 6 and done


def state(node, word):
    words = ["scontrol", "update", f"nodename={node}", f"state={word}", "reason=test"]
    subprocess.run(words, check=False, capture_output=True)


@pytest.mark.slow
def test_a_task_of_a_real_array_stops_what_takes_too_long(case, slurm, capsys, monkeypatch):
    """The mesh of the first variant is far too fine for the time; the same task solves the next."""
    for name, value in slurm.items():
        monkeypatch.setenv(name, value)
    words = ["sweep", str(case), "--vary", "mesh.columns = [1500, 90]", "--longest", "8 s"]
    words += ["--on", "slurm", "--workers", "1", "--into", str(case.parent / "study")]
    assert main(words) == 0
    told = capsys.readouterr().out
    assert "1 not converged, 1 done" in told and "variant 1: stopped after 8 s in stage" in told


@pytest.mark.slow
def test_an_interrupted_call_leaves_no_job_of_a_real_array(case, slurm, monkeypatch):
    for name, value in slurm.items():
        monkeypatch.setenv(name, value)
    asked = asked_study(case, ["sheet.thickness = [0.27, 0.28]"], {})
    plan = plan_study(asked.study, case, "s.toml")

    def stop(standing):
        if standing.running:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        conduct(plan, open_study(case.parent / "study"), SlurmArray(1, 0.2), {}, stop)
    wait_for_an_empty_queue()
