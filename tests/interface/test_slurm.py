"""Job arrays: with stand-ins for the commands of Slurm, and with a Slurm on this machine alone."""

import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from formsim.cli import main
from formsim.errors import DependencyError, FormsimError
from formsim.study.asked import asked_study
from formsim.study.conduct import conduct
from formsim.study.engine import BEGUN, LOST
from formsim.study.folder import open_study
from formsim.study.plan import plan_study
from formsim.study.slurm import MOST_TASKS, SlurmArray, dealt, script
from tests.interface.small import small_cup
from tests.loopback_slurm import loopback_slurm, missing

SBATCH = """#!{python}
import os, re, subprocess, sys
from pathlib import Path
home, text = Path(__file__).parent, Path(sys.argv[2]).read_text()
last = int(re.search(r"--array=1-(\\d+)%", text)[1])
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


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "cup.toml"
    path.write_text(small_cup(), encoding="utf-8")
    return path


def test_every_task_finds_its_keys(tmp_path):
    """The line of a task in the file of tasks, with blanks in the path, by a real shell."""
    place = tmp_path / "my study" / "slurm"
    place.mkdir(parents=True)
    (place / "tasks.txt").write_text("a b\nc\n")
    text = script(place, place.parent, 2, 8)
    assert "#SBATCH --array=1-2%8" in text and "export OMP_NUM_THREADS=1" in text
    told = re.sub(r"exec \S+ -m formsim", "echo", text)
    for task, keys in ((1, "a b"), (2, "c")):
        done = subprocess.run(
            ["sh", "-c", told], env={"SLURM_ARRAY_TASK_ID": str(task), "PATH": os.environ["PATH"]},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert done.stdout.strip() == f"worker {place.parent} {keys}"


def test_no_array_is_longer_than_a_cluster_allows():
    keys = [str(k) for k in range(2 * MOST_TASKS + 1)]
    tasks = dealt(keys)
    assert len(tasks) == MOST_TASKS
    assert sorted(key for task in tasks for key in task) == sorted(keys)
    assert {len(task) for task in tasks} == {2, 3}


def test_without_slurm_the_message_says_so(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(DependencyError, match="there is no sbatch here"):
        list(SlurmArray(2).solve(open_study(tmp_path / "study").path, ["a"]))


def test_what_sbatch_refuses_is_told(tmp_path, cluster):
    (cluster / "sbatch").write_text("#!/bin/sh\necho 'invalid partition' >&2\nexit 1\n")
    with pytest.raises(FormsimError, match="sbatch failed: invalid partition") as error:
        list(SlurmArray(2).solve(open_study(tmp_path / "study").path, ["a"]))
    assert "SBATCH_PARTITION" in error.value.hint


def test_rows_of_tasks_that_vanish_are_lost(tmp_path, cluster):
    """No study to work on: the workers fail, and nothing ever writes a row."""
    folder = open_study(tmp_path / "study")
    events = list(SlurmArray(2, poll=0.05, grace=0.3).solve(folder.path, ["a", "b"]))
    assert {(one.key, one.what) for one in events} >= {("a", LOST), ("b", LOST)}
    assert "slurm/4711_*.txt" in events[-1].why


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
    begin = time.monotonic()
    assert main([*words, "--into", str(into)]) == 0
    assert time.monotonic() - begin < 10.0
    assert (cluster / "cancelled").read_text() == "4711\n"
    assert (into / "slurm" / "array.sh").is_file()


@pytest.fixture(scope="module")
def slurm():
    """Environment of a Slurm on this machine."""
    if why := missing():
        pytest.skip(why)
    # Names of sockets are short, so its folder is not below that of the tests.
    short = tempfile.TemporaryDirectory(prefix="slurm-")
    with short as folder, loopback_slurm(Path(folder) / "s") as env:
        yield env


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
