"""A sheet that is turned over is the same sheet seen from the other side."""

import numpy as np
import pytest

from formsim.solver.balance import internal_force
from formsim.solver.newton import System
from formsim.solver.state import State
from formsim.stages.sheet import Sheet
from formsim.stages.turn import is_upside_down, turned_over, upright
from tests.unit.shaped import METAL, along, blank, shaped
from tests.unit.solid import problem

BENT = np.pi / 2


def cup(down: bool = False, layers: int = 3) -> Sheet:
    """Cup of arcs with rough displacements and a plastic state of all four kinds."""
    body = blank(columns=24, layers=layers)
    turn = -BENT if down else BENT
    state = shaped(body, along([(12.0, 0.0), (4.0, turn), (30.0, 0.0)], 0.5))
    rng = np.random.default_rng(5)
    u = state.u + rng.uniform(-0.002, 0.002, state.u.shape)
    u[2 * body.axis_nodes()] = 0.0
    plastic = rng.uniform(-0.02, 0.02, state.plastic.shape)
    plastic[..., 3] = np.abs(plastic[..., 3])
    return Sheet(body, METAL, State(0.0, u, plastic, state.positions, state.grip))


def forces(sheet: Sheet) -> np.ndarray:
    task = problem(sheet.body, sheet.material)
    scratch = System(task).scratch
    return internal_force(task, sheet.state.u, sheet.state.plastic, scratch).reshape(-1, 2)


def by_place(sheet: Sheet, values: np.ndarray, mirror: float) -> np.ndarray:
    """Values of the nodes in an order that does not depend on the numbering."""
    places = sheet.body.nodes * [1.0, mirror]
    return values[np.lexsort((places[:, 1].round(9), places[:, 0].round(9)))]


@pytest.mark.parametrize("layers", [1, 2, 3])
def test_turned_over_twice_is_the_same_to_the_last_bit(layers):
    sheet = cup(layers=layers)
    again = turned_over(turned_over(sheet))
    np.testing.assert_array_equal(again.body.nodes, sheet.body.nodes)
    np.testing.assert_array_equal(again.body.elements, sheet.body.elements)
    np.testing.assert_array_equal(again.state.u, sheet.state.u)
    np.testing.assert_array_equal(again.state.plastic, sheet.state.plastic)
    np.testing.assert_allclose(again.body.gradient, sheet.body.gradient, rtol=1e-12, atol=1e-13)
    for edge in ("bottom", "top", "rim", "centre"):
        assert np.array_equal(again.body.faces[edge].nodes, sheet.body.faces[edge].nodes)


def test_internal_forces_are_mirrored():
    sheet = cup()
    before, after = forces(sheet), forces(turned_over(sheet))
    np.testing.assert_allclose(
        by_place(turned_over(sheet), after * [1.0, -1.0], -1.0),
        by_place(sheet, before, 1.0),
        atol=1e-9 * np.abs(before).max(),
    )


def test_faces_change_places():
    sheet = cup(down=True)
    over = turned_over(sheet)
    now, then = over.state.places(over.body), sheet.state.places(sheet.body)
    for face, other in (("top", "bottom"), ("bottom", "top"), ("rim", "rim")):
        mine, its = over.body.edge_nodes(face), sheet.body.edge_nodes(other)
        found = {tuple(p) for p in (now[mine] * [1.0, -1.0]).tolist()}
        assert found == {tuple(p) for p in then[its].tolist()}
    assert over.body.volume.sum() == pytest.approx(sheet.body.volume.sum(), rel=1e-12)


def test_only_a_sheet_that_stands_on_its_rim_is_turned():
    sheet = cup(down=True)
    assert is_upside_down(sheet)
    assert not is_upside_down(upright(sheet))
    places = upright(sheet).state.places(upright(sheet).body)
    rim = places[upright(sheet).body.edge_nodes("rim"), 1]
    assert rim.min() > places[0, 1] + 10.0
    usual = cup()
    assert upright(usual) is usual


def test_a_dome_higher_than_a_low_wall_stays_as_it_is():
    body = blank(outer=24.0, columns=60)
    path = [(0.1, 0.0), (16.0, -0.9), (4.0, 0.9 + BENT), (4.0, 0.0)]
    sheet = Sheet(body, METAL, shaped(body, along(path, 0.5)))
    places = sheet.state.places(body)
    assert places[body.edge_nodes("rim"), 1].max() < places[0, 1]
    assert not is_upside_down(sheet)


def test_a_flat_blank_is_not_turned():
    body = blank()
    sheet = Sheet(body, METAL, shaped(body, lambda r, z: (r, z)))
    assert upright(sheet) is sheet
