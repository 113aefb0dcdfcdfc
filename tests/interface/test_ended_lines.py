"""Runs that end because a stage is refused or because a ring is too tight for its wall."""

import pytest

from formsim.case.load import parse_case
from formsim.cli import BAD_INPUT, NOT_CONVERGED, main
from formsim.errors import ConvergenceError, RefusedError
from formsim.pipeline.run import run_case
from formsim.report.table import result_text
from formsim.results import store
from tests.interface.rings import one_ring

TRIM = '\n[[stage]]\nkind = "trim"\nheight = 60.0\n'


@pytest.fixture(scope="module")
def tight(tmp_path_factory):
    """A ring that leaves 0.08 of 0.3 mm: more than the wall behind it can carry."""
    folder = tmp_path_factory.mktemp("tight") / "out"
    text = one_ring(bore=30.16, stroke='"through"', columns=120)
    with pytest.raises(ConvergenceError) as caught:
        run_case(parse_case(text, "tight.toml"), folder, text=text)
    return caught.value, folder


@pytest.fixture(scope="module")
def refused(tmp_path_factory):
    folder = tmp_path_factory.mktemp("refused") / "out"
    text = one_ring(stroke="0.5") + TRIM
    with pytest.raises(RefusedError) as caught:
        run_case(parse_case(text, "trim.toml"), folder, text=text)
    return caught.value, folder


def test_a_wall_that_yields_is_said_first(tight):
    error, folder = tight
    assert (error.exit_code, error.reason) == (2, "broken")
    summary = store.load_summary(folder)
    assert summary["ended"] == "broken"
    verdict = " ".join(result_text(summary).split("\n\n")[1].split())
    assert verdict.startswith('WALL YIELDED: stage "iron": the wall has yielded behind ring')
    assert "a wider ring" in verdict


def test_it_shows_the_last_stress_ratio(tight):
    """About the strength of the wall; one stretched column of this mesh does not reach it."""
    text = store.load_summary(tight[1])["failure"]
    ratio = float(text.partition("behind ring at last ")[2].partition(" of its strength")[0])
    assert 0.7 < ratio < 1.1


def test_its_thickness_is_that_of_the_table(tight):
    summary = store.load_summary(tight[1])
    row = summary["stages"][0]
    assert f"the least is {row['min_thickness']:.4f} mm" in summary["failure"]
    assert not row["complete"]


def test_a_result_of_a_broken_wall_is_shown_with_its_code(tight, capsys):
    assert main(["show", str(tight[1])]) == NOT_CONVERGED
    assert "WALL YIELDED" in capsys.readouterr().out


def test_a_refused_trim_ends_the_run_like_a_given_up_stage(refused):
    error, folder = refused
    assert error.exit_code == BAD_INPUT
    summary = store.load_summary(folder)
    assert (summary["ended"], summary["finished"], summary["passed"]) == ("refused", False, False)
    assert summary["failure"].startswith('stage "trim": ')
    assert "lowest point" in summary["failure"] and summary["hint"]
    assert [stage["name"] for stage in summary["stages"]] == ["iron"]


def test_tables_of_the_stages_before_a_refusal_are_there(refused):
    folder = refused[1]
    assert set(store.load_thickness(folder).columns["stage"]) == {"iron"}
    assert set(store.load_forces(folder).columns["tool"]) == {"punch", "ring"}
    assert store.load_last_state(folder).name == "iron"


def test_the_command_line_shows_what_was_made_before_a_refusal(refused, tmp_path, capsys):
    case = tmp_path / "trim.toml"
    case.write_text(one_ring(stroke="0.5") + TRIM, encoding="utf-8")
    code = main(["run", str(case), "--into", str(tmp_path / "out"), "--quiet"])
    told = capsys.readouterr()
    assert code == BAD_INPUT
    assert "STAGE REFUSED" in told.out and "\niron " in told.out
    assert 'formsim: stage "trim"' in told.err
    assert main(["show", str(refused[1])]) == BAD_INPUT
