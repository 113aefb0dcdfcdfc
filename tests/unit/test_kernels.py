"""Where the machine code of kernels is kept."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import formsim
from formsim.stages import warmup

USE = """
import numpy as np
from formsim.geometry import distance
from formsim.kernels import kept_kernel
row, pieces = np.zeros(6), np.zeros((0, 8))
print(kept_kernel(distance.closest), distance.closest(pieces, 0, 0, 1.0, 1.0, row))
"""


def kept(package: Path, home: Path, monkeypatch) -> tuple[str, set[str]]:
    """What a process says that uses a kernel, and the folders of machine code after it."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(home))
    monkeypatch.setenv("PYTHONPATH", str(package))
    command = [sys.executable, "-c", USE]
    done = subprocess.run(command, cwd=package, capture_output=True, text=True, check=True)
    return done.stdout.split()[0], {path.name for path in (home / "formsim/kernels").iterdir()}


@pytest.mark.slow
def test_a_change_in_any_kernel_file_makes_all_code_new(tmp_path, monkeypatch):
    """A kernel holds the code of those it calls, whichever file they stand in."""
    package, home = tmp_path / "package", tmp_path / "home"
    ignored = shutil.ignore_patterns("__pycache__")
    shutil.copytree(Path(formsim.__file__).parent, package / "formsim", ignore=ignored)
    assert kept(package, home, monkeypatch)[0] == "False"
    found, first = kept(package, home, monkeypatch)
    assert found == "True"
    assert all(re.fullmatch("[0-9a-f]{16}", name) for name in first)
    with (package / "formsim/solver/curves.py").open("a", encoding="utf-8") as file:
        file.write("\nCHANGED = True\n")
    found, second = kept(package, home, monkeypatch)
    assert found == "False"
    assert len(second) == len(first) + 1


PRESS = """
import numpy as np
from formsim.stages import warmup
if {child}:
    warmup.compile_kernels()
seen = []
march = warmup.march
def watched(*given):
    for state, rows in march(*given):
        seen.append(state.u.tobytes())
        yield state, rows
warmup.march = watched
warmup._run_all()
import hashlib
print(hashlib.sha256(b"".join(seen)).hexdigest(), warmup.is_compiled())
"""


def pressed(home: Path, monkeypatch, child: bool) -> str:
    monkeypatch.setenv("XDG_CACHE_HOME", str(home))
    command = [sys.executable, "-c", PRESS.replace("{child}", str(child))]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.mark.slow
def test_the_run_that_has_kernels_compiled_is_the_run_that_reads_them(tmp_path, monkeypatch):
    """To the last bit: the run itself only reads."""
    first = pressed(tmp_path, monkeypatch, child=True)
    assert first.endswith(" True\n")
    assert pressed(tmp_path, monkeypatch, child=False) == first


def test_a_child_that_cannot_be_started_fails_no_run(monkeypatch):
    tried = []
    monkeypatch.setattr(warmup, "is_compiled", lambda: bool(tried.append(1)))
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    warmup.compile_kernels()
    assert tried
