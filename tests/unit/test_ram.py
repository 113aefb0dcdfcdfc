"""Motion of the press against differences and limits, and its table in a case."""

import numpy as np
import pytest
from pydantic import ValidationError

from formsim.case.press import RamMotion
from formsim.errors import TheoryRangeError
from formsim.results import ram

HARMONIC = RamMotion(motion="harmonic", stroke=500.0, strokes_per_minute=300.0)
CRANK = RamMotion(motion="crank", stroke=500.0, strokes_per_minute="300 /min", rod_length=900.0)


@pytest.mark.parametrize("press", [HARMONIC, CRANK])
def test_speed_and_acceleration_are_the_differences(press):
    time = np.linspace(-0.09, 0.09, 41)
    step = 1e-6
    now, later, sooner = (ram.ram_at(press, time + d) for d in (0.0, step, -step))
    speed = -(later.height - sooner.height) / (2 * step)
    assert now.speed == pytest.approx(speed, abs=1e-3)
    assert now.acceleration == pytest.approx((later.speed - sooner.speed) / (2 * step), abs=1.0)


@pytest.mark.parametrize("press", [HARMONIC, CRANK])
def test_ends_of_the_way(press):
    ends = ram.ram_at(press, [0.0, -0.1, 0.1, 0.2])
    assert ends.height == pytest.approx([0.0, 500.0, 500.0, 0.0], abs=1e-9)
    assert ends.speed == pytest.approx(0.0, abs=1e-9)
    assert ends.acceleration[0] < 0.0


@pytest.mark.parametrize("press", [HARMONIC, CRANK])
def test_heights_come_back(press):
    height = np.linspace(0.0, 500.0, 101)
    down = ram.ram_above(press, height)
    assert down.height == pytest.approx(height, abs=1e-9)
    assert np.all(down.speed[1:-1] > 0.0)
    assert np.all(np.diff(down.time) < 0.0)
    assert down.time[-1] == pytest.approx(-0.1)


def test_a_crank_at_right_angles():
    """By Pythagoras: rod 900, crank 250 at a quarter turn."""
    quarter = ram.ram_at(CRANK, -0.05)
    assert quarter.height == pytest.approx(250.0 + 900.0 - np.sqrt(900.0**2 - 250.0**2))
    assert quarter.speed == pytest.approx(250.0 * 2 * np.pi * 5.0)


def test_a_long_rod_makes_a_harmonic():
    long = CRANK.model_copy(update={"rod_length": 1e7})
    times = np.linspace(-0.1, 0.0, 21)
    assert ram.ram_at(long, times).height == pytest.approx(
        ram.ram_at(HARMONIC, times).height, abs=0.01
    )


def test_peaks():
    turn = 2 * np.pi * 5.0
    assert ram.peak_speed(HARMONIC) == pytest.approx(250.0 * turn, rel=1e-6)
    assert ram.peak_acceleration(HARMONIC) == pytest.approx(250.0 * turn**2, rel=1e-6)
    bottom = 250.0 * turn**2 * (1.0 + 250.0 / 900.0)
    assert ram.peak_acceleration(CRANK) == pytest.approx(bottom, rel=1e-6)


def test_a_stage_against_time():
    stroke = np.linspace(-0.5, 100.0, 300)
    motion = ram.stage_motion(CRANK, stroke, end_height=3.0)
    assert motion.height[-1] == pytest.approx(3.0)
    assert motion.height[0] == pytest.approx(103.5)
    assert np.all(np.diff(motion.time) > 0.0)
    speed = ram.rates(motion.time, stroke)
    assert speed[1:-1] == pytest.approx(motion.speed[1:-1], rel=1e-3)
    partial = ram.stage_motion(CRANK, stroke[:100], end=100.0, end_height=3.0)
    assert partial.time == pytest.approx(motion.time[:100])


def test_rates_keep_their_shape():
    time = np.array([0.0, 0.1, 0.3])
    values = np.stack([time, 2 * time], axis=1)
    assert ram.rates(time, values) == pytest.approx(np.array([[1.0, 2.0]] * 3))


def test_ranges():
    with pytest.raises(TheoryRangeError, match="500 mm"):
        ram.ram_above(HARMONIC, 501.0)
    with pytest.raises(TheoryRangeError, match="rising"):
        ram.rates([0.0, 0.0], [1.0, 2.0])
    with pytest.raises(TheoryRangeError, match="above zero"):
        ram.harmonic_press(0.0, 1.0)


@pytest.mark.parametrize(
    ("table", "word"),
    [
        ({"motion": "crank"}, "needs it"),
        ({"motion": "harmonic", "rod_length": 900.0}, "belongs to a crank"),
        ({"motion": "crank", "rod_length": 200.0}, "half the stroke"),
        ({"motion": "harmonic", "strokes_per_minute": 1e6}, "a stroke rate from 0.1 to 5000 /min"),
        ({"motion": "knuckle"}, "harmonic"),
    ],
)
def test_refusals(table, word):
    with pytest.raises(ValidationError, match=word):
        RamMotion.model_validate({"stroke": 500.0, "strokes_per_minute": 300.0} | table)
