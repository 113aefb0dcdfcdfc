"""Workers as tasks of a Slurm job array; the study folder has to lie where all nodes see it."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from formsim.errors import DependencyError, FormsimError
from formsim.results.files import write_whole, writing
from formsim.study.engine import BEGUN, ENDED, LOST, Event
from formsim.study.fed import ONE_THREAD
from formsim.study.folder import StudyFolder
from formsim.study.share import WAITING, Share

MOST_TASKS = 1000
"""Most tasks of an array; clusters commonly allow 1001."""

POLL = 2.0
"""Time between two looks at the queue [s]."""

OUTAGE = 900.0
"""Time a controller may not answer while its tasks go on [s], as when it is begun again."""

GRACE = 30.0
"""Time a row may take to be seen on this side once its job has gone [s]: file servers lag."""

_FOLDER, _SCRIPT, _ID = "slurm", "array.sh", "id.txt"
_UNKNOWN = "Invalid job id"


@dataclass(frozen=True)
class SlurmArray:
    """Tasks of a job array, each of which takes one variant after the other.

    Partition, account and time limit of a task come from sbatch's own environment.

    Attributes
    ----------
    workers : most tasks at a time
    poll, grace, outage : see ``POLL``, ``GRACE`` and ``OUTAGE``
    """

    workers: int
    poll: float = POLL
    grace: float = GRACE
    outage: float = OUTAGE

    def solve(self, folder: Path, keys: Sequence[str]) -> Iterator[Event]:
        """Submit arrays and follow their rows until all are there.

        An array that a time limit has ended leaves variants nobody has begun: these get another.
        """
        place = _place(folder)
        _cancel(place)
        study, share, left = StudyFolder(folder), Share(place), list(keys)
        while left:
            share.put(left)
            before = {key: study.row_stamp(key) for key in left}
            job = _submitted(place, folder, min(len(left), self.workers, MOST_TASKS))
            try:
                never = yield from self._followed(study, share, job, before)
            finally:
                _cancel(place)
            if len(never) == len(left):
                why = f"no task of Slurm job {job} has begun it; {_seen(job)}"
                yield from (Event(key, LOST, why) for key in left)
                return
            left = never

    def _followed(
        self, study: StudyFolder, share: Share, job: str, before: Mapping[str, int]
    ) -> Generator[Event, None, list[str]]:
        """Events of one array; at its end those variants that no task has begun."""
        left, begun = list(before), set[str]()
        gone: float | None = None
        seen = time.monotonic()
        while left:
            there = True
            try:
                there, seen = _is_queued(job), time.monotonic()
            except FormsimError:
                if time.monotonic() - seen > self.outage:
                    raise
            taken = share.taken()
            for key in left:
                if key in taken and key not in begun:
                    begun.add(key)
                    yield Event(key, BEGUN)
            ended = {key for key in left if study.row_stamp(key) != before[key]}
            lost = {key: told for key in left if (told := taken.get(key)) and key not in ended}
            yield from (Event(key, ENDED) for key in left if key in ended)
            yield from lost.values()
            left = [key for key in left if key not in ended and key not in lost]
            gone = None if there else gone or time.monotonic()
            if gone is not None and time.monotonic() - gone > self.grace:
                break
            if left:
                time.sleep(self.poll)
        why = f"its Slurm job {job} ended without a result; {_seen(job)}"
        yield from (Event(key, LOST, why) for key in left if key in begun)
        return [key for key in left if key not in begun]


def _seen(job: str) -> str:
    return f"see {_FOLDER}/{job}_*.txt of the study"


def _place(folder: Path) -> Path:
    place = folder.resolve() / _FOLDER
    with writing(place):
        place.mkdir(exist_ok=True)
    return place


def _submitted(place: Path, folder: Path, tasks: int) -> str:
    """Write the script and submit it; the number of the job."""
    write_whole(place / _SCRIPT, script(place, folder.resolve(), tasks))
    job = _asked("sbatch", "--parsable", str(place / _SCRIPT)).split(";")[0].strip()
    write_whole(place / _ID, job + "\n")
    return job


def script(place: Path, study: Path, tasks: int) -> str:
    """Text of the script of an array: tasks that find nothing left end at once.

    Parameters
    ----------
    place : folder of script, shared variants and what tasks print
    """
    # A task of a lost node would wait two minutes and more to find nothing left.
    asked = (
        "job-name=formsim",
        "no-requeue",
        f"array=1-{tasks}",
        "ntasks=1",
        "cpus-per-task=1",
        f"output={str(place).replace('%', '%%')}/%A_%a.txt",
    )
    paths = (place / WAITING, sys.executable, study, place)
    waiting, python, folder, share = (shlex.quote(str(path)) for path in paths)
    return "\n".join(
        [
            "#!/bin/sh",
            *(f"#SBATCH --{one}" for one in asked),
            *(f"export {name}={value}" for name, value in ONE_THREAD.items()),
            f'[ -n "$(ls {waiting})" ] || exit 0',
            f"exec {python} -m formsim worker {folder} --share {share}\n",
        ]
    )


def _is_queued(job: str) -> bool:
    """Whether a task of a job still waits or runs.

    Raises
    ------
    FormsimError : the controller does not answer
    """
    try:
        return bool(_asked("squeue", "--noheader", f"--jobs={job}").strip())
    except FormsimError as error:
        # A job that has left the queue for good is an unknown one.
        if _UNKNOWN in str(error):
            return False
        raise


def _cancel(place: Path) -> None:
    """Cancel what this or an earlier call has submitted; what cannot be now is at the next call."""
    path = place / _ID
    if not path.is_file():
        return
    try:
        _asked("scancel", path.read_text(encoding="utf-8").strip())
    except FormsimError as error:
        if _UNKNOWN not in str(error):
            return
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
