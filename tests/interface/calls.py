"""Calls of ``formsim sweep`` as processes of their own, to be killed, stopped and resumed."""

import csv
import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

PATIENCE = 120.0


def sweep_words(case, *more):
    """The command of a study of a case, in the folder ``study`` beside it."""
    words = [sys.executable, "-m", "formsim", "sweep", str(case), "--into"]
    return [*words, str(case.parent / "study"), *more]


def started(case, *more, env=None):
    """A call that runs."""
    return subprocess.Popen(
        sweep_words(case, *more),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=env,
        # A shell in the background has its children ignore Ctrl-C.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )


def ended(process):
    """How a call ended: its code, and all it said."""
    told, faults = process.communicate(timeout=300)
    return process.returncode, told + faults


def rows(case):
    """Rows of the table of a study."""
    with (case.parent / "study" / "table.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def states(case):
    """What became of every variant."""
    return [row["status"] for row in rows(case)]


def whole(case, count):
    """Whether all variants are done, and nothing half made is left."""
    folder = case.parent / "study"
    return states(case) == ["done"] * count and not list((folder / "results").glob(".*"))


def stamps(case):
    """When the row of every solved variant was written."""
    found = (case.parent / "study" / "rows").glob("*.json")
    return {path: path.stat().st_mtime_ns for path in found}


def wait_for(found, seconds=PATIENCE):
    """Whatever is found, once it is."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if result := found():
            return result
        time.sleep(0.05)
    pytest.fail("waited too long")


def words_of(pid):
    """Words by which a process was called; none where it has gone."""
    with suppress(OSError):
        return Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    return []


def is_worker(pid):
    """Whether a process solves variants."""
    return b"worker" in words_of(pid)


def workers_in(case):
    """Process ids of the fed workers of a study, whoever feeds them."""
    folder, found = str((case.parent / "study").resolve()).encode(), []
    for place in Path("/proc").glob("[0-9]*"):
        words = words_of(place.name)
        if b"formsim" in words and b"worker" in words and folder in words:
            found += [int(place.name)] * (b"--share" not in words)
    return found


def kill(pid):
    """End a process as when memory runs out."""
    with suppress(ProcessLookupError):
        os.kill(pid, signal.SIGKILL)
