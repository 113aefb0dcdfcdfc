"""A case with a press: its keys, its faults, times and speeds of a stage."""

import math

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.errors import CaseError
from formsim.pipeline.run import run_case
from formsim.results import store
from formsim.results.ram import stage_motion
from tests.interface.rings import CRANK, one_ring


@pytest.fixture(scope="module")
def timed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("timed") / "out"
    return run_case(parse_case(one_ring(more=CRANK), "timed.toml"), folder)


def test_times_and_speeds_of_a_stage(timed):
    """Kinematics of the slider crank 4 mm above its bottom, written out anew."""
    a, rod, turn = 50.0, 300.0, 2.0 * math.pi
    angle = np.linspace(0.0, 1.0, 200_001)
    height = a * (1.0 - np.cos(angle)) + rod - np.sqrt(rod**2 - (a * np.sin(angle)) ** 2)
    at = float(np.interp(4.0, height, angle))
    press = timed.summary["stages"][0]["press"]
    assert press["start"] == pytest.approx(-at / turn, rel=1e-6)
    assert press["end"] == 0.0
    speed = turn * float(np.interp(at, angle, np.gradient(height, angle)))
    assert press["contact_speed"] == pytest.approx(speed, rel=1e-5)
    assert press["peak_speed"] == press["contact_speed"]


def test_strain_rate_in_the_ring(timed):
    """Plane strain over the time in the cone, at the speed where the ring begins to work."""
    row = timed.summary["stages"][0]
    ring, rate = row["rings"][0], row["press"]["ring_strain_rate"]["ring"]
    before, after = ring["entry_thickness"], ring["exit_thickness"]
    strain = 2.0 / math.sqrt(3.0) * math.log(before / after)
    way = (before**2 - after**2) / (2.0 * after * math.tan(math.radians(8.0)))
    assert 0.9 * row["press"]["peak_speed"] < rate * way / strain < row["press"]["peak_speed"]


def test_the_wall_warms_by_its_plastic_work(timed):
    """Between the work of the mean strain of the ring and that of the sheared outer column."""
    row = timed.summary["stages"][0]
    strain = 2.0 / math.sqrt(3.0) * math.log(1.0 / (1.0 - row["rings"][0]["reduction"]))
    least = 0.9 * 300.0 * strain / (2720.0 * 900.0) * 1e6
    assert least < row["press"]["wall_temperature_rise"] < 2.0 * 405.0 / 300.0 * least


def test_without_a_heat_capacity_no_temperature_is_told():
    text = one_ring(stroke="0.4", more=CRANK).replace("heat_capacity = 900.0\n", "")
    row = run_case(parse_case(text, "x.toml")).summary["stages"][0]
    assert row["press"]["wall_temperature_rise"] is None


def test_forces_have_time_and_speed(timed):
    columns = {k: np.array(v) for k, v in store.load_forces(timed.folder).columns.items()}
    own = columns["tool"] == "ring"
    time, stroke = columns["time_s"][own], columns["stroke_mm"][own]
    made = stroke >= 0.0
    ram = stage_motion(timed.case.press, stroke[made])
    assert np.allclose(time[made], ram.time, atol=1e-8)
    assert np.allclose(columns["speed_mm_per_s"][own][made], ram.speed, rtol=1e-6, atol=1e-4)
    assert np.all(time[~made] == time[made][0])


def test_without_a_press_there_are_no_times():
    run = run_case(parse_case(one_ring(stroke="0.4"), "x.toml"))
    assert "press" not in run.summary["stages"][0]


@pytest.mark.parametrize(
    ("stroke", "told"), [("150.0", 'stage "iron".*150 mm or more'), ('"through"', "1[0-9]")]
)
def test_a_press_too_short_for_a_stage_is_refused(stroke, told):
    press = CRANK.replace("stroke = 100", "stroke = 8" if "t" in stroke else "stroke = 100")
    with pytest.raises(CaseError, match=told) as caught:
        parse_case(one_ring(stroke=stroke, more=press), "short.toml")
    assert [fault.key for fault in caught.value.faults] == ["press.stroke"]


def test_a_heat_capacity_out_of_its_band_is_refused():
    text = one_ring().replace("heat_capacity = 900.0", "heat_capacity = 0.9")
    with pytest.raises(CaseError, match=r"kJ/\(kg K\)"):
        parse_case(text, "x.toml")
