"""Outlines from drawings: what is read, what is refused and how, and the way back to a drawing."""

import math
import random
import subprocess
import sys

import ezdxf
import numpy as np
import pytest

from formsim.errors import DrawingError, GeometryError
from formsim.geometry.distance import gaps
from formsim.geometry.drawing import read_outline
from formsim.geometry.drawing_entities import MOST_PIECES
from formsim.geometry.drawing_file import LARGEST
from formsim.geometry.drawing_write import AXIS_LAYER, write_outlines
from formsim.geometry.outline import ARC, CONCAVE, CONVEX, LINE
from formsim.report.drawing import drawing_figure, save_drawing
from formsim.stages import shapes

LAYER = "tool"
SHAPES = {
    "flat punch": (shapes.flat_punch(20.0, 4.0), "below"),
    "round punch": (shapes.round_punch(15.0), "below"),
    "cavity punch": (shapes.cavity_punch(28.0, 3.0, 20.0, 2.0, 8.0), "below"),
    "ring punch": (shapes.ring_punch(28.0, 3.0, 22.0, 1.5, 4.0, 9.0), "below"),
    "stepped punch": (shapes.stepped(shapes.flat_punch(28.0, 3.0), 60.0, 27.95, 8.0), "below"),
    "die": (shapes.die(21.0, 3.0, 3.0, 0.6), "above"),
    "straight die": (shapes.die(21.0, 3.0, 3.0, 0.0), "above"),
    "holder": (shapes.holder(22.0, 1.5), "below"),
    "dome": (shapes.dome_tool(30.0, 3.0, 15.0), "above"),
    "flat ring": (shapes.flat_ring(14.0, 20.0, 1.0), "above"),
    "sleeve": (shapes.sleeve(36.85, 3.3, 28.6, 1.5), "below"),
    "reverse ring": (shapes.reverse_ring(36.8, 3.5, 28.35, 2.5, 3.0, 0.6), "below"),
    "ironing ring": (shapes.ironing_ring(28.2, 8.0, 1.0, 0.5, 5.0), "inside"),
    "taper ring": (shapes.taper_ring(28.0, 22.0, 1.5, 4.0, 0.3, 0.3), "above"),
}


@pytest.fixture
def sheet(tmp_path):
    """Draws with ``build(space, attributes)`` and reads the layer back."""

    def make(build, *, units=4, version="R2010", **options):
        document = ezdxf.new(version, units=units)
        document.layers.add(LAYER)
        build(document.modelspace(), {"layer": LAYER})
        path = tmp_path / "tool.dxf"
        document.saveas(path)
        return read_outline(path, LAYER, **{"free_side": "below", **options})

    return make


def lines(*corners):
    """Builder of a chain of separate lines through corners."""

    def build(space, on):
        for start, end in zip(corners, corners[1:], strict=False):
            space.add_line(start, end, dxfattribs=on)

    return build


def both(*builders):
    def build(space, on):
        for one in builders:
            one(space, on)

    return build


def polyline(points, *, close=False, **attributes):
    """Builder of a polyline of (x, y) or (x, y, bulge)."""

    def build(space, on):
        space.add_lwpolyline(points, format="xyb", close=close, dxfattribs=on | attributes)

    return build


PUNCH = polyline([(10, 30), (10, 2, -math.tan(math.pi / 8)), (8, 0), (0, 0)])
"""Radius 10, nose radius 2, drawn from the top of the wall to the axis."""


def refused(make, *words):
    """The error of a call, which says the words, the file and what to try."""
    with pytest.raises(DrawingError) as caught:
        make()
    text = str(caught.value)
    for word in words:
        assert word in text, text
    assert caught.value.hint
    assert caught.value.file in text
    return caught.value


# Round trip


def test_every_shape_has_a_round_trip():
    makers = {
        name
        for name, value in vars(shapes).items()
        if callable(value) and value.__module__ == shapes.__name__ and not name.startswith("_")
    }
    assert makers == {
        "flat_punch",
        "round_punch",
        "cavity_punch",
        "ring_punch",
        "stepped",
        "die",
        "holder",
        "dome_tool",
        "flat_ring",
        "taper_ring",
        "sleeve",
        "reverse_ring",
        "ironing_ring",
    }
    assert len(SHAPES) == len(makers) + 1


@pytest.mark.parametrize("name", SHAPES)
def test_round_trip_of_a_shape(name, tmp_path):
    outline, side = SHAPES[name]
    path = write_outlines(tmp_path / "tools.dxf", {name: outline})
    drawn = read_outline(path, name, free_side=side)
    assert drawn.outline.pieces.shape == outline.pieces.shape
    np.testing.assert_allclose(drawn.outline.pieces, outline.pieces, rtol=0.0, atol=1e-9)
    assert (drawn.gaps, drawn.corners, drawn.notes, drawn.closed) == ((), (), (), False)


def test_all_shapes_in_one_drawing_each_on_its_layer(tmp_path):
    path = write_outlines(tmp_path / "tools.dxf", {name: one for name, (one, _) in SHAPES.items()})
    for name, (outline, side) in SHAPES.items():
        drawn = read_outline(path, name.upper(), free_side=side)
        np.testing.assert_allclose(drawn.outline.pieces, outline.pieces, rtol=0.0, atol=1e-9)


def test_second_round_trip_changes_nothing(tmp_path):
    outline, side = SHAPES["ring punch"]
    for number in range(3):
        path = write_outlines(tmp_path / f"{number}.dxf", {LAYER: outline})
        outline = read_outline(path, LAYER, free_side=side).outline
    np.testing.assert_allclose(outline.pieces, SHAPES["ring punch"][0].pieces, atol=1e-9)


def test_written_drawing_is_sound_in_millimetres_and_right_of_the_axis(tmp_path):
    path = write_outlines(tmp_path / "a.dxf", {LAYER: shapes.cavity_punch(28, 3, 20, 2, 8)})
    document = ezdxf.readfile(path)
    assert not document.audit().errors
    assert document.header["$INSUNITS"] == 4
    kinds = {(one.dxftype(), one.dxf.layer) for one in document.modelspace()}
    assert kinds == {("LINE", LAYER), ("ARC", LAYER), ("LINE", AXIS_LAYER)}
    ends = [one.dxf.end.x for one in document.modelspace().query(f'LINE[layer=="{LAYER}"]')]
    assert min(ends) == 0.0


# Pieces


def test_bulge_arc_lies_on_the_exact_circle(sheet):
    """Three points of a polyline arc: ends given, centre (20, 7) and radius 5 by construction."""
    first, sweep = math.radians(200.0), math.radians(75.0)
    ends = [(20 + 5 * math.cos(a), 7 + 5 * math.sin(a)) for a in (first, first + sweep)]
    drawn = sheet(polyline([(*ends[0], math.tan(sweep / 4)), ends[1]]))
    (row,) = drawn.outline.pieces
    assert row[:4] == pytest.approx([ARC, 20.0, 7.0, 5.0], abs=1e-12)
    points = drawn.outline.points(50)
    assert np.hypot(*(points - [20.0, 7.0]).T) == pytest.approx(5.0, abs=1e-12)
    angles = sorted(np.degrees(np.arctan2(*(points - [20.0, 7.0]).T[::-1])) % 360.0)
    assert (angles[0], angles[-1]) == pytest.approx((200.0, 275.0), abs=1e-4)


@pytest.mark.parametrize("sweep", [-340.0, -180.0, -1.0, 0.5, 90.0, 180.0, 270.0])
def test_bulge_arc_of_any_sweep(sheet, sweep):
    angle = math.radians(sweep)
    ends = [(9 + 4 * math.cos(a), 4 * math.sin(a)) for a in (0.3, 0.3 + angle)]
    drawn = sheet(polyline([(*ends[0], math.tan(angle / 4)), ends[1]]), gap_tolerance=0.001)
    (piece,) = drawn.pieces
    assert piece.centre == pytest.approx((9.0, 0.0), abs=1e-9)
    assert piece.radius == pytest.approx(4.0, abs=1e-9)
    assert piece.length == pytest.approx(4.0 * abs(angle), abs=1e-9)


def as_lines_and_arc(space, on):
    space.add_arc((8, 2), 2, 270, 360, dxfattribs=on)
    space.add_line((0, 0), (8, 0), dxfattribs=on)
    space.add_line((10, 30), (10, 2), dxfattribs=on)


def as_old_polyline(space, on):
    points = [(0, 0), (8, 0, math.tan(math.pi / 8)), (10, 2), (10, 30)]
    space.add_polyline2d(points, format="xyb", dxfattribs=on)


def as_mirrored(space, on):
    """Drawn left of the axis, then mirrored: such entities keep their x and look backwards."""
    back = on | {"extrusion": (0, 0, -1)}
    space.add_arc((-8, 2), 2, 180, 270, dxfattribs=back)
    space.add_lwpolyline([(0, 0), (-8, 0)], dxfattribs=back)
    space.add_polyline2d([(-10, 30), (-10, 2)], dxfattribs=back)


def as_mirrored_bulge(space, on):
    points = [(0, 0), (-8, 0, -math.tan(math.pi / 8)), (-10, 2), (-10, 30)]
    space.add_lwpolyline(points, format="xyb", dxfattribs=on | {"extrusion": (0, 0, -1)})


@pytest.mark.parametrize(
    "build", [PUNCH, as_lines_and_arc, as_old_polyline, as_mirrored, as_mirrored_bulge]
)
def test_the_same_punch_drawn_in_different_ways(sheet, build):
    drawn = sheet(build)
    rows = drawn.outline.pieces
    assert rows[:, 0].tolist() == [LINE, ARC, LINE]
    assert rows[0, 1:5] == pytest.approx([10, 30, 10, 2])
    assert rows[1, 1:5] == pytest.approx([8, 2, 2, CONVEX])
    assert rows[2, 1:5] == pytest.approx([8, 0, -1, 0], abs=1e-12)
    found = gaps(drawn.outline, np.array([[5.0, -0.5], [0.0, -0.5], [11.0, 20.0], [9.0, 1.0]]))
    assert found == pytest.approx([0.5, 0.5, 1.0, math.sqrt(2) - 2.0])


def test_hollow_arcs_are_concave(sheet):
    drawn = sheet(polyline([(0, 8), (16, 8, -math.tan(math.pi / 8)), (20, 4), (20, 0), (30, 0)]))
    assert drawn.outline.pieces[2, 0:5] == pytest.approx([ARC, 16, 4, 4, CONCAVE])


def test_closed_section_faces_outwards_and_its_axis_is_left_out(sheet):
    block = polyline([(0, 0), (10, 0), (10, 20), (0, 20)], close=True)
    drawn = sheet(block)
    assert [piece.centre for piece in drawn.pieces] == [None] * 3
    assert "axis" in drawn.notes[0]
    assert [round(corner.turn) for corner in drawn.corners] == [-90, -90]
    points = np.array([[5.0, -1.0], [11.0, 10.0], [5.0, 21.0]])
    assert gaps(drawn.outline, points) == pytest.approx([1.0, 1.0, 1.0])


@pytest.mark.parametrize("side", ["below", "above", "inside", "outside"])
def test_round_ring_section_is_free_outside_its_circle(sheet, side):
    drawn = sheet(lambda space, on: space.add_circle((20, 5), 3, dxfattribs=on), free_side=side)
    assert drawn.closed and len(drawn.pieces) == 2
    around = [(20 + 4 * math.cos(a), 5 + 4 * math.sin(a)) for a in np.linspace(0, 6, 13)]
    assert gaps(drawn.outline, np.array(around)) == pytest.approx(1.0)
    assert np.isfinite(drawn.outline.points()).all()


def test_closed_polyline_that_repeats_its_first_point(sheet):
    drawn = sheet(polyline([(5, 0), (8, 0), (8, 4), (5, 4), (5, 0)], close=True))
    assert drawn.closed and len(drawn.pieces) == 4


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize(("side", "free"), [("inside", (19.0, 1.0)), ("outside", (21.0, 1.0))])
def test_free_side_does_not_depend_on_how_it_was_drawn(sheet, side, free, backwards):
    corners = [(20, -5), (20, 5)]
    drawn = sheet(lines(*(corners[::-1] if backwards else corners)), free_side=side)
    assert gaps(drawn.outline, np.array([free]))[0] == pytest.approx(1.0)


def test_free_side_of_a_die_drawn_either_way(sheet):
    corners = [(25, -20), (21, -5), (21, 0), (60, 0)]
    for order in (corners, corners[::-1]):
        drawn = sheet(lines(*order), free_side="above")
        assert gaps(drawn.outline, np.array([[40.0, 2.0], [20.0, -2.0]])) == pytest.approx([2, 1])


def test_end_on_the_axis_goes_on_beyond_it(sheet):
    """A point on the axis, or a hair beside it, still finds the tool."""
    drawn = sheet(lines((0.004, 0), (30, 0)))
    assert gaps(drawn.outline, np.array([[0.0, -2.0], [-1e-9, -2.0]])) == pytest.approx(2.0)


def test_edges_and_notches_are_told(sheet):
    drawn = sheet(lines((30, 10), (20, 10), (20, 0), (0, 0)))
    assert [(one.place, round(one.turn)) for one in drawn.corners] == [
        ((20.0, 10.0), 90),
        ((20.0, 0.0), -90),
    ]


# Units


@pytest.mark.parametrize(("code", "name", "factor"), [
    (1, "inch", 25.4), (4, "mm", 1.0), (5, "cm", 10.0), (6, "m", 1000.0),
])  # fmt: skip
def test_unit_of_the_drawing(sheet, code, name, factor):
    drawn = sheet(lines((0, 0), (2, 0), (2, 3)), units=code)
    assert drawn.unit == name
    assert drawn.outline.pieces[0, 1:5] == pytest.approx(factor * np.array([2, 3, 2, 0]))


def test_drawing_without_a_unit_needs_one(sheet):
    build = lines((0, 0), (2, 0))
    refused(lambda: sheet(build, units=0), "no unit", "mm, cm, m, inch")
    assert sheet(build, units=0, unit="in").pieces[0].length == pytest.approx(50.8)
    assert sheet(build, units=0, unit="inch").unit == "inch"


def test_old_drawing_has_no_unit_though_the_library_has_a_default(tmp_path):
    """An R12 file states none; taken for metres it would be a thousand times too large."""
    text = (
        "0\nSECTION\n2\nENTITIES\n0\nLINE\n8\ntool\n10\n0\n20\n0\n11\n5\n21\n0\n0\nENDSEC\n0\nEOF\n"
    )
    path = tmp_path / "old.dxf"
    path.write_text(text)
    refused(lambda: read_outline(path, LAYER, free_side="below"), "no unit")
    drawn = read_outline(path, LAYER, free_side="below", unit="mm")
    assert drawn.pieces[0].length == 5.0


def test_unit_that_is_not_known(sheet):
    build = lines((0, 0), (2, 0))
    refused(lambda: sheet(build, units=2), "$INSUNITS = 2", "mm, cm, m, inch")
    refused(lambda: sheet(build, unit="furlong"), '"furlong"', "mm, cm, m, inch")


def test_unit_that_overrides_the_drawing_is_noted(sheet):
    drawn = sheet(lines((0, 0), (2, 0)), units=1, unit="mm")
    assert drawn.pieces[0].length == 2.0
    assert "says inch" in drawn.notes[0]


def test_faults_name_places_as_the_drawing_has_them(sheet):
    found = refused(lambda: sheet(lines((1, 0), (-1, 0)), units=1), "x = -1, y = 0 inch")
    assert found.place == pytest.approx((-1.0, 0.0))


# Gaps


def test_gap_between_lines_is_closed_half_way(sheet):
    drawn = sheet(both(lines((0, 0), (8, 0)), lines((8.006, 0.0), (8.006, 9))))
    (gap,) = drawn.gaps
    assert gap.size == pytest.approx(0.006)
    assert gap.place == pytest.approx((8.003, 0.0))
    rows = drawn.outline.pieces
    assert rows[0, 3:5] == pytest.approx(rows[1, 1:3], abs=1e-15)


def test_gap_beside_an_arc_moves_the_line_and_keeps_the_arc(sheet):
    def build(space, on):
        space.add_arc((8, 2), 2, 270, 360, dxfattribs=on)
        space.add_line((0, 0.004), (8, 0.004), dxfattribs=on)
        space.add_line((10, 30), (10, 2.007), dxfattribs=on)

    drawn = sheet(build)
    assert sorted(round(gap.size, 9) for gap in drawn.gaps) == [0.004, 0.007]
    assert drawn.outline.pieces[1, 1:5] == pytest.approx([8, 2, 2, CONVEX], abs=1e-12)
    rows = drawn.outline.pieces
    assert rows[0, 3:5] == pytest.approx([10, 2], abs=1e-12)
    assert rows[2, 1:3] == pytest.approx([8, 0], abs=1e-12)


def test_gap_between_arcs_moves_the_longer_one_and_keeps_its_sweep(sheet):
    def build(space, on):
        space.add_arc((10, 0), 10, 0, 90, dxfattribs=on)
        space.add_arc((10.005, 12), 2, 270, 360, dxfattribs=on)

    drawn = sheet(build, free_side="outside")
    short, long = sorted(drawn.pieces, key=lambda piece: piece.length)
    assert (short.radius, abs(long.sweep)) == pytest.approx((2.0, math.pi / 2))
    assert long.radius == pytest.approx(math.hypot(9.995, 10.0) / math.sqrt(2), abs=1e-9)
    assert drawn.gaps[0].size == pytest.approx(0.005)


def test_rounding_is_closed_without_a_word(sheet):
    drawn = sheet(both(lines((0, 0), (8, 0)), lines((8.0000004, 0), (8, 9))))
    assert drawn.gaps == ()
    assert drawn.outline.pieces[0, 3:5].tolist() == drawn.outline.pieces[1, 1:3].tolist()


def test_gap_tolerance_is_in_mm_whatever_the_drawing_is_in(sheet):
    build = both(lines((0, 0), (8, 0)), lines((8.001, 0), (8.001, 9)))
    assert sheet(build, units=4).gaps
    refused(lambda: sheet(build, units=1), "separate chains", "0.0254 mm apart")
    assert sheet(build, units=1, gap_tolerance=0.03).gaps[0].size == pytest.approx(0.0254)


@pytest.mark.parametrize("tolerance", [-0.1, 1.5, math.nan])
def test_gap_tolerance_out_of_range(sheet, tolerance):
    refused(lambda: sheet(PUNCH, gap_tolerance=tolerance), "expected 0 to 1 mm")


def test_no_gap_tolerance_at_all(sheet):
    assert len(sheet(PUNCH, gap_tolerance=0.0).pieces) == 3


# What is refused on a layer


def test_two_chains(sheet):
    build = both(lines((0, 0), (8, 0)), lines((8.5, 0), (8.5, 9)))
    found = refused(
        lambda: sheet(build),
        "2 separate chains",
        "1 piece from x = 0, y = 0 mm to x = 8, y = 0 mm",
        "0.5 mm apart",
        "gap tolerance of 0.01 mm",
    )
    assert found.place == pytest.approx((8.0, 0.0))
    assert found.entity


def test_closed_chain_beside_an_open_one(sheet):
    ring = polyline([(20, 5), (22, 5), (22, 8)], close=True)
    refused(lambda: sheet(both(PUNCH, ring)), "2 separate chains", "3 pieces, closed")


def test_branch(sheet):
    found = refused(
        lambda: sheet(both(lines((0, 0), (8, 0), (8, 9)), lines((8, 0), (12, -3)))),
        "branches at x = 8, y = 0 mm",
        "3 ends",
        "expected two",
    )
    assert found.place == pytest.approx((8.0, 0.0))


def test_line_that_was_not_trimmed(sheet):
    """The face goes on beyond the corner where the wall meets it."""
    refused(
        lambda: sheet(both(lines((0, 0), (9, 0)), lines((8, 0), (8, 9)))),
        "ends on the middle of",
        "x = 8, y = 0 mm",
    )


@pytest.mark.parametrize("extra", [
    lines((0, 0), (8, 0)), lines((8, 0), (0, 0)), lines((5, 0), (7, 0)), lines((7, 0.003), (40, 0)),
])  # fmt: skip
def test_line_drawn_twice(sheet, extra):
    found = refused(lambda: sheet(both(lines((0, 0), (8, 0), (8, 9)), extra)), "lie on each other")
    assert "duplicate" in found.hint


@pytest.mark.parametrize("angles", [(270, 360), (280, 300), (300, 400)])
def test_arc_drawn_twice(sheet, angles):
    def extra(space, on):
        space.add_arc((8, 2), 2, *angles, dxfattribs=on)

    refused(lambda: sheet(both(PUNCH, extra)), "lie on each other", "expected every line and arc")


def test_pieces_of_one_line_or_circle_end_to_end_are_no_overlap(sheet):
    def build(space, on):
        space.add_arc((0, 20), 20, 270, 300, dxfattribs=on)
        space.add_arc((0, 20), 20, 300, 345, dxfattribs=on)

    assert len(sheet(build).pieces) == 2
    assert len(sheet(lines((0, 0), (8, 0), (20, 0))).pieces) == 2


@pytest.mark.parametrize("corners", [
    [(0, 0), (10, 0), (10, 10), (5, -3)],
    [(0, 0), (10, 0), (10, 5), (4, 5), (4, -5)],
])  # fmt: skip
def test_lines_that_cross(sheet, corners):
    found = refused(lambda: sheet(lines(*corners)), "crosses itself", "meet there")
    assert found.place[1] == pytest.approx(0.0)


def test_line_that_crosses_an_arc(sheet):
    build = polyline([(20, 20), (20, 5, -1.0), (10, 5), (10, 1), (22, 1)])
    found = refused(lambda: sheet(build), "crosses itself")
    assert math.dist(found.place, (15, 5)) == pytest.approx(5.0)


def test_arcs_that_cross(sheet):
    build = polyline([(20, 0, 1.0), (10, 0), (10, -3), (14, -3, -1.0), (24, -3)])
    found = refused(lambda: sheet(build), "crosses itself")
    assert math.dist(found.place, (15, 0)) == pytest.approx(5.0)
    assert math.dist(found.place, (19, -3)) == pytest.approx(5.0)


def test_chain_that_touches_itself(sheet):
    build = lines((0, 0), (10, 0), (10, 5), (4, 0), (4, -6))
    refused(lambda: sheet(build), "crosses itself")


def test_left_of_the_axis(sheet):
    found = refused(lambda: sheet(lines((-8, 0), (8, 0), (8, 9))), "left of the axis", "x >= 0")
    assert found.place == pytest.approx((-8.0, 0.0))


def test_arc_that_bulges_over_the_axis(sheet):
    """Its ends are right of the axis, its middle is at x = -2."""
    build = polyline([(3, 5, 1.0), (3, -5)])
    found = refused(lambda: sheet(build), "left of the axis", "x = -2, y = 0 mm")
    assert "right half" in found.hint


def test_circle_on_the_axis(sheet):
    refused(
        lambda: sheet(lambda space, on: space.add_circle((0, 5), 3, dxfattribs=on)),
        "left of the axis at x = -3",
    )


def test_only_the_axis(sheet):
    refused(lambda: sheet(lines((0, 0), (0, 50))), "lies on the axis")


def test_piece_of_no_length(sheet):
    found = refused(
        lambda: sheet(both(PUNCH, lines((8, 0), (8, 0)))), "of no length", "x = 8, y = 0 mm"
    )
    assert "delete it" in found.hint


def test_repeated_point_of_a_polyline(sheet):
    found = refused(lambda: sheet(polyline([(0, 0), (8, 0), (8, 0), (8, 9)])), "of no length")
    assert found.entity.endswith("segment 2")


def test_arc_that_goes_nowhere(sheet):
    refused(
        lambda: sheet(lambda space, on: space.add_arc((8, 2), 2, 30, 30, dxfattribs=on)),
        "of no length",
    )


def test_arc_around_the_whole_circle(sheet):
    drawn = sheet(lambda space, on: space.add_arc((8, 2), 2, 30, 390, dxfattribs=on))
    assert drawn.closed


def test_arc_without_a_radius(sheet):
    refused(
        lambda: sheet(lambda space, on: space.add_arc((8, 2), -2, 30, 90, dxfattribs=on)),
        "radius -2",
        "x = 8, y = 2 mm",
    )


def test_piece_shorter_than_the_gap_tolerance(sheet):
    build = lines((0, 0), (8, 0), (8.05, 0), (8.05, 9))
    assert len(sheet(build).pieces) == 3
    refused(lambda: sheet(build, gap_tolerance=0.1), "0.05 mm from end to end", "0.1 mm")


def test_spline_says_how_to_convert_it(sheet):
    def build(space, on):
        space.add_spline([(8, 0), (9, 0.5), (10, 2)], dxfattribs=on)

    found = refused(
        lambda: sheet(both(lines((0, 0), (8, 0)), build)), "SPLINE (entity", "expected LINE, ARC"
    )
    assert "polyline of arcs" in found.hint


def test_everything_else_is_named(sheet):
    def build(space, on):
        space.add_text("nose", dxfattribs=on).set_placement((3, 4))
        space.add_blockref("STAMP", (1, 2), dxfattribs=on)
        space.add_ellipse((5, 5), (3, 0), 0.5, dxfattribs=on)
        for k in range(6):
            space.add_point((k, 0), dxfattribs=on)

    found = refused(
        lambda: sheet(both(PUNCH, build)),
        "TEXT (entity",
        "at x = 3, y = 4 mm",
        "INSERT (entity",
        "ELLIPSE (entity",
        "and 3 more",
    )
    assert found.place == (3.0, 4.0)
    for advice in ("another layer", "explode", "polyline of arcs"):
        assert advice in found.hint


def test_entity_of_an_unknown_type_is_not_overlooked(sheet, tmp_path):
    sheet(PUNCH)
    path = tmp_path / "tool.dxf"
    path.write_text(path.read_text().replace("LWPOLYLINE", "ODDSHAPE"))
    refused(lambda: read_outline(path, LAYER, free_side="below"), "ODDSHAPE (entity")


def test_other_layers_do_not_matter(sheet):
    def build(space, on):
        space.add_text("R 2", dxfattribs={"layer": "words"})
        space.add_line((-5, 0), (-9, 0), dxfattribs={"layer": "other"})

    assert len(sheet(both(PUNCH, build)).pieces) == 3


def test_out_of_the_plane(sheet):
    refused(lambda: sheet(lines((0, 0, 0), (8, 0, 3))), "leaves the plane")
    tilted = {"extrusion": (0, 1, 1)}
    refused(
        lambda: sheet(
            lambda space, on: space.add_arc((8, 2), 2, 0, 90, dxfattribs=on | tilted),
        ),
        "not in the x-y plane",
    )
    refused(lambda: sheet(polyline([(0, 0), (5, 0)], **tilted)), "not in the x-y plane")


def test_polyline_in_space_or_smoothed(sheet):
    refused(
        lambda: sheet(lambda s, on: s.add_polyline3d([(0, 0, 0), (5, 0, 0)], dxfattribs=on)),
        "three-dimensional or smoothed",
    )
    smooth = {"flags": 4}
    refused(
        lambda: sheet(lambda s, on: s.add_polyline2d([(0, 0), (5, 0)], dxfattribs=on | smooth)),
        "three-dimensional or smoothed",
    )


def test_polyline_of_one_point(sheet):
    refused(lambda: sheet(polyline([(3, 0)])), "single point")


def test_numbers_that_are_none(sheet, tmp_path):
    sheet(lines((0, 0), (7.125, 0)))
    path = tmp_path / "tool.dxf"
    for bad in ("nan", "inf", "1e300"):
        odd = tmp_path / f"{bad}.dxf"
        odd.write_text(path.read_text().replace("7.125", bad))
        refused(lambda odd=odd: read_outline(odd, LAYER, free_side="below"), "out of all range")


def test_side_that_cannot_be_told(sheet):
    """Above a punch there is no free space: its wall ends there."""
    found = refused(lambda: sheet(PUNCH, free_side="above"), "x = 10, y = 30 mm", "farthest above")
    assert "really above" in found.hint


def test_far_too_many_pieces(sheet):
    corners = [(5 + 0.1 * k, k % 2) for k in range(MOST_PIECES + 2)]
    refused(lambda: sheet(polyline(corners)), f"more than {MOST_PIECES}")


# Layers


def test_missing_layer_lists_those_there_are(sheet, tmp_path):
    sheet(
        both(PUNCH, lambda space, on: space.add_line((0, 0), (1, 1), dxfattribs={"layer": "die"}))
    )
    found = refused(
        lambda: read_outline(tmp_path / "tool.dxf", "punsh", free_side="below"), "no such layer"
    )
    assert "die (1), tool (1)" in found.hint
    assert found.layer == "punsh"


def test_empty_layer(sheet):
    found = refused(lambda: sheet(lambda space, on: space.add_line((0, 0), (1, 1))), "is empty")
    assert "0 (1)" in found.hint


def test_empty_drawing(sheet):
    assert "model space is empty" in refused(lambda: sheet(lambda space, on: None)).hint


# Files


def test_missing_file(tmp_path):
    (tmp_path / "punch.dxf").touch()
    found = refused(
        lambda: read_outline(tmp_path / "punsh.dxf", LAYER, free_side="below"), "no such file"
    )
    assert "punch.dxf" in found.hint


def test_folder_in_place_of_a_file(tmp_path):
    refused(lambda: read_outline(tmp_path, LAYER, free_side="below"), "folder")


def test_path_that_is_none(tmp_path):
    refused(lambda: read_outline("a\0b", LAYER, free_side="below"), "cannot be read")


@pytest.mark.parametrize(
    "data", [b"", b"hello\nworld\n", b"\0\1\2" * 99, b"%PDF-1.7\n", b"[sheet]\nthickness = 0.3\n"]
)
def test_not_a_drawing(tmp_path, data):
    path = tmp_path / "a.dxf"
    path.write_bytes(data)
    refused(lambda: read_outline(path, LAYER, free_side="below"), "not a DXF file")


def test_drawing_of_the_other_format(tmp_path):
    path = tmp_path / "a.dxf"
    path.write_bytes(b"AC1032" + bytes(300))
    found = refused(lambda: read_outline(path, LAYER, free_side="below"), "DWG", "expected DXF")
    assert "DXF" in found.hint


def test_file_too_large(tmp_path):
    path = tmp_path / "a.dxf"
    with path.open("wb") as file:
        file.truncate(LARGEST + 1)
    refused(lambda: read_outline(path, LAYER, free_side="below"), "20.0 MB", "at most 20 MB")


def test_unreadable_file(tmp_path, monkeypatch):
    path = tmp_path / "a.dxf"
    path.touch()

    def denied(self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.read_bytes", denied)
    refused(lambda: read_outline(path, LAYER, free_side="below"), "permission denied")


def test_truncated_file_is_damaged(sheet, tmp_path):
    sheet(PUNCH)
    text = (tmp_path / "tool.dxf").read_text()
    cut = tmp_path / "cut.dxf"
    for share in np.linspace(0.02, 0.98, 25):
        cut.write_text(text[: int(share * len(text))])
        refused(lambda: read_outline(cut, LAYER, free_side="below"), "damaged")


def test_drawing_without_a_model_space_is_damaged(sheet, tmp_path):
    sheet(PUNCH)
    path = tmp_path / "tool.dxf"
    path.write_text(path.read_text().replace("\nModel\n", "\nMudel\n"))
    refused(lambda: read_outline(path, LAYER, free_side="below"), "damaged")


def test_flipped_bytes_give_an_outline_or_a_clear_error(sheet, tmp_path):
    sheet(both(as_lines_and_arc, lines((10, 30), (12, 35))))
    data = (tmp_path / "tool.dxf").read_bytes()
    start = data.index(b"ENTITIES")
    dice = random.Random(7)
    bad = tmp_path / "bad.dxf"
    outcomes = []
    for _ in range(150):
        mangled = bytearray(data)
        for _ in range(dice.choice([1, 2, 5])):
            mangled[dice.randrange(start, start + 900)] = dice.randrange(256)
        bad.write_bytes(mangled)
        try:
            outcomes.append(bool(read_outline(bad, LAYER, free_side="below").pieces))
        except DrawingError as error:
            assert error.hint
            outcomes.append(False)
    assert True in outcomes and False in outcomes


def test_binary_drawing(tmp_path):
    document = ezdxf.new(units=4)
    PUNCH(document.modelspace(), {"layer": LAYER})
    document.saveas(tmp_path / "a.dxf", fmt="bin")
    assert len(read_outline(tmp_path / "a.dxf", LAYER, free_side="below").pieces) == 3


def test_drawing_error_is_a_geometry_error():
    assert issubclass(DrawingError, GeometryError)


def test_the_library_loads_only_when_a_drawing_is_read():
    code = (
        "import sys, formsim.geometry.drawing, formsim.geometry.drawing_write;"
        "sys.exit('ezdxf' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# Writing


def test_existing_drawing_is_not_written_over(tmp_path):
    outlines = {LAYER: shapes.holder(22.0, 1.5)}
    path = write_outlines(tmp_path / "a.dxf", outlines)
    refused(lambda: write_outlines(path, outlines), "there already")
    assert write_outlines(path, outlines, replace=True) == path


def test_drawing_that_cannot_be_written(tmp_path):
    path = tmp_path / "nowhere" / "a.dxf"
    refused(lambda: write_outlines(path, {LAYER: shapes.holder(22.0, 1.5)}), "cannot be written")


@pytest.mark.parametrize("name", ["", "  ", "a/b", "a*", "a\nb", AXIS_LAYER.upper()])
def test_layer_that_cannot_have_this_name(tmp_path, name):
    refused(lambda: write_outlines(tmp_path / "a.dxf", {name: shapes.holder(22.0, 1.5)}), name)
    assert not list(tmp_path.iterdir())


def test_layers_that_differ_only_in_case(tmp_path):
    one = shapes.holder(22.0, 1.5)
    refused(lambda: write_outlines(tmp_path / "a.dxf", {"Die": one, "die": one}), '"die" is taken')


# Picture


def drawn_with_everything(sheet):
    build = both(
        lines((0, 6), (14, 6), (14, 2.004)),
        polyline([(14, 2, math.tan(math.pi / 4)), (18, 2), (18, 400)]),
        lines((0, -5), (0, 30)),
    )
    return sheet(build, units=4)


def test_picture_shows_pieces_radii_gaps_and_the_axis(sheet, tmp_path):
    drawn = drawn_with_everything(sheet)
    figure = drawing_figure(drawn)
    axes, words = figure.axes
    labels = [text.get_text() for text in axes.texts]
    assert labels == ["1", "2: R 2", "3", "4", "axis"]
    rows = words.texts[0].get_text()
    for part in (
        "tool.dxf, layer tool",
        "gap of 4 um closed at r 14, z 2",
        "round R 2, 180 deg",
        "line 398 mm",
        "lies on the axis and was left out",
        "notch of 90 deg",
    ):
        assert part in rows
    assert axes.get_ylim()[1] < 60.0
    assert any(patch.get_hatch() for patch in axes.patches)
    svg, png = save_drawing(drawn, tmp_path / "picture")
    assert svg.stat().st_size > 5_000 and png.stat().st_size > 5_000


@pytest.mark.parametrize("build", [
    lines((5, 0), (9, 0)),
    lambda space, on: space.add_circle((400, 5), 3, dxfattribs=on),
    pytest.param(polyline([(5 + k, k % 2) for k in range(60)]), marks=pytest.mark.slow),
])  # fmt: skip
def test_picture_of_any_outline(sheet, build, tmp_path):
    save_drawing(sheet(build), tmp_path / "picture")
