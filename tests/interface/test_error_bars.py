"""formsim run CASE --error-bars: what it leaves, what it says, and what it never loses."""

import csv
import json
import re

import pytest

from formsim.case.load import parse_case
from formsim.cli import main
from formsim.errors import ConvergenceError
from formsim.pipeline import error_bars as family
from formsim.pipeline import making
from formsim.pipeline.error_bars import variants, with_error_bars
from formsim.pipeline.run import run_case
from formsim.results.store import load_summary
from tests.interface.small import PLAIN_OUTPUT, torn_cup

DONE, INTERRUPTED = 0, 130
BULGE = f"""
title = "Small bulge"
source = "invented"

[sheet]
material = "can-body-demo"
thickness = 1.0
blank_diameter = 60.0

[[stage]]
kind = "bulge"
diameter = 60.0
height = 8.0

[limits]
max_thinning_percent = 14

[mesh]
columns = COLUMNS
{PLAIN_OUTPUT}
"""
ONE = """
title = "The same, pressed again"
source = "invented"
start = { kind = "result", result = "cup" }

[[stage]]
kind = "trim"
height = 27.0

[[stage]]
kind = "pressurise"
until = "2 bar"
"""


def bulge(columns=32):
    return BULGE.replace("COLUMNS", str(columns))


def written(folder, text):
    path = folder / "bulge.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def barred(tmp_path_factory):
    """Folders of the same case with and without bars."""
    folder = tmp_path_factory.mktemp("bars")
    path = written(folder, bulge())
    plain, bars = folder / "plain", folder / "bars"
    assert main(["run", str(path), "--into", str(plain), "--quiet"]) == DONE
    assert main(["run", str(path), "--into", str(bars), "--quiet", "--error-bars"]) == DONE
    return plain, bars


def test_the_result_itself_stays_what_it_is(barred):
    plain, bars = barred
    names = [{f.relative_to(top).as_posix() for f in top.rglob("*.*")} for top in barred]
    assert names[1] - names[0] == {"error_bars.csv"}
    assert names[0] <= names[1]
    for name in ("thickness.csv", "forces.csv", "risk.csv", "case.toml"):
        assert (plain / name).read_bytes() == (bars / name).read_bytes()
    without, having = load_summary(plain), load_summary(bars)
    assert without["error_bars"] is None
    assert list(without) == list(having)
    assert without["checks"] == having["checks"]


def test_the_summary_holds_every_run_and_number(barred):
    bars = load_summary(barred[1])["error_bars"]
    assert bars["ended"] == "finished"
    runs = {run["role"]: run["columns"] for run in bars["runs"]}
    assert runs == {"fine": 32, "medium": 23, "coarse": 16, "halved increments": 32}
    assert {run["elements"] for run in bars["runs"]} == {64, 46, 32}
    rows = {row["measure"]: row for row in bars["measures"]}
    assert {"smallest thickness", "largest thinning", "height", "peak pressure", "work"} == set(
        rows
    )
    assert rows["largest thinning"]["high"] == 14.0
    for row in rows.values():
        assert row["uncertainty"] >= max(row["mesh_uncertainty"], row["step_uncertainty"])


def test_the_table_the_file_and_the_page_say_the_same(barred, capsys):
    assert main(["show", str(barred[1])]) == DONE
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 100
    assert re.search(r"^bulge +peak pressure +\d+\.\d+ +\d", told, re.MULTILINE)
    assert "runs: 32 x 2 elements (the case)" in told and "error_bars.csv" in told
    lines = (barred[1] / "error_bars.csv").read_text().splitlines()
    rows = {row["measure"]: row for row in csv.DictReader(lines[1:])}
    summary = load_summary(barred[1])["error_bars"]["measures"]
    for row in summary:
        assert float(rows[row["measure"]]["uncertainty"]) == pytest.approx(row["uncertainty"])
        assert rows[row["measure"]]["columns_coarse"] == "16"
    page = (barred[1] / "report.html").read_text(encoding="utf-8")
    assert "Error bars for mesh and increments" in page and "peak pressure" in page
    without = (barred[0] / "report.html").read_text(encoding="utf-8")
    assert "--error-bars works them out" in without


def test_replace_removes_the_table_of_an_earlier_run(barred, tmp_path):
    path = written(tmp_path, bulge(24))
    folder = tmp_path / "again"
    arguments = ["run", str(path), "--into", str(folder), "--quiet"]
    assert main([*arguments, "--error-bars"]) == DONE
    assert main([*arguments, "--replace"]) == DONE
    assert not (folder / "error_bars.csv").exists()


def test_progress_names_every_run(tmp_path, capsys):
    path = written(tmp_path, bulge())
    assert main(["run", str(path), "--into", str(tmp_path / "r"), "--error-bars"]) == DONE
    said = [line for line in capsys.readouterr().err.splitlines() if line.startswith("error bars")]
    assert said == [
        "error bars: 16 columns",
        "error bars: 23 columns",
        "error bars: 32 columns, halved increments",
    ]


def test_a_mesh_that_would_be_too_coarse_is_told_and_the_rest_goes_on(tmp_path, capsys):
    path, folder = written(tmp_path, bulge(13)), tmp_path / "r"
    assert main(["run", str(path), "--into", str(folder), "--quiet", "--error-bars"]) == DONE
    told = capsys.readouterr().out
    assert (
        "6 x 2 elements gave no numbers of all stages: 6 columns are too few, a mesh has 8 at least"
        in told
    )
    bars = load_summary(folder)["error_bars"]
    assert {row["kind"] for row in bars["measures"]} == {"not enough"}
    assert all(row["uncertainty"] is not None for row in bars["measures"])


@pytest.mark.parametrize("error", [ConvergenceError("no equilibrium"), ValueError("odd mesh")])
def test_a_run_that_fails_is_told_and_the_rest_goes_on(monkeypatch, error):
    run = run_case(parse_case(bulge(), "bulge.toml"))
    given = family.attempt

    def failing(case, **how):
        if case.mesh.columns == 23:
            raise error
        return given(case, **how)

    monkeypatch.setattr(family, "attempt", failing)
    bars = with_error_bars(run).summary["error_bars"]
    failures = {one["role"]: one["failure"] for one in bars["runs"]}
    assert str(error) in failures["medium"]
    assert not any(failures[role] for role in ("fine", "coarse", "halved increments"))
    assert {row["kind"] for row in bars["measures"]} == {"not enough"}


@pytest.mark.slow
def test_a_run_that_stops_in_a_later_stage_gives_its_first_stages(monkeypatch, small_run):
    given = making.form

    def failing(setup, marks, *, exact):
        if setup.plan.frame == "punch" and len(setup.problem.body.mesh.t[0]) == 2 * 45:
            message = "no equilibrium"
            raise ConvergenceError(message)
        yield from given(setup, marks, exact=exact)

    monkeypatch.setattr(making, "form", failing)
    bars = with_error_bars(small_run).summary["error_bars"]
    coarse = next(one for one in bars["runs"] if one["role"] == "coarse")
    assert 'stage "dome"' in coarse["failure"] and coarse["increments"] is None
    of_stage = {(row["stage"], row["measure"]): row for row in bars["measures"]}
    assert of_stage["draw", "smallest thickness"]["coarse"] is not None
    assert of_stage["dome", "smallest thickness"]["coarse"] is None
    assert of_stage["dome", "smallest thickness"]["kind"] == "not enough"


def test_ctrl_c_in_the_family_keeps_the_run_and_what_was_made(monkeypatch, tmp_path, capsys):
    given = family.attempt

    def stopped(case, **how):
        if case.mesh.columns == 23:
            raise KeyboardInterrupt
        return given(case, **how)

    monkeypatch.setattr(family, "attempt", stopped)
    path, folder = written(tmp_path, bulge()), tmp_path / "r"
    code = main(["run", str(path), "--into", str(folder), "--quiet", "--error-bars"])
    assert code == INTERRUPTED
    told = capsys.readouterr().out
    assert "error bars: interrupted" in told
    summary = load_summary(folder)
    assert summary["finished"] and summary["passed"]
    bars = summary["error_bars"]
    assert bars["ended"] == "interrupted"
    assert [run["role"] for run in bars["runs"]] == ["fine", "coarse"]
    assert main(["show", str(folder)]) == DONE


def test_a_run_that_tears_has_no_bars_and_says_so(tmp_path, capsys):
    path, folder = written(tmp_path, torn_cup()), tmp_path / "torn"
    assert main(["run", str(path), "--into", str(folder), "--quiet", "--error-bars"]) == 2
    assert "no error bars: the run itself did not finish" in capsys.readouterr().err
    assert load_summary(folder)["error_bars"] is None


@pytest.mark.slow
def test_a_case_from_a_result_keeps_its_mesh(small_run):
    run = run_case(parse_case(ONE + PLAIN_OUTPUT, "next.toml", small_run.folder.parent))
    bars = with_error_bars(run).summary["error_bars"]
    runs = {one["role"]: one for one in bars["runs"]}
    for role in ("coarse", "medium"):
        assert runs[role]["failure"] == "the case starts from a result and keeps its mesh"
    assert runs["fine"]["columns"] == runs["halved increments"]["columns"] == 90
    for row in bars["measures"]:
        assert (row["kind"], row["mesh_uncertainty"]) == ("not enough", None)
        assert row["uncertainty"] is None
    assert any(row["step_uncertainty"] for row in bars["measures"])


def test_columns_given_and_worked_out_make_the_same_family(tmp_path):
    text = bulge().replace("[mesh]\ncolumns = 32\n", "")
    case = parse_case(text, "bulge.toml")
    assert case.mesh.columns is None
    assert [one.columns for one in variants(case, 60)] == [30, 42, None]


def test_a_run_without_a_folder_carries_its_bars():
    run = run_case(parse_case(bulge(16), "bulge.toml"))
    done = with_error_bars(run)
    assert run.summary["error_bars"] is None
    assert json.dumps(done.summary["error_bars"])
    assert done.line is run.line
