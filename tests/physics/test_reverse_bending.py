"""A cup turned inside out: the sheet is bent over the ring, unbent and bent back."""

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.pipeline.run import run_case
from formsim.results.shape import height
from formsim.results.thickness import thickness_profile

CASE = """
title = "reverse redraw of a given cup"
source = "invented"
start = { kind = "cup", diameter = 60.0, corner_radius = 3.0, height = 16.0 }
[sheet]
material = "can-body-demo"
thickness = 0.5
[[stage]]
kind = "redraw"
direction = "reverse"
punch = { diameter = 44.0, nose_radius = 4.0 }
die = { radius = 3.0, clearance = 0.62, outer_diameter = 58.4, outer_radius = 3.5 }
friction = { punch = 0.10, die = 0.05 }
"""


@pytest.mark.slow
def test_a_cup_is_turned_inside_out() -> None:
    """Every check of the run holds, and the wall is as tall as its metal allows."""
    run = run_case(parse_case(CASE, "cup"))
    record = run.line.stages[0]
    assert all(check.passed for check in run.checks)
    assert not any(row.loose for row in record.increments)
    body, state = record.body, record.final
    places = state.places(body)
    assert places[body.edge_nodes("rim"), 1].max() < places[body.axis_nodes(), 1].min()
    profile = thickness_profile(body, state)
    assert 0.9 * 0.5 < profile.thickness.min() < profile.thickness.max() < 0.62 * 1.01
    radius = 0.5 * 44.5
    area = np.pi * profile.volume_thickness.mean() * 2.0 * radius
    wall = (float(body.volume.sum()) - np.pi * radius**2 * 0.5) / area
    assert height(body, state) == pytest.approx(wall, rel=0.06)
