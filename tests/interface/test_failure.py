"""A run that is given up: what the error says and what is kept."""

import re
from dataclasses import replace

import numpy as np
import pytest

from formsim import cli
from formsim.case.load import parse_case
from formsim.errors import ConvergenceError, StepFloorError
from formsim.pipeline import making
from formsim.pipeline import run as run_module
from formsim.pipeline.run import run_case
from formsim.report.table import result_text
from formsim.results import store
from formsim.stages import run as stage_run
from formsim.stages.sheet import make_sheet
from tests.interface.small import short_draw, small_cup, torn_cup


@pytest.fixture(scope="module")
def stuck(tmp_path_factory):
    """Error and result folder of the cup that tears, when nothing stops the torn sheet."""
    folder = tmp_path_factory.mktemp("failure") / "stuck"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stage_run, "torn_column", lambda *_: None)
        with pytest.raises(ConvergenceError) as caught:
            run_case(parse_case(torn_cup(), "torn.toml"), folder, text=torn_cup())
    return caught.value, folder


def test_a_torn_sheet_stops_the_stage(torn_run):
    error, folder = torn_run
    assert (error.exit_code, error.reason) == (2, "torn")
    place = (
        r"the sheet has torn in the (wall|nose), stroke \d+\.\d+ mm; the column that tore,"
        r" at R = 3\d\.\d mm"
    )
    assert re.search(f'stage "draw": {place}', str(error))
    assert "smaller blank" in error.hint
    assert 0.3 < error.facts["left"] < 0.6
    summary = store.load_summary(folder)
    assert (summary["ended"], summary["hint"]) == ("torn", error.hint)
    assert not summary["stages"][0]["complete"]
    assert summary["stages"][0]["stroke"] < 12.0


def test_a_torn_sheet_reads_torn(torn_run):
    lines = result_text(store.load_summary(torn_run[1])).splitlines()
    assert lines[2].startswith('TORN: stage "draw"')
    assert any(line.startswith("  try: smaller blank") for line in lines)


def test_a_torn_sheet_is_as_thin_as_the_table_says(torn_run):
    summary = store.load_summary(torn_run[1])
    row, told = summary["stages"][0], summary["failure"]
    assert "% of the thickness it had before the stage, mean by volume" in told
    assert f"the least is {row['min_thickness']:.4f} mm at R = " in told
    assert f"{row['max_thinning_percent']:.0f} % thinner than the sheet at first" in told


def test_lines_of_a_torn_result_are_short(torn_run):
    lines = result_text(store.load_summary(torn_run[1])).splitlines()
    assert max(map(len, lines)) <= 100


def test_the_last_state_of_a_stopped_stage_is_its_last_frame(torn_run):
    """Its time is that of the end of a stroke."""
    import pyvista

    last = store.load_last_state(torn_run[1]).state
    file = pyvista.get_reader(str(torn_run[1] / "sheet.vtkhdf")).reader
    file.UpdateInformation()
    file.SetStep(file.GetNumberOfSteps() - 1)
    file.Update()
    sheet = pyvista.wrap(file.GetOutput())
    assert np.allclose(sheet["displacement"][:, :2].ravel(), last.u)
    assert file.GetTimeValue() == pytest.approx(0.9)
    assert not list(torn_run[1].glob("*.part"))


@pytest.mark.parametrize(
    ("left", "torn"),
    [
        ([1.0, 0.9, 0.8, 0.7, 0.61], None),
        ([0.95, 0.9, 0.55, 0.9, 0.95], 2),
        ([0.7, 0.65, 0.55, 0.65, 0.7], None),
        ([0.9, 0.55, 0.5, 0.45, 0.41], None),
        ([0.5, 0.45, 0.39, 0.38, 0.5], 3),
    ],
)
def test_a_neck_or_a_thin_place_is_torn(left, torn):
    assert stage_run.torn_column(np.array(left), np.arange(5.0), 1.0) == torn


def test_the_error_says_where_and_why(stuck):
    error, folder = stuck
    assert isinstance(error, StepFloorError)
    assert error.exit_code == 2
    assert re.search(r"after 1 step halving | after \d+ step halvings ", str(error))
    assert error.facts["stage"] == "draw"
    assert {"node", "column", "r", "z", "force"} <= error.facts.keys()
    assert len(error.history) > 1
    assert np.isfinite(error.history).all()
    assert re.search(r'stage "draw" .* stroke \d+\.\d+ mm', str(error))
    assert f"r = {error.facts['r']:.3f}" in str(error)
    assert str(folder / "last_state.npz") in str(error)
    assert error.hint


def test_the_last_accepted_state_is_kept(torn_run):
    error, folder = torn_run
    last = store.load_last_state(folder)
    forces = store.load_forces(folder).columns
    assert last.name == "draw"
    assert last.state.stroke == pytest.approx(forces["stroke_mm"][-1])
    assert f"stroke {last.state.stroke:.4f}" in str(error)
    assert last.state.strain.max() > 0.1


def test_the_summary_tells_the_failure(stuck):
    error, folder = stuck
    summary = store.load_summary(folder)
    assert not summary["finished"]
    assert not summary["passed"]
    assert summary["failure"] == str(error)
    assert summary["stages"][0]["max_thinning_percent"] > 5.0
    assert summary["ended"] == "no equilibrium"
    assert "gave up" in result_text(summary)
    assert "tears there" in result_text(summary)


def test_earlier_stages_are_kept(tmp_path, monkeypatch):
    """The second stage is made to fail after a few increments."""
    given_up, form = ConvergenceError("no equilibrium", history=(1.0, 0.5)), making.form

    def failing(setup, marks, *, exact):
        for count, accepted in enumerate(form(setup, marks, exact=exact)):
            if setup.plan.frame == "punch" and count == 5:
                raise given_up
            yield accepted

    monkeypatch.setattr(making, "form", failing)
    with pytest.raises(ConvergenceError) as caught:
        run_case(parse_case(small_cup(), "cup.toml"), tmp_path / "cup", text=small_cup())
    assert caught.value.__cause__ is given_up
    assert caught.value.history == (1.0, 0.5)
    summary = store.load_summary(tmp_path / "cup")
    assert [stage["name"] for stage in summary["stages"]] == ["draw", "dome"]
    assert summary["stages"][0]["height"] > 20.0
    assert set(store.load_thickness(tmp_path / "cup").columns["stage"]) >= {"draw"}
    last = store.load_last_state(tmp_path / "cup")
    assert last.name == "dome"
    assert last.state.stroke == pytest.approx(summary["stages"][1]["stroke"])


def test_an_interrupt_before_the_first_stage_is_told(tmp_path):
    def interrupted():
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_case(parse_case(small_cup(), "cup.toml"), tmp_path / "cup", prepare=interrupted)
    summary = store.load_summary(tmp_path / "cup")
    assert summary["ended"] == "interrupted"
    assert "INTERRUPTED: interrupted before the first stage" in result_text(summary)


def test_the_terminal_says_that_nothing_was_made(tmp_path, monkeypatch, capsys):
    def interrupted():
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_prepare", interrupted)
    case, folder = tmp_path / "cup.toml", tmp_path / "cup"
    case.write_text(small_cup(), encoding="utf-8")
    assert cli.main(["run", str(case), "--into", str(folder), "--quiet"]) == 130
    told = " ".join(capsys.readouterr().out.split())
    assert f"no tables and no page; {folder} holds summary.json, case.toml" in told
    assert sorted(file.name for file in folder.iterdir()) == ["case.toml", "summary.json"]


def test_an_interrupt_keeps_both_stages(tmp_path):
    """Ctrl-C comes in the second stage, between two increments."""

    def interrupting(progress):
        if progress.stage == "dome" and progress.step == 5:
            raise KeyboardInterrupt

    text, folder = small_cup(), tmp_path / "cup"
    with pytest.raises(KeyboardInterrupt):
        run_case(parse_case(text, "cup.toml"), folder, text=text, watch=interrupting)
    summary = store.load_summary(folder)
    assert [stage["complete"] for stage in summary["stages"]] == [True, False]
    assert re.search(r'interrupted in stage "dome" at stroke -?\d', summary["failure"])
    assert set(store.load_thickness(folder).columns["stage"]) == {"draw", "dome"}
    assert store.load_last_state(folder).state.stroke == summary["stages"][1]["stroke"]
    assert not list(folder.glob("*.part"))


@pytest.mark.parametrize("moment", ["_judge", "_draw"])
def test_an_interrupt_after_the_last_stage_loses_no_numbers(tmp_path, monkeypatch, moment):
    """Once: a second one leaves at once."""
    late, real = [KeyboardInterrupt()], getattr(run_module, moment)

    def interrupting(*given):
        if late:
            raise late.pop()
        return real(*given)

    monkeypatch.setattr(run_module, moment, interrupting)
    folder = tmp_path / "cup"
    with pytest.raises(KeyboardInterrupt):
        run_case(parse_case(short_draw(), "cup.toml"), folder)
    summary = store.load_summary(folder)
    assert summary["finished"] and summary["passed"]
    assert set(store.load_thickness(folder).columns["stage"]) == {"draw"}
    unseen = [text for text in summary["warnings"] if "formsim report" in text]
    assert len(unseen) == (moment == "_draw")


def test_the_summary_is_there_while_the_run_goes_on(tmp_path):
    told = []

    def watching(_progress):
        told.append(store.load_summary(tmp_path / "cup")["ended"])
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_case(parse_case(small_cup(), "cup.toml"), tmp_path / "cup", watch=watching)
    assert told == ["running"]


def test_a_stroke_too_short_for_the_rim_is_said():
    case = parse_case(small_cup(), "cup.toml")
    setup = stage_run.set_up(case.stages[0], 0.28, make_sheet(case))
    short = replace(setup, plan=replace(setup.plan, end=0.5))
    with pytest.raises(ConvergenceError, match="not through its tools") as caught:
        list(stage_run.form(short))
    assert caught.value.reason == "unfinished"
    assert "stroke in mm" in caught.value.hint
