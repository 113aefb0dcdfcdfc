"""Volume constancy: heights and blanks."""

import numpy as np
import pytest

from formsim.errors import TheoryRangeError
from formsim.results.theory import volume
from tests.references import cup_geometry


def test_blank_volume_and_change():
    blank = volume.blank_volume(118.0, 0.28)
    assert blank == pytest.approx(np.pi * 59.0**2 * 0.28)
    assert volume.blank_volume(118.0, 0.28, 20.0) == pytest.approx(blank - np.pi * 100.0 * 0.28)
    assert volume.volume_change(1.002 * blank, blank) == pytest.approx(0.002)


def test_local_thickness_keeps_the_volume_of_an_element():
    major, minor = np.array([0.1, 0.2]), np.array([-0.05, 0.1])
    expected = 0.28 / (np.exp(major) * np.exp(minor))
    np.testing.assert_allclose(volume.local_thickness(0.28, major, minor), expected)


@pytest.mark.parametrize(("punch", "nose"), [(60.0, 5.0), (60.0, 0.0), (60.0, 30.0)])
def test_cup_height_against_integrated_geometry(punch, nose):
    """Habraken et al., Int. J. Mater. Form. 15:59, 2022 (set-up; nose 5): 35.04 mm computed."""
    got = volume.cup_height(107.5, punch, nose, 1.0)
    assert got == pytest.approx(cup_geometry.rim_height(53.75, punch / 2, nose, 1.0), rel=1e-9)
    if nose == 5.0:
        assert got == pytest.approx(35.04, abs=6e-3)


def test_height_from_a_constant_wall_is_the_constant_thickness_height():
    plain = volume.cup_height(107.5, 60.0, 5.0, 1.0)
    assert volume.cup_height_from_wall(107.5, 60.0, 5.0, 1.0, 1.0) == pytest.approx(plain)
    profile = np.full(7, 1.0)
    assert volume.cup_height_from_wall(107.5, 60.0, 5.0, 1.0, profile) == pytest.approx(plain)


def test_thicker_wall_makes_a_lower_cup():
    profile = np.linspace(0.95, 1.25, 21)
    low = volume.cup_height_from_wall(107.5, 60.0, 5.0, 1.0, profile)
    assert low < volume.cup_height(107.5, 60.0, 5.0, 1.0)
    wall = (low - 6.0) * np.mean(np.pi * (60.0 + profile) * profile)
    base = volume.base_area(60.0, 5.0, 1.0)
    assert wall + base == pytest.approx(volume.blank_volume(107.5, 1.0), rel=1e-3)


def test_blank_diameter_is_the_inverse_of_cup_height():
    height = volume.cup_height(107.5, 60.0, 5.0, 1.0)
    assert volume.cup_blank_diameter(height, 60.0, 5.0, 1.0) == pytest.approx(107.5)
    assert volume.sharp_cup_height(100.0, 50.0) == pytest.approx(37.5)
    assert volume.sharp_blank_diameter(37.5, 50.0) == pytest.approx(100.0)


def test_sharp_form_is_the_limit_of_the_rounded_one():
    assert volume.cup_height(100.0, 50.0, 0.0, 1e-6) == pytest.approx(37.5, rel=1e-6)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: volume.cup_height(50.0, 60.0, 5.0, 1.0),
        lambda: volume.cup_height(107.5, 60.0, 31.0, 1.0),
        lambda: volume.cup_height_from_wall(50.0, 60.0, 5.0, 1.0, 1.0),
        lambda: volume.cup_height_from_wall(107.5, 60.0, 5.0, 1.0, [1.0, 0.0]),
        lambda: volume.cup_blank_diameter(3.0, 60.0, 5.0, 1.0),
        lambda: volume.sharp_cup_height(40.0, 50.0),
        lambda: volume.sharp_blank_diameter(-1.0, 50.0),
        lambda: volume.blank_volume(50.0, 1.0, 60.0),
        lambda: volume.local_thickness(-1.0, 0.1, 0.1),
        lambda: volume.volume_change(1.0, 0.0),
    ],
)
def test_outside_its_range_no_number_is_given(ask):
    with pytest.raises(TheoryRangeError):
        ask()
