"""Workers as tasks of a Slurm job array; the study folder has to lie where all nodes see it."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from formsim.errors import DependencyError, FormsimError
from formsim.results.files import write_whole, writing
from formsim.study.engine import BEGUN, ENDED, LOST, Event
from formsim.study.folder import StudyFolder
from formsim.study.local import ONE_THREAD

MOST_TASKS = 1000
"""Most tasks of an array; clusters commonly allow 1001. With more variants a task takes several."""

POLL = 2.0
"""Time between two looks at the queue [s]."""

GRACE = 30.0
"""Time a row may take to be seen on this side once its job has gone [s]: file servers lag."""

_FOLDER, _SCRIPT, _TASKS, _ID = "slurm", "array.sh", "tasks.txt", "id.txt"


@dataclass(frozen=True)
class SlurmArray:
    """Tasks of a job array. Partition, account and time limit come from sbatch's own environment.

    Attributes
    ----------
    workers : most tasks at a time
    poll, grace : see ``POLL`` and ``GRACE``
    """

    workers: int
    poll: float = POLL
    grace: float = GRACE

    def solve(self, folder: Path, keys: Sequence[str]) -> Iterator[Event]:
        """Submit an array and follow its rows until all are there or the array has gone."""
        place = _place(folder)
        _cancel(place)
        tasks = dealt(keys)
        study = StudyFolder(folder)
        before = {key: study.row_stamp(key) for key in keys}
        job = _submitted(place, folder, tasks, self.workers)
        try:
            yield from self._followed(study, job, tasks, before)
        finally:
            _cancel(place)

    def _followed(
        self,
        study: StudyFolder,
        job: str,
        tasks: Sequence[Sequence[str]],
        before: dict[str, int],
    ) -> Iterator[Event]:
        open_keys, begun = [key for task in tasks for key in task], set[str]()
        gone: float | None = None
        while open_keys:
            ended = [key for key in open_keys if study.row_stamp(key) != before[key]]
            yield from (Event(key, ENDED) for key in ended)
            open_keys = [key for key in open_keys if key not in ended]
            states = _queue(job)
            for number, task in enumerate(tasks, start=1):
                left = [key for key in task if key in open_keys]
                if left and left[0] not in begun and states.get(number) == "RUNNING":
                    begun.add(left[0])
                    yield Event(left[0], BEGUN)
            gone = None if states else gone or time.monotonic()
            if gone is not None and time.monotonic() - gone > self.grace:
                break
            if open_keys:
                time.sleep(self.poll)
        why = f"its Slurm job {job} ended without a result; see {_FOLDER}/{job}_*.txt of the study"
        yield from (Event(key, LOST, why) for key in open_keys)


def _place(folder: Path) -> Path:
    place = folder.resolve() / _FOLDER
    with writing(place):
        place.mkdir(exist_ok=True)
    return place


def dealt(keys: Sequence[str]) -> list[list[str]]:
    """Keys dealt out to as many tasks as an array may have."""
    count = min(len(keys), MOST_TASKS)
    return [list(keys[first::count]) for first in range(count)]


def _submitted(place: Path, folder: Path, tasks: Sequence[Sequence[str]], workers: int) -> str:
    """Write script and tasks and submit them; the number of the job."""
    write_whole(place / _TASKS, "".join(" ".join(task) + "\n" for task in tasks))
    write_whole(place / _SCRIPT, script(place, folder.resolve(), len(tasks), workers))
    job = _asked("sbatch", "--parsable", str(place / _SCRIPT)).split(";")[0].strip()
    write_whole(place / _ID, job + "\n")
    return job


def script(place: Path, study: Path, tasks: int, workers: int) -> str:
    """Text of the script of an array.

    Parameters
    ----------
    place : folder of script, tasks and what they print
    """
    asked = (
        "job-name=formsim",
        f"array=1-{tasks}%{workers}",
        "ntasks=1",
        "cpus-per-task=1",
        f"output={str(place).replace('%', '%%')}/%A_%a.txt",
    )
    paths = (place / _TASKS, sys.executable, study)
    lines, python, folder = (shlex.quote(str(path)) for path in paths)
    own = f'$(sed -n "${{SLURM_ARRAY_TASK_ID}}p" {lines})'
    return "\n".join(
        [
            "#!/bin/sh",
            *(f"#SBATCH --{one}" for one in asked),
            *(f"export {name}={value}" for name, value in ONE_THREAD.items()),
            f"exec {python} -m formsim worker {folder} {own}\n",
        ]
    )


def _queue(job: str) -> dict[int, str]:
    """State of every task of a job that is still in the queue, by number."""
    try:
        listed = _asked("squeue", "--noheader", "--array", f"--jobs={job}", "--format=%K %T")
    except FormsimError:
        # A job that has left the queue for good is an unknown one.
        return {}
    states = {}
    for line in listed.splitlines():
        number, _, state = line.strip().partition(" ")
        with suppress(ValueError):
            states[int(number)] = state.strip()
    return states


def _cancel(place: Path) -> None:
    """Cancel what this or an earlier call has submitted for the study."""
    path = place / _ID
    if path.is_file():
        with suppress(FormsimError):
            _asked("scancel", path.read_text(encoding="utf-8").strip())
        with writing(path):
            path.unlink()


def _asked(command: str, *words: str) -> str:
    """What a command of Slurm says.

    Raises
    ------
    DependencyError : there is no such command here
    FormsimError : it failed, with what it said
    """
    program = shutil.which(command)
    if program is None:
        message = f"there is no {command} here, so no Slurm job can be submitted"
        raise DependencyError(message, hint="call formsim on a login node, or leave out --on slurm")
    done = subprocess.run([program, *words], capture_output=True, text=True, check=False)
    if done.returncode:
        said = " ".join(done.stderr.split()) or f"exit code {done.returncode}"
        message = f"{command} failed: {said}"
        hint = "partition, account and time limit go by SBATCH_PARTITION, SBATCH_ACCOUNT and"
        raise FormsimError(message, hint=f"{hint} SBATCH_TIMELIMIT of the environment")
    return done.stdout
