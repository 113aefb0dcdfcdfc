"""A rim that curls in a run from the command line's side, and notes on finished stages."""

import json

import pytest

from formsim.case.load import parse_case
from formsim.errors import ConvergenceError
from formsim.pipeline.run import run_case
from formsim.report.verdict import verdict_text

TUBE = """
title = "tube"
source = "invented"
start = {{ kind = "tube", diameter = 56.0, length = 30.0 }}
[sheet]
material = "can-body-demo"
thickness = {thickness}
[mesh]
columns = {columns}
[output]
frames = 3
figures = false
picture = false
[[stage]]
kind = "neck"
die = {{ diameter = {throat}, angle = {angle}, entry_radius = {arc}, throat_radius = 3.0 }}
depth = {depth}
"""


def test_a_curled_rim_ends_the_run_as_such(tmp_path):
    text = TUBE.format(thickness=0.115, columns=160, throat=48.0, angle=60.0, arc=0.5, depth=9.0)
    with pytest.raises(ConvergenceError) as error:
        run_case(parse_case(text, "curl.toml"), tmp_path / "out")
    assert error.value.reason == "curled"
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["ended"] == "curled"
    assert summary["stages"][0]["complete"] is False
    assert verdict_text(summary).startswith('RIM CURLED: stage "neck" the rim turns over')


def test_a_neck_that_stops_short_of_the_throat_is_warned_of():
    text = TUBE.format(thickness=0.5, columns=60, throat=50.0, angle=30.0, arc=8.0, depth=3.0)
    run = run_case(parse_case(text, "short.toml"))
    assert run.summary["passed"]
    assert run.summary["warnings"][0].startswith("neck: the rim has not reached the throat")
    names = [row["name"] for row in run.summary["theory"]]
    assert "neck: axial load at which the wall yields, and the largest one" in names
