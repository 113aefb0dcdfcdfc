"""What several files of these tests need: a Slurm, and runs made once, read, never changed."""

import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from formsim.case.load import parse_case
from formsim.errors import ConvergenceError
from formsim.pipeline.run import run_case
from tests.interface.small import small_cup, torn_cup
from tests.loopback_slurm import loopback_slurm, missing


@pytest.fixture(scope="module")
def slurm():
    """Environment of a Slurm on this machine."""
    if why := missing():
        pytest.skip(why)
    # Names of sockets are short, so its folder is not below that of the tests.
    short = tempfile.TemporaryDirectory(prefix="slurm-")
    with short as folder, loopback_slurm(Path(folder) / "s") as env:
        yield env


@pytest.fixture
def case(tmp_path):
    """File of the small cup, in a folder of its own."""
    path = tmp_path / "cup.toml"
    path.write_text(small_cup(), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def small_run(tmp_path_factory):
    """The small cup as it is, kept in the folder ``cup``."""
    folder, text = tmp_path_factory.mktemp("small") / "cup", small_cup()
    return run_case(parse_case(text, "cup.toml"), folder, text=text)


@pytest.fixture(scope="session")
def told_run(tmp_path_factory):
    """Folder of the small cup with all its figures, by the command line, and what was printed."""
    folder = tmp_path_factory.mktemp("told")
    case = folder / "cup.toml"
    case.write_text(small_cup(output="\n[output]\nframes = 4\n"), encoding="utf-8")
    command = [sys.executable, "-m", "formsim", "run", str(case), "--into", str(folder / "result")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return folder / "result", done


@pytest.fixture(scope="session")
def torn_run(tmp_path_factory):
    """Error and result folder of a cup drawn far beyond the limiting ratio."""
    folder, text = tmp_path_factory.mktemp("torn") / "torn", torn_cup()
    with pytest.raises(ConvergenceError) as caught:
        run_case(parse_case(text, "torn.toml"), folder, text=text)
    return caught.value, folder
