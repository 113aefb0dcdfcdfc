"""Tool outlines: fillets, direction of the free side, shifted copies, faults."""

import numpy as np
import pytest

from formsim.errors import GeometryError
from formsim.geometry.distance import gaps
from formsim.geometry.outline import ARC, CONCAVE, CONVEX, LINE, Outline, arc, chain, line
from formsim.stages import shapes


def test_line_knows_its_direction_and_length():
    piece = line((1.0, 2.0), (4.0, 6.0))
    assert piece.tolist() == [LINE, 1.0, 2.0, 4.0, 6.0, 0.6, 0.8, 5.0]


def test_line_of_no_length_is_refused():
    with pytest.raises(GeometryError, match="no length"):
        line((1.0, 2.0), (1.0, 2.0))


def test_free_space_is_on_the_left():
    floor = Outline(np.array([line((0.0, 0.0), (10.0, 0.0))]))
    found = gaps(floor, np.array([[5.0, 2.0], [5.0, -1.0], [12.0, 1.0]]))
    assert found.tolist() == [2.0, -1.0, np.inf]


@pytest.mark.parametrize(("sign", "expected"), [(CONVEX, 1.0), (CONCAVE, -1.0)])
def test_sign_of_an_arc(sign, expected):
    """Outside of a convex arc is free, inside of a concave one."""
    piece = Outline(np.array([arc((0.0, 0.0), 5.0, sign, 0.0, np.pi)]))
    assert gaps(piece, np.array([[0.0, 6.0]]))[0] == pytest.approx(expected)
    assert gaps(piece, np.array([[0.0, 4.0]]))[0] == pytest.approx(-expected)
    assert gaps(piece, np.array([[0.0, -6.0]]))[0] == np.inf


def corner(radius, turn):
    end = (10.0, 10.0) if turn > 0 else (10.0, -10.0)
    return chain([(0.0, 0.0), (10.0, 0.0), end], [radius])


@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_fillet_touches_both_sides(turn):
    """Radius 3 in a right angle: centre 3 from both lines, tangents continuous."""
    outline = corner(3.0, turn)
    assert outline.pieces[:, 0].tolist() == [LINE, ARC, LINE]
    assert outline.pieces[1, 1:5] == pytest.approx([7.0, 3.0 * turn, 3.0, -turn])
    assert outline.pieces[0, 3:5] == pytest.approx([7.0, 0.0])
    assert outline.pieces[2, 1:3] == pytest.approx([10.0, 3.0 * turn])
    points = outline.points(200)
    steps = np.diff(points, axis=0)
    steps = steps[np.hypot(*steps.T) > 1e-9]
    angles = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    assert np.ptp(angles) == pytest.approx(np.pi / 2, abs=1e-6)
    assert np.abs(np.diff(angles)).max() < 0.02


def test_fillet_that_just_fits_leaves_no_line():
    outline = chain([(0.0, 0.0), (10.0, 0.0), (10.0, 20.0)], [10.0])
    assert outline.pieces[:, 0].tolist() == [ARC, LINE]


def test_fillet_without_room_is_refused():
    with pytest.raises(GeometryError, match="radius 11 mm") as caught:
        chain([(0.0, 0.0), (10.0, 0.0), (10.0, 20.0)], [11.0])
    assert caught.value.hint


TOOLS = {
    "punch": shapes.flat_punch(20.0, 4.0),
    "ball": shapes.round_punch(15.0),
    "die": shapes.die(21.0, 3.0, 3.0, 0.6),
    "straight die": shapes.die(21.0, 3.0, 3.0, 0.0),
    "holder": shapes.holder(22.0, 1.5),
    "dome": shapes.dome_tool(30.0, 3.0, 15.0),
    "clamp": shapes.flat_ring(14.0, 20.0, 1.0),
}


@pytest.mark.parametrize("name", TOOLS)
def test_drawn_points_lie_on_the_outline(name):
    outline = TOOLS[name]
    points = outline.points()
    found = gaps(outline, points)
    assert np.abs(found).max() < 1e-9


@pytest.mark.parametrize("name", TOOLS)
def test_shifted_copy(name):
    outline = TOOLS[name]
    before = outline.pieces.copy()
    points = outline.points() + [0.3, -0.2]
    moved = outline.moved(2.0, -5.0)
    np.testing.assert_allclose(gaps(moved, points + [2.0, -5.0]), gaps(outline, points), atol=1e-9)
    np.testing.assert_array_equal(outline.pieces, before)


def test_tools_face_the_sheet():
    """Free below a punch and a holder, above a die, outside of the punch and inside of the die."""
    for name, free, solid in [
        ("punch", (5.0, -1.0), (5.0, 1.0)),
        ("punch", (21.0, 30.0), (19.0, 30.0)),
        ("holder", (40.0, -1.0), (40.0, 1.0)),
        ("die", (40.0, 1.0), (40.0, -1.0)),
        ("die", (20.0, -4.0), (22.0, -4.0)),
        ("dome", (0.5, 1.0), (0.5, -1.0)),
    ]:
        found = gaps(TOOLS[name], np.array([free, solid]))
        assert found[0] > 0 > found[1], name
