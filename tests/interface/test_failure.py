"""A run that is given up: what the error says and what is kept."""

import re

import numpy as np
import pytest

from formsim import pipeline
from formsim.case.load import parse_case
from formsim.errors import ConvergenceError, StepFloorError
from formsim.pipeline import run_case
from formsim.report.table import result_text
from formsim.results import store
from tests.interface.small import small_cup, torn_cup


@pytest.fixture(scope="module")
def torn(tmp_path_factory):
    """Error and result folder of a cup drawn far beyond the limiting ratio."""
    folder = tmp_path_factory.mktemp("failure") / "torn"
    with pytest.raises(ConvergenceError) as caught:
        run_case(parse_case(torn_cup(), "torn.toml"), folder, text=torn_cup())
    return caught.value, folder


def test_the_error_says_where_and_why(torn):
    error, folder = torn
    assert isinstance(error, StepFloorError)
    assert error.exit_code == 2
    assert error.facts["stage"] == "draw"
    assert {"node", "column", "r", "z", "force"} <= error.facts.keys()
    assert len(error.history) > 1
    assert np.isfinite(error.history).all()
    assert re.search(r'stage "draw" .* stroke \d+\.\d+ mm', str(error))
    assert f"r = {error.facts['r']:.3f}" in str(error)
    assert str(folder / "last_state.npz") in str(error)
    assert error.hint


def test_the_last_accepted_state_is_kept(torn):
    error, folder = torn
    last = store.load_last_state(folder)
    forces = store.load_forces(folder).columns
    assert last.name == "draw"
    assert last.state.stroke == pytest.approx(forces["stroke_mm"][-1])
    assert f"stroke {last.state.stroke:.4f}" in str(error)
    assert last.state.strain.max() > 0.1


def test_the_summary_tells_the_failure(torn):
    error, folder = torn
    summary = store.load_summary(folder)
    assert not summary["finished"]
    assert not summary["passed"]
    assert summary["failure"] == str(error)
    assert summary["stages"][0]["max_thinning_percent"] > 5.0
    assert "gave up" in result_text(summary)


def test_earlier_stages_are_kept(tmp_path, monkeypatch):
    """The second stage is made to fail after a few increments."""
    given_up, form = ConvergenceError("no equilibrium", history=(1.0, 0.5)), pipeline.form

    def failing(setup, marks):
        for count, accepted in enumerate(form(setup, marks)):
            if setup.plan.frame == "punch" and count == 5:
                raise given_up
            yield accepted

    monkeypatch.setattr(pipeline, "form", failing)
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
