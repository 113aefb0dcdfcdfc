"""Textbook numbers beside those of an ironing stage, and the height of a body by its volume."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.pipeline.run import run_case
from formsim.results.estimates_line import redraw_peak
from tests.interface.rings import one_ring


@pytest.fixture(scope="module")
def ironed(ironed_run):
    return ironed_run, {row.name: row for row in ironed_run.theory}


@pytest.mark.slow
def test_slab_force_of_a_ring(ironed):
    """Slab without the shear at entry and exit: below the simulation, by 20 % at most."""
    row = ironed[1]["iron, ring: mean force by the slab method"]
    assert 0.8 * row.simulated < row.theory < row.simulated
    ring = ironed[0].summary["stages"][0]["rings"][0]
    strain = 2.0 / math.sqrt(3.0) * math.log(1.0 / (1.0 - ring["reduction"]))
    area = math.pi * (30.0 + ring["exit_thickness"]) * ring["exit_thickness"]
    ideal = 300.0 * strain * area
    assert ideal < row.theory < 405.0 / 300.0 * 1.3 * ideal


@pytest.mark.slow
def test_speed_and_height_of_an_ironed_wall(ironed):
    """Constant volume: exact in steady ironing, 1 % for its two ends."""
    rows = ironed[1]
    for name in ("iron, ring: speed of the wall behind over ahead", "iron: height of the wall"):
        assert rows[name].theory == pytest.approx(rows[name].simulated, rel=0.01), name
    height = rows["iron: height of the body, constant volume with the real wall"]
    assert height.theory == pytest.approx(height.simulated, rel=3e-3)


@pytest.mark.slow
def test_the_load_of_the_wall_has_its_source(ironed):
    row = ironed[1]["iron, ring: wall stress over strength behind it"]
    assert 0.0 < row.simulated < 1.0 and 0.0 < row.theory < 1.0
    assert "Sachs" in row.source


def test_outside_the_range_there_is_no_number():
    """A ring cone of 30 degrees is beyond the slab formula, which holds to 20."""
    text = one_ring(stroke="1.5").replace("bore = 30.42", "bore = 30.5, entry_angle = 30")
    rows = {row.name: row for row in run_case(parse_case(text, "ring.toml")).theory}
    row = rows["iron, ring: mean force by the slab method"]
    assert row.theory is None and row.simulated > 0.0
    assert "entry angle" in row.note


def test_the_redraw_of_a_stroke_ends_at_its_first_ring():
    def row(force, sleeve, ring):
        return SimpleNamespace(
            forces=np.array([force, 0.0, 0.0]), touching=np.array([9, sleeve, ring])
        )

    record = SimpleNamespace(
        tools=[SimpleNamespace(name=name) for name in ("punch", "sleeve", "ring-1")],
        increments=(row(5.0, 3, 0), row(-7.0, 2, 0), row(20.0, 0, 0), row(90.0, 2, 4)),
    )
    assert redraw_peak(record) == 7.0
