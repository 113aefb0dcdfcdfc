"""The command line: what it prints, where it writes, and its exit codes."""

import os
import re
import shutil
import signal
import subprocess
import sys

import pytest

from formsim.cli import main
from formsim.results.store import load_summary
from formsim.version import VERSION
from tests.interface.small import short_draw, small_cup, torn_cup

DONE, BAD_INPUT, NOT_CONVERGED, CHECK_FAILED, INTERRUPTED = 0, 1, 2, 3, 130
COMMANDS = (
    "new",
    "check",
    "run",
    "sweep",
    "worker",
    "drawings",
    "necks",
    "tensile",
    "materials",
    "show",
    "report",
)
TOO_TALL = """
[[expect]]
measure = "height"
stage = "draw"
value = 50.0
tolerance = 0.01
source = "invented, wrong on purpose"
"""


def written(folder, text):
    path = folder / "cup.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def result(told_run):
    return told_run


@pytest.fixture
def copied(result, tmp_path):
    """A copy of the good result to spoil."""
    return shutil.copytree(result[0], tmp_path / "result")


def test_a_run_ends_with_its_table(result):
    folder, done = result
    assert done.returncode == DONE, done.stderr
    assert "min t [mm]" in done.stdout
    assert str(folder) in done.stdout
    assert "do not release a tool" in done.stdout
    assert re.search(
        r"draw \(1/2\) .* stroke .* (punch|holder|die) \d+\.\d\d kN .* min t .* left", done.stderr
    )
    assert max(map(len, done.stdout.splitlines())) <= 100


def test_progress_reads_well(result):
    """No negative stroke, no unknown time left, a line every twentieth of a stage."""
    lines = [line for line in result[1].stderr.splitlines() if re.match(r"(draw|dome) \(", line)]
    assert "tools closing" in lines[0] and "left" not in lines[0]
    assert not [line for line in lines if "stroke  -" in line or "?" in line]
    assert 30 <= len(lines) <= 45


def test_a_run_repeats_the_warnings_of_check(result, tmp_path, capsys):
    assert main(["check", str(written(tmp_path, small_cup()))]) == DONE
    warned = re.findall(r"^watch: draw: .*$", capsys.readouterr().out, re.MULTILINE)
    assert warned
    assert all(result[1].stdout.count(line) == 1 for line in warned)
    assert "watch" not in result[1].stderr


def test_a_run_leaves_the_promised_files(result):
    names = {file.relative_to(result[0]).as_posix() for file in result[0].rglob("*.*")}
    at_the_threshold = {f"figures/springback-1-draw.{ending}" for ending in ("svg", "png")}
    assert names - at_the_threshold == {
        "summary.json",
        "case.toml",
        "sheets/1-draw.npz",
        "sheets/2-dome.npz",
        "risk.csv",
        "damage.csv",
        "strain_paths.csv",
        "thickness.csv",
        "forces.csv",
        "sheet.vtkhdf",
        "tools.json",
        "last_state.npz",
        "report.html",
        "figures/part.png",
        *(
            f"figures/{name}.{ending}"
            for name in (
                "section-1-draw",
                "section-2-dome",
                "springback-2-dome",
                "thickness",
                "forces-1-draw",
                "forces-2-dome",
            )
            for ending in ("svg", "png")
        ),
    }


def test_show_prints_the_table_again(result, capsys):
    folder, done = result
    assert main(["show", str(folder)]) == DONE
    table = capsys.readouterr().out
    assert table.split("\n\n")[:3] == done.stdout.split("\n\n")[:3]


def test_new_then_check(tmp_path, capsys):
    assert main(["new", "cup", "--into", str(tmp_path)]) == DONE
    assert main(["check", str(tmp_path / "cup.toml")]) == DONE
    told = capsys.readouterr().out
    assert "2 dome (dome)" in told
    assert "The case can be run." in told
    assert list(tmp_path.iterdir()) == [tmp_path / "cup.toml"]


def test_check_ends_with_the_rules_that_say_it_will_fail(tmp_path, capsys):
    path = tmp_path / "large.toml"
    path.write_text(torn_cup(), encoding="utf-8")
    assert main(["check", str(path)]) == DONE
    told = capsys.readouterr().out
    assert re.search(r"The case can be run; \d handbook rules? says? it will fail", told)


def test_new_overwrites_nothing(tmp_path, capsys):
    path = written(tmp_path, "mine")
    assert main(["new", "cup", "--into", str(tmp_path)]) == BAD_INPUT
    assert "left as it is" in capsys.readouterr().err
    assert path.read_text() == "mine"


def test_check_full_shows_the_defaults(tmp_path, capsys):
    assert main(["check", str(written(tmp_path, small_cup())), "--full"]) == DONE
    told = capsys.readouterr().out
    assert re.search(r"stage\[0\]\.die\.land +[\d.]+ +mm +default", told)
    assert re.search(r"mesh\.columns +90 +given", told)


def test_a_bad_case_is_one(tmp_path, capsys):
    path = written(tmp_path, small_cup(("thickness = 0.28", "thicknes = 0.28")))
    for command in ("check", "run"):
        assert main([command, str(path)]) == BAD_INPUT
        assert 'did you mean "thickness"?' in capsys.readouterr().err


def test_a_missing_case_is_one(tmp_path, capsys):
    assert main(["run", str(tmp_path / "no.toml")]) == BAD_INPUT
    assert "no.toml" in capsys.readouterr().err


def test_no_convergence_is_two_and_a_torn_run_prints_its_table_which_show_repeats(tmp_path, capsys):
    path, folder = written(tmp_path, torn_cup()), tmp_path / "torn"
    assert main(["run", str(path), "--into", str(folder), "--quiet"]) == NOT_CONVERGED
    table, told = capsys.readouterr()
    assert 'stage "draw"' in told
    assert "last_state.npz" in told
    assert not load_summary(folder)["finished"]
    assert table.split("\n\n")[1].startswith("TORN: ")
    assert "min t [mm]" in table and "kept in" in table and "forces.csv" in table
    assert main(["show", str(folder)]) == NOT_CONVERGED
    assert capsys.readouterr().out == table
    assert "  try: smaller blank" in table


def test_a_failed_check_is_three(tmp_path, capsys):
    path, folder = written(tmp_path, small_cup(more=TOO_TALL)), tmp_path / "tall"
    assert main(["run", str(path), "--into", str(folder), "--quiet"]) == CHECK_FAILED
    table = capsys.readouterr().out
    assert re.search(r"^failed +draw: height .* 49.5 to 50.5 mm", table, re.MULTILINE)
    assert table.split("\n\n")[1].startswith("NOT PASSED: 1 of 26 checks failed\n1 expectation")
    assert not load_summary(folder)["passed"]
    assert main(["show", str(folder)]) == CHECK_FAILED


def test_an_existing_result_stays(copied, tmp_path, capsys):
    before = (copied / "summary.json").read_bytes()
    path = written(tmp_path, small_cup())
    assert main(["run", str(path), "--into", str(copied)]) == BAD_INPUT
    assert "--replace" in capsys.readouterr().err
    assert (copied / "summary.json").read_bytes() == before


def test_replace_clears_what_the_new_run_does_not_write(copied, tmp_path):
    note = copied / "note.txt"
    note.write_text("mine")
    path = written(tmp_path, short_draw())
    assert main(["run", str(path), "--into", str(copied), "--replace", "--quiet"]) == DONE
    assert note.read_text() == "mine"
    assert not list((copied / "figures").glob("*"))


def test_replace_removes_no_strange_folder(tmp_path, capsys):
    (tmp_path / "home").mkdir()
    keep = tmp_path / "home" / "letter.txt"
    keep.write_text("mine")
    path = written(tmp_path, small_cup())
    assert main(["run", str(path), "--into", str(keep.parent), "--replace"]) == BAD_INPUT
    assert "nothing is removed" in capsys.readouterr().err
    assert keep.read_text() == "mine"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_read_only_folder_is_one(tmp_path, capsys):
    path = written(tmp_path, small_cup())
    (tmp_path / "shut").mkdir(mode=0o500)
    assert main(["run", str(path), "--into", str(tmp_path / "shut" / "r")]) == BAD_INPUT
    assert "cannot be written" in capsys.readouterr().err


def test_a_file_in_place_of_the_folder_is_one(tmp_path, capsys):
    path = written(tmp_path, small_cup())
    assert main(["run", str(path), "--into", str(path)]) == BAD_INPUT
    assert "is a file" in capsys.readouterr().err


def test_show_without_a_result_is_one(tmp_path, capsys):
    assert main(["show", str(tmp_path)]) == BAD_INPUT
    assert "there is no result" in capsys.readouterr().err


@pytest.mark.parametrize("spoilt", ["{", "[]", '{"format": 999}', ""])
def test_show_of_a_damaged_result_is_one(copied, capsys, spoilt):
    (copied / "summary.json").write_text(spoilt)
    assert main(["show", str(copied)]) == BAD_INPUT
    assert "summary.json" in capsys.readouterr().err


@pytest.mark.parametrize("place", ["before", "after"])
def test_debug_shows_the_traceback(tmp_path, capsys, place):
    missing = str(tmp_path / "no.toml")
    words = ["--debug", "check", missing] if place == "before" else ["check", missing, "--debug"]
    assert main(words) == BAD_INPUT
    assert "Traceback" in capsys.readouterr().err
    assert main(["check", missing]) == BAD_INPUT
    assert "Traceback" not in capsys.readouterr().err


def test_version(capsys):
    assert main(["--version"]) == DONE
    assert capsys.readouterr().out == f"formsim {VERSION}\n"


def test_help_names_every_command(capsys):
    assert main(["--help"]) == DONE
    told = capsys.readouterr().out
    assert all(
        re.search(rf"^ +{name}\b", told, re.MULTILINE) for name in COMMANDS if name != "worker"
    )
    assert "worker" not in told
    assert re.search(r"130\s+stopped", told)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(command, capsys):
    assert main([command, "--help"]) == DONE
    assert capsys.readouterr().out.startswith(f"usage: formsim {command}")


def test_no_command_shows_the_help(capsys):
    assert main([]) == DONE
    assert capsys.readouterr().out.startswith("usage: formsim")


def test_the_materials_are_listed(capsys):
    assert main(["materials"]) == DONE
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 100
    (row,) = [line for line in lines if line.startswith("can-body-demo")]
    assert row.split()[1:4] == ["voce", "300", "1.00"] and "Invented" in row


@pytest.mark.skipif(os.name == "nt", reason="signals of another kind")
def test_interrupt_keeps_what_was_accepted(tmp_path, capsys):
    path, folder = written(tmp_path, small_cup()), tmp_path / "result"
    run = subprocess.Popen(
        [sys.executable, "-m", "formsim", "run", str(path), "--into", str(folder)],
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    for line in run.stderr:
        if "stroke" in line and run.poll() is None:
            run.send_signal(signal.SIGINT)
            break
    table, told = run.communicate()
    assert run.returncode == INTERRUPTED, told
    assert "stopping: writing" in told and "stopped by Ctrl-C" in told
    assert "Traceback" not in told
    files = {"case.toml", "sheet.vtkhdf", "last_state.npz", "summary.json", "forces.csv"}
    files |= {
        "thickness.csv",
        "risk.csv",
        "damage.csv",
        "strain_paths.csv",
        "tools.json",
        "report.html",
    }
    assert {f.name for f in folder.iterdir()} == files
    assert re.search(r'^INTERRUPTED: interrupted in stage "draw" at stroke', table, re.MULTILINE)
    assert "kept in" in table and "thickness.csv" in table
    assert main(["show", str(folder)]) == INTERRUPTED
    assert capsys.readouterr().out == table
