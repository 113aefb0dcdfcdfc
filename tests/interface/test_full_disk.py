"""A study on a disk that runs full: a small file system of its own, where one may be mounted."""

import csv
import os
import subprocess
import sys

import pytest

from tests.interface.small import small_cup

BAD_INPUT, DONE = 1, 0
COUNT = 5


@pytest.fixture
def disk(tmp_path):
    """An empty file system of 600 kB."""
    place = tmp_path / "disk"
    place.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(place)]
    if os.geteuid() != 0 or subprocess.run(words, capture_output=True, check=False).returncode:
        pytest.skip("no file system may be mounted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.mark.slow
def test_a_study_on_a_full_disk_says_so_and_goes_on_when_there_is_room(disk, tmp_path):
    case = tmp_path / "cup.toml"
    case.write_text(small_cup(), encoding="utf-8")
    into = disk / "study"
    words = [sys.executable, "-m", "formsim", "sweep", str(case), "--into", str(into), "--quiet"]
    words += ["--vary", "sheet.thickness = 0.27:0.29:0.005", "--workers", "1"]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == BAD_INPUT, done.stdout + done.stderr
    # Before them stands that kernels are compiled, where this is the first run on the machine.
    said, hint = done.stderr.splitlines()[-2:]
    assert said.startswith(f"formsim: no room is left on the disk of {into}, where ")
    assert "a variant takes about" in said and "MB are free" in said
    assert "try: free room there and repeat the command: what is solved stays" in hint
    assert done.stderr.count("no room is left") == 1
    with (into / "table.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    solved = list((into / "rows").glob("*.json"))
    assert len(rows) == COUNT and 0 < len(solved) < COUNT
    assert not list((into / "results").glob(".*"))
    stamps = {path: path.stat().st_mtime_ns for path in solved}
    subprocess.run(["mount", "-o", "remount,size=64m", str(disk)], check=True)
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == DONE, done.stderr
    assert f"{COUNT} done" in done.stdout
    assert {path: path.stat().st_mtime_ns for path in solved} == stamps
