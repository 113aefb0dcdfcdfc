"""Where the machine code of kernels is kept."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import formsim

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
