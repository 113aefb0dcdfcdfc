"""A drawn cup keeps the volume of its blank."""

import numpy as np
import pytest

from tests.physics.support import (
    canister_draw,
    first_draw,
    form_first,
    metal_volume,
    middle_strains,
    named_case,
)
from tests.references import cup_geometry

pytestmark = pytest.mark.slow


def wall_thickness(formed, height):
    """Mean thickness of the wall above the nose, from the blank's thickness and two strains."""
    radius, along, hoop = middle_strains(formed.body, formed.last)
    columns = formed.body.columns
    places = formed.last.places(formed.body)[columns.layers :: columns.stride]
    z = 0.5 * (places[1:, 1] + places[:-1, 1]) - places[:, 1].min()
    wall = (z > height[0]) & (z < height[1])
    length = np.hypot(*np.diff(places, axis=0).T)
    return float(np.average(np.exp(-along - hoop)[wall], weights=length[wall]))


@pytest.mark.parametrize("name", ["canister_cup", "small_cup_steel"])
def test_volume_and_height(name):
    """Volume of metal 0.2 %, height 3 % with the real wall thickness (geometry).

    The base thins by 1 to 2 % and gives that to the wall, which the constant base leaves out.
    """
    case = named_case(name)
    formed = canister_draw() if name == "canister_cup" else form_first(case, free=True)
    body, t = formed.body, case.sheet.thickness
    first = float(body.volume.sum())
    assert metal_volume(body, formed.free) == pytest.approx(first, rel=2e-3)
    punch = first_draw(case).punch
    blank, radius = 0.5 * case.sheet.blank_diameter, 0.5 * punch.diameter
    z = formed.free.places(body)[:, 1]
    share = wall_thickness(formed, (punch.nose_radius + t, np.ptp(z)))
    same = cup_geometry.rim_height(blank, radius, punch.nose_radius, t)
    nose = punch.nose_radius + t
    height = nose + (same - nose) / share
    assert np.ptp(z) == pytest.approx(height, rel=0.03)
    assert np.ptp(z) == pytest.approx(same, rel=0.10)


def test_volume_under_load():
    """Under load only the elastic part is missing: mean stress over 3 bulk moduli."""
    formed = canister_draw()
    first = float(formed.body.volume.sum())
    assert metal_volume(formed.body, formed.last) == pytest.approx(first, rel=2e-3)
