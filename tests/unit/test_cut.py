"""A square trim: the rim is level, what is kept is kept, heights off the wall are refused."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from formsim.case.stage import Trim
from formsim.errors import GeometryError
from formsim.results.record import Line
from formsim.results.thickness import volume_ratio
from formsim.results.trimming import trim_loss
from formsim.solver.state import State
from formsim.solver.strain import strain_modes, volume_strain
from formsim.stages.cut import SHORTEST, along_layer, cut_square, wall_of
from formsim.stages.prepare import prepare
from formsim.stages.remesh import columns_of, find, point_places, value_at
from formsim.stages.sheet import Sheet
from formsim.stages.turn import turned_over
from tests.physics.support import strip
from tests.unit.shaped import METAL, along, blank, draw_record, shaped
from tests.unit.test_bake import card

THICKNESS, COLUMNS = 0.5, 60
WALL = [(12.0, 0.0), (4.0, np.pi / 2), (40.0, 0.0)]
"""Flat base, an arc of 4 mm and a wall; lengths along the middle are kept."""

BENT = 4.0 / (np.pi / 2)
FOOT = BENT + 0.5 * THICKNESS
"""Where the straight wall begins, above the lowest point [mm]."""


@cache
def cup(shear: float = 0.0, layers: int = 2) -> Sheet:
    """Cup whose material lines lean by ``shear`` from the outer to the inner face."""
    body = blank(columns=COLUMNS, layers=layers, thickness=THICKNESS)
    form = along(WALL, THICKNESS)

    def leaning(r, z):
        lean = shear * (z - 0.5 * THICKNESS) * np.clip((r - 16.0) / 4.0, 0.0, 1.0)
        return form(r + lean, z)

    state = shaped(body, leaning)
    plastic = np.zeros_like(state.plastic)
    plastic[..., :3] = strain_modes(body, state.places(body))
    plastic[..., 0] += 1e-3 * point_places(body)[..., 1]
    plastic[..., 3] = 0.01 * point_places(body)[..., 0]
    return Sheet(body, METAL, State(0.0, state.u, plastic, state.positions, state.grip))


def places(sheet: Sheet) -> np.ndarray:
    return sheet.state.places(sheet.body)


def elastic(sheet: Sheet) -> np.ndarray:
    return strain_modes(sheet.body, places(sheet)) - sheet.state.plastic[..., :3]


@pytest.mark.parametrize("height", [6.0, 8.03, 8.2, 8.27, 12.31])
@pytest.mark.parametrize("shear", [0.0, 0.6, -2.0])
@pytest.mark.parametrize("layers", [1, 2, 3])
def test_the_rim_is_level_and_the_rest_untouched(height, shear, layers):
    sheet = cup(shear, layers)
    cut = cut_square(sheet, height)
    now, then = places(cut), places(sheet)
    rim = cut.body.edge_nodes("rim")
    np.testing.assert_allclose(now[rim, 1] - then[:, 1].min(), height, atol=1e-12)
    assert np.ptp(now[:, 1]) == pytest.approx(height, abs=1e-12)
    columns = columns_of(cut.body)
    same = columns.stride * (columns.count - 1) + columns.line_nodes
    np.testing.assert_array_equal(now[:same], then[:same])
    kept = layers * (columns.count - 1)
    np.testing.assert_array_equal(cut.state.plastic[:kept], sheet.state.plastic[:kept])
    least = volume_ratio(sheet.body, sheet.state).min()
    assert volume_ratio(cut.body, cut.state).min() > 0.9 * least


@pytest.mark.parametrize("shear", [0.0, 0.6, -2.0])
def test_metal_between_two_heights_is_what_the_wall_holds(shear):
    """The volume of a straight wall between two level cuts, from its radii alone."""
    low, high = (cut_square(cup(shear), height) for height in (7.13, 11.4))
    held = [(volume_ratio(c.body, c.state) * c.body.volume).sum() for c in (low, high)]
    middle = float(places(low)[low.body.edge_nodes("rim"), 0].mean())
    assert held[1] - held[0] == pytest.approx(
        2.0 * np.pi * middle * THICKNESS * (11.4 - 7.13), rel=2e-4
    )


@pytest.mark.parametrize("shear", [0.0, 0.6, -2.0])
@pytest.mark.parametrize("height", np.linspace(7.0, 7.6, 13))
def test_no_column_is_left_that_is_short(height, shear):
    cut = cut_square(cup(shear), float(height))
    columns = columns_of(cut.body)
    step = 30.0 / COLUMNS
    lines = columns.stride * (columns.count - 1)
    lines = lines + np.array([[0], [columns.stride]]) + np.arange(columns.line_nodes)
    length = np.diff(cut.body.nodes[lines, 0], axis=0)[0]
    assert length.min() >= SHORTEST * step - 1e-9
    assert length.mean() <= 1.5 * step + np.ptp(length)
    sides = np.diff(cut.body.nodes[lines[1]], axis=0)
    np.testing.assert_allclose(sides[::2], sides[1::2], atol=1e-12)


def test_stress_stays_as_smooth_as_it_was_and_strain_is_interpolated():
    sheet = cup(0.6)
    cut = cut_square(sheet, 8.1)
    last = slice(-sheet.body.columns.layers, None)
    now, then = elastic(cut)[last], elastic(sheet)
    assert now[..., 0].min() >= then[..., 0].min() - 1e-12
    assert now[..., 0].max() <= then[..., 0].max() + 1e-12
    np.testing.assert_allclose(now[..., 0], -1e-3 * point_places(cut.body)[last][..., 1], atol=1e-5)
    np.testing.assert_allclose(now[..., 1:], 0.0, atol=1e-12)
    np.testing.assert_allclose(
        cut.state.strain[last], 0.01 * point_places(cut.body)[last][..., 0], rtol=1e-12
    )


@pytest.mark.parametrize("height", [8.03, 8.2, 8.27])
@pytest.mark.parametrize("layers", [1, 2, 3])
def test_the_points_of_the_last_column_keep_their_volume(height, layers):
    """Where it wandered within an element, the last column was squeezed to yield, and curled."""
    sheet = cup(0.6, layers)
    body, columns = sheet.body, columns_of(sheet.body)
    u = sheet.state.u.copy().reshape(-1, 2)
    sides = columns.lines[:-1, None] + columns.line_nodes + np.arange(layers + 1)
    u[sides, 1] += 0.02 * np.where(np.arange(columns.count) % 2, 1.0, -1.0)[:, None]
    sheet = replace(sheet, state=replace(sheet.state, u=u.ravel()))
    cut = cut_square(sheet, height)
    kept, points = columns_of(cut.body).count, point_places(cut.body)[-layers:]
    known = volume_strain(body, places(sheet))[..., None]
    now = volume_strain(cut.body, places(cut))[-layers:]
    for layer in range(layers):
        wanted = along_layer(body, known, points[layer], layer, kept)[:, 0]
        np.testing.assert_allclose(now[layer], wanted, atol=1e-8)


def test_a_place_is_found_and_a_value_read_there():
    sheet = cup()
    columns = columns_of(sheet.body)
    spot = find(sheet.body, np.array([20.3, 0.31]), 1, range(38, 44))
    assert (spot.column, spot.layer) == (40, 1)
    np.testing.assert_allclose(value_at(columns, sheet.body.nodes, spot), [20.3, 0.31])


@pytest.mark.parametrize(
    ("height", "words"), [(1.0, "below the wall"), (40.0, "above the lowest point of the rim")]
)
def test_a_height_off_the_wall_is_refused_with_what_would_do(height, words):
    sheet = cup()
    wall, bottom = wall_of(sheet.body, places(sheet)), places(sheet)[:, 1].min()
    with pytest.raises(GeometryError, match=words) as caught:
        cut_square(sheet, height)
    assert f"{wall.lowest - bottom:.3f} to {wall.highest - bottom:.3f} mm" in str(caught.value)
    assert "set height" in caught.value.hint


def test_a_flat_sheet_has_no_wall_to_cut():
    body = blank(columns=24)
    sheet = Sheet(body, METAL, shaped(body, lambda r, z: (r, z)))
    with pytest.raises(GeometryError, match="no standing wall"):
        cut_square(sheet, 1.0)


def test_a_flange_is_cut_off_below_it():
    body = blank(columns=60)
    path = [(10.0, 0.0), (4.0, np.pi / 2), (8.0, 0.0), (3.0, -np.pi / 2), (20.0, 0.0)]
    sheet = Sheet(body, METAL, shaped(body, along(path, THICKNESS)))
    cut = cut_square(sheet, 8.0)
    assert np.ptp(places(cut)[:, 1]) == pytest.approx(8.0)
    assert places(cut)[:, 0].max() == pytest.approx(10.0 + BENT + 0.5 * THICKNESS, abs=1e-3)
    with pytest.raises(GeometryError, match="above the lowest point"):
        cut_square(sheet, 13.0)


def test_a_tube_is_cut_but_not_to_nothing():
    body = strip(np.linspace(0.0, 20.0, 41), [-30.5, -30.0], lambda s, r: (-r, s))
    sheet = Sheet(body, METAL, shaped(body, lambda r, z: (r, z)))
    cut = cut_square(sheet, 7.3)
    assert np.ptp(places(cut)[:, 1]) == pytest.approx(7.3)
    assert cut.body.volume.sum() == pytest.approx(np.pi * (30.5**2 - 30.0**2) * 7.3)
    with pytest.raises(GeometryError, match="leaves 1 columns"):
        cut_square(sheet, 0.7)


def test_a_sheet_upside_down_is_turned_and_cut():
    sheet = cup(0.6)
    trim = Trim.model_validate({"kind": "trim", "name": "trim", "height": 9.0})
    straight, turned = (prepare(trim, s, card()) for s in (sheet, turned_over(sheet)))
    np.testing.assert_allclose(places(turned), places(straight), atol=1e-12)
    np.testing.assert_allclose(turned.state.plastic, straight.state.plastic, atol=1e-12)


def test_what_is_lost_is_told():
    sheet = cup()
    cut = cut_square(sheet, 9.0)
    before = draw_record(sheet.body, [sheet.state])
    after = draw_record(cut.body, [cut.state], name="trim")
    object.__setattr__(after, "kind", "trim")
    line = Line(sheet.body, METAL, THICKNESS, 30.0, (before, after))
    loss = trim_loss(line, after)
    wall = 30.0 - 16.0 - (9.0 - FOOT)
    assert loss.height == pytest.approx(9.0)
    assert loss.ring_width == pytest.approx(wall, rel=1e-3)
    assert (loss.most, loss.least) == pytest.approx((wall, wall), rel=1e-3)
    share = 1.0 - (30.0 - wall) ** 2 / 30.0**2
    assert loss.blank_percent == pytest.approx(100.0 * share, rel=1e-3)
    volume = np.pi * 30.0**2 * THICKNESS
    assert loss.mass == pytest.approx(share * volume * METAL.density * 1e-6, rel=1e-3)
    assert loss.clears() and loss.clears(wall - 0.1) and not loss.clears(wall + 0.1)


@pytest.mark.parametrize("kind", ["damage", "heat"])
def test_a_trim_carries_damage_and_heat_on(kind):
    """Linear along the sheet before: the points of the last column get what lies at their place."""
    sheet = cup()
    values = np.zeros((*sheet.state.strain.shape, 3))
    values[..., 0] = 0.02 * point_places(sheet.body)[..., 0]
    values[..., 1] = 1.0
    cut = cut_square(replace(sheet, state=replace(sheet.state, **{kind: values})), 8.2)
    found = getattr(cut.state, kind)
    assert found.shape == (*cut.state.strain.shape, 3)
    assert found[..., 0] == pytest.approx(0.02 * point_places(cut.body)[..., 0], abs=2e-4)
    assert found[..., 1] == pytest.approx(1.0)


@pytest.mark.parametrize("kind", ["damage", "heat"])
def test_damage_and_heat_turn_over_with_the_sheet(kind):
    sheet = cup(layers=3)
    values = np.zeros((*sheet.state.strain.shape, 3))
    values[..., 0] = point_places(sheet.body)[..., 1]
    over = turned_over(replace(sheet, state=replace(sheet.state, **{kind: values})))
    found = getattr(over.state, kind)
    assert found[..., 0] == pytest.approx(-point_places(over.body)[..., 1], abs=1e-9)
