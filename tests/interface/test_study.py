"""Studies with real workers: what they print and leave, killed workers, Ctrl-C and going on."""

import re
import signal
import subprocess
from contextlib import suppress
from pathlib import Path

import pytest

from formsim.cli import main
from formsim.pipeline.run import Keep, run_case
from formsim.results.store import kept_files, load_summary
from formsim.study.worker import KEPT
from tests.interface.calls import (
    is_worker,
    kill,
    rows,
    stamps,
    started,
    states,
    sweep_words,
    wait_for,
)

pytestmark = pytest.mark.slow

DONE, BAD_INPUT, INTERRUPTED = 0, 1, 130


def command(case, *more):
    return sweep_words(case, "--workers", "1", *more)


def workers_of(process):
    """Process ids of the workers of a call, whose threads are their parents."""
    found = []
    for task in Path(f"/proc/{process.pid}/task").glob("*/children"):
        with suppress(OSError):
            found += [int(word) for word in task.read_text().split()]
    return [pid for pid in found if is_worker(pid)]


def test_a_study_tells_every_variant(case):
    """A good one, one that tears, one that cannot be run; the same numbers as a run by itself."""
    vary = ("--vary", "sheet.blank_diameter = [118.0, 200.0, -1.0]")
    done = subprocess.run(command(case, *vary), capture_output=True, text=True, check=False)
    assert done.returncode == DONE, done.stderr
    good, torn, refused = rows(case)
    assert [row["status"] for row in (good, torn, refused)] == ["done", "torn", "refused"]
    assert [row["verdict"] for row in (good, torn, refused)] == ["good", "reject", ""]
    assert 'stage "draw": the sheet has torn' in torn["reason"]
    assert "cannot be negative" in refused["reason"]
    assert "do not release a tool" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 100
    result = case.parent / "study" / "results" / good["key"]
    assert kept_files(result) == [
        "summary.json",
        "case.toml",
        "thickness.csv",
        "forces.csv",
        "risk.csv",
        "damage.csv",
        "strain_paths.csv",
    ]
    from formsim.case.load import load_case

    alone = run_case(load_case(case)).summary["stages"]
    kept = load_summary(result)["stages"]
    for own, other in zip(kept, alone, strict=True):
        assert own["min_thickness"] == pytest.approx(other["min_thickness"], rel=1e-9)


def test_a_killed_worker_costs_one_more_try(case):
    """It dies within a variant, whose half-made result goes too."""
    results = case.parent / "study" / "results"
    process = started(case, "--workers", "1", "--vary", "sheet.thickness = [0.27, 0.28]")
    wait_for(lambda: list(results.glob(".*/*")))
    kill(workers_of(process)[0])
    _, told = process.communicate(timeout=300)
    assert process.returncode == DONE, told
    assert states(case) == ["done", "done"] and not list(results.glob(".*"))


def test_a_variant_that_takes_too_long_is_stopped_and_costs_no_other(case):
    """A mesh far too fine for the time; the same command with more time goes on from there."""
    vary = ("--vary", "mesh.columns = [90, 1500, 100]")
    done = subprocess.run(
        command(case, *vary, "--longest", "8 s"), capture_output=True, text=True, check=False
    )
    assert done.returncode == DONE, done.stderr
    states = rows(case)
    assert [row["status"] for row in states] == ["done", "not converged", "done"]
    said = r'stopped after 8 s in stage "\w+", at stroke \d+\.\d+ mm: longer than it may take'
    assert re.fullmatch(said, states[1]["reason"])
    assert not list((case.parent / "study" / "results").glob(".*"))
    words = command(case, *vary, "--longest", "60 min", "--plan")
    told = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    assert "2 variants solved already; 1 to solve" in " ".join(told.split())


def test_ctrl_c_ends_the_workers_and_the_same_command_goes_on(case):
    count = 8
    vary = ("--vary", "sheet.thickness = 0.272:0.286:0.002")
    process = started(case, "--workers", "1", *vary)
    wait_for(lambda: stamps(case))
    worker = wait_for(lambda: workers_of(process))[0]
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=60)
    assert process.returncode == INTERRUPTED
    assert "the same command goes on" in told
    wait_for(lambda: not is_worker(worker))
    first = stamps(case)
    assert states(case).count("done") == len(first) < count
    assert states(case).count("waiting") == count - len(first)
    assert subprocess.run(command(case, *vary), capture_output=True, check=False).returncode == DONE
    assert states(case) == ["done"] * count
    assert {path: stamps(case)[path] for path in first} == first


def test_a_killed_call_takes_its_worker_along_and_the_same_command_goes_on(case):
    vary = ("--vary", "sheet.thickness = 0.27:0.276:0.002")
    process = started(case, "--workers", "1", *vary)
    wait_for(lambda: stamps(case))
    worker = wait_for(lambda: workers_of(process))[0]
    process.kill()
    process.communicate()
    wait_for(lambda: not is_worker(worker), 20.0)
    first = stamps(case)
    assert subprocess.run(command(case, *vary), capture_output=True, check=False).returncode == DONE
    assert states(case) == ["done"] * 4
    assert {path: stamps(case)[path] for path in first} == first
    assert not list((case.parent / "study" / "results").glob(".*"))


def test_history_is_kept_on_request(case):
    more = ("--vary", "sheet.thickness = [0.28]", "--keep", "history")
    subprocess.run(command(case, *more), capture_output=True, check=True)
    result = case.parent / "study" / "results" / rows(case)[0]["key"]
    assert {"sheet.vtkhdf", "last_state.npz"} <= set(kept_files(result))
    assert not (result / "figures").exists()


def test_only_the_summary_is_kept_on_request(case):
    more = ("--vary", "sheet.thickness = [0.28]", "--keep", "summary")
    subprocess.run(command(case, *more), capture_output=True, check=True)
    result = case.parent / "study" / "results" / rows(case)[0]["key"]
    assert kept_files(result) == ["summary.json", "case.toml"]


def test_the_kept_study_can_be_called_itself(case, capsys):
    vary = ("--vary", "sheet.thickness = [0.28]")
    subprocess.run(command(case, *vary), capture_output=True, check=True)
    folder = case.parent / "study"
    assert main(["sweep", str(folder / "study.toml"), "--into", str(folder), "--plan"]) == DONE
    assert "nothing is left to solve" in capsys.readouterr().out
    assert main(["sweep", str(folder / "study.toml"), "--into", str(folder)]) == DONE


def test_nothing_a_study_keeps_is_a_picture():
    assert KEPT["history"] == Keep(pictures=False)
    assert not any(one.pictures for one in KEPT.values())


def test_the_plan_solves_nothing(case, capsys):
    vary = ["--vary", "stage.draw.holder.force = 6:9:1 kN", "--vary", "sheet.thickness=[0.28,9.0]"]
    into = case.parent / "study"
    assert main(["sweep", str(case), *vary, "--plan", "--into", str(into)]) == DONE
    told = capsys.readouterr().out
    assert "8 variants" in told and "refused: 4 variants" in told
    assert "4 to solve" in told and "GB of memory" in told
    assert not into.exists()


def test_measures_may_be_chosen(case, capsys):
    words = ["sweep", str(case), "--vary", "sheet.thickness = [0.28]", "--plan"]
    chosen = ["--measure", "draw.min_thickness", "--measure", "height"]
    assert main([*words, *chosen]) == DONE
    assert "measures: draw.min_thickness, dome.height\n" in capsys.readouterr().out
    assert main([*words, "--measure", "draw.min_thicknes"]) == BAD_INPUT
    assert 'did you mean "min_thickness"?' in capsys.readouterr().err
    assert main([*words, "--measure", "drow.height"]) == BAD_INPUT
    assert "its stages are draw, dome" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ([], "nothing varies"),
        (["--vary", "sheet.thickness"], "expected KEY = VALUES"),
        (["--vary", "sheet.thickness = [0.28"], "cannot read the values"),
        (["--vary", "sheet.thikness = [0.28]"], 'did you mean "thickness"?'),
        (["--vary", "sheet.thickness = [0.28]", "--workers", "0"], "from 1 to 10000"),
        (["--vary", "sheet.thickness = [0.28]", "--design", "net"], "expected one of grid"),
    ],
)
def test_wrong_calls_say_what_to_write(case, capsys, more, word):
    assert main(["sweep", str(case), *more, "--plan"]) == BAD_INPUT
    assert word in capsys.readouterr().err
