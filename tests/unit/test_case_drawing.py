"""Outlines of tools from a drawing in a case: the keys, the faults, and the shape that is used."""

import math
import shutil
import tomllib
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from formsim.case.drawing import LARGEST, Drawing
from formsim.case.lines import Origin
from formsim.case.load import build_case, load_case, parse_case
from formsim.errors import CaseError, DrawingError
from formsim.geometry.distance import gaps
from formsim.geometry.drawing_write import write_outlines
from formsim.geometry.outline import LINE, Outline, line
from formsim.report.drawn_tools import drawings_text
from formsim.results.kept_drawings import copies_in, copy_names, led_to_copies
from formsim.stages import shapes
from formsim.stages.drawn import BRIDGED, fitted
from formsim.stages.drawn_check import drawn_tools
from formsim.stages.roles import role_of
from formsim.stages.toolset import toolset

CASES = Path(__file__).parents[2] / "cases"
PUNCH, DIE, HOLDER = 37.0, 37.31, 37.56
ROUND = math.tan(math.radians(22.5))
"""Bulge of a quarter circle."""

CASE = """
title = "Drawn tools"
source = "invented"
[sheet]
material = "can-body-demo"
thickness = 0.28
blank_diameter = 118.0
[[stage]]
kind = "draw"
punch = { diameter = 74.0, nose_radius = 3.0@punch@ }
die = { radius = 2.5, clearance = 0.31@die@ }
holder = { force = "8 kN"@holder@ }
"""


def case_text(**tools: str) -> str:
    """Text of a draw whose tools take their outline from ``tools``, such as ``die="layer"``."""
    text = CASE
    for name in ("punch", "die", "holder"):
        more = tools.get(name, "")
        text = text.replace(f"@{name}@", f", outline = {{ {more} }}" if more else "")
    return text


def outline(layer: str, more: str = "") -> str:
    return f'file = "tools.dxf", layer = "{layer}"{more}'


@pytest.fixture
def draw(tmp_path):
    """Draws chains of (x, y, bulge) into ``tools.dxf``: layer -> corners."""

    def make(closed=False, factor=1.0, units=4, name="tools.dxf", **chains):
        document = ezdxf.new(units=units)
        for layer, corners in chains.items():
            points = [(x * factor, y * factor, *bulge) for x, y, *bulge in corners]
            document.modelspace().add_lwpolyline(
                points, format="xyb", close=closed, dxfattribs={"layer": layer}
            )
        document.saveas(tmp_path / name)

    return make


def read(folder, **tools):
    return parse_case(case_text(**tools), "case.toml", folder)


def faults(folder, **tools):
    with pytest.raises(CaseError) as caught:
        drawn_tools(read(folder, **tools))
    return caught.value.faults


def told(tools) -> str:
    """Text about drawn tools without its line breaks."""
    return " ".join(drawings_text(tools).split())


def one_fault(folder, **tools) -> str:
    (fault,) = faults(folder, **tools)
    assert fault.line
    return str(fault)


def punch_profile(top=30.0, radius=PUNCH):
    return [(radius, top), (radius, 3.0, -ROUND), (radius - 3.0, 0.0), (0.0, 0.0)]


def die_profile(land=-5.0, out=70.0):
    return [(DIE, land), (DIE, -2.5, -ROUND), (DIE + 2.5, 0.0), (out, 0.0)]


# Keys of the case


def test_a_drawing_is_looked_for_beside_the_case_file(tmp_path, draw, monkeypatch):
    folder = tmp_path / "there"
    folder.mkdir()
    draw(punch=punch_profile())
    shutil.move(tmp_path / "tools.dxf", folder / "tools.dxf")
    (folder / "case.toml").write_text(case_text(punch=outline("punch")))
    case = load_case(folder / "case.toml")
    assert case.stages[0].punch.outline.file.path == folder / "tools.dxf"
    monkeypatch.chdir(folder)
    assert parse_case(case_text(punch=outline("punch")), "x").digest == case.digest


@pytest.mark.parametrize(
    ("given", "key", "said"),
    [
        ('file = "tool.dxf", layer = "a"', "file", "no such file; in"),
        ('file = "no/tool.dxf", layer = "a"', "file", "no such file in"),
        ('file = ".", layer = "a"', "file", "is a folder"),
        ('file = "", layer = "a"', "file", "name of a DXF file"),
        ("file = 3, layer = 'a'", "file", "not a text"),
        ("file = 'a\\b.dxf', layer = 'a'", "file", "between folders stands /"),
        ('layer = "a"', "file", "is missing; expected the name of a DXF file"),
        ('file = "tools.dxf"', "layer", "is missing"),
        ('file = "tools.dxf", layer = ""', "layer", "must not be empty"),
        ('file = "tools.dxf", layer = "a", gap_tolerance = 3', "gap_tolerance", "0 to 1 mm"),
        ('file = "tools.dxf", layer = "a", unit = "foot"', "unit", "inch"),
        ('file = "tools.dxf", layr = "a"', "layr", 'did you mean "layer"'),
    ],
)
def test_faults_of_the_keys_name_key_and_line(tmp_path, draw, given, key, said):
    draw(punch=punch_profile())
    with pytest.raises(CaseError) as caught:
        read(tmp_path, die=given)
    (fault,) = caught.value.faults
    assert fault.key == f"stage[0].die.outline.{key}"
    assert said in fault.expected
    assert (
        fault.line == CASE.splitlines().index(next(x for x in CASE.splitlines() if "die" in x)) + 1
    )


def test_a_drawing_far_too_large(tmp_path):
    with (tmp_path / "tools.dxf").open("wb") as file:
        file.truncate(LARGEST + 1)
    with pytest.raises(CaseError, match="it is 20.0 MB; at most 20 MB"):
        read(tmp_path, die=outline("die"))


def test_other_faults_are_told_together_with_a_missing_drawing(tmp_path):
    text = case_text(punch=outline("punch")).replace("thickness = 0.28", "thickness = -1")
    with pytest.raises(CaseError) as caught:
        parse_case(text, "case.toml", tmp_path)
    assert [fault.key for fault in caught.value.faults] == [
        "sheet.thickness",
        "stage[0].punch.outline.file",
    ]


def test_the_digest_counts_what_is_drawn_and_not_its_name(tmp_path, draw):
    draw(punch=punch_profile())
    before = read(tmp_path, punch=outline("punch")).digest
    shutil.copy(tmp_path / "tools.dxf", tmp_path / "other.dxf")
    renamed = outline("punch").replace("tools", "other")
    assert read(tmp_path, punch=renamed).digest == before
    assert read(tmp_path).digest != before
    draw(punch=punch_profile(31.0))
    assert read(tmp_path, punch=outline("punch")).digest != before


def test_a_drawing_changed_after_the_case_was_read_is_refused(tmp_path, draw):
    draw(punch=punch_profile())
    case = read(tmp_path, punch=outline("punch"))
    draw(punch=punch_profile(31.0))
    with pytest.raises(CaseError, match="changed since the case was read"):
        drawn_tools(case)


# What a drawing has to be


def test_all_drawings_at_fault_are_told_at_once(tmp_path, draw):
    draw(punch=punch_profile())
    found = faults(tmp_path, punch=outline("punsh"), die=outline("die"))
    assert [fault.key for fault in found] == ["stage[0].punch.outline", "stage[0].die.outline"]
    assert "punch (1)" in found[0].expected


def test_a_drawing_in_a_unit_of_its_own(tmp_path, draw):
    draw(punch=punch_profile(), factor=1.0 / 25.4, units=0)
    assert "has no unit" in one_fault(tmp_path, punch=outline("punch"))
    (tool,) = drawn_tools(read(tmp_path, punch=outline("punch", ', unit = "inch"')))
    assert tool.fitted.outline.pieces[0, 1] == pytest.approx(PUNCH)
    assert "drawn in inch" in told([tool])


def test_dimensions_and_drawing_must_agree(tmp_path, draw):
    draw(punch=punch_profile(radius=37.1), die=die_profile())
    said = one_fault(tmp_path, punch=outline("punch"), die=outline("die"))
    assert "widest it is drawn 74.2 mm in diameter, but punch.diameter is 74 mm" in said
    draw(die=[(r + 0.05, *rest) for r, *rest in die_profile()])
    said = one_fault(tmp_path, die=outline("die"))
    assert "narrowest it is drawn 74.72 mm" in said and "is 74.62 mm" in said


def test_a_sharp_edge_in_reach_is_refused(tmp_path, draw):
    draw(die=[(DIE, -5.0), (DIE, 0.0), (70.0, 0.0)])
    said = one_fault(tmp_path, die=outline("die"))
    assert "a sharp edge of 90 degrees at x = 37.31, y = 0 mm" in said
    assert "give it a radius" in said


def test_a_sharp_edge_out_of_reach_does_not_matter(tmp_path, draw):
    draw(die=[*die_profile(out=80.0), (80.0, -20.0)])
    (tool,) = drawn_tools(read(tmp_path, die=outline("die")))
    assert "1 sharp edge out of reach" in told([tool])


def test_the_back_of_a_closed_holder_does_not_matter_that_of_a_die_does(tmp_path, draw):
    closed = [(HOLDER, 20.0), (HOLDER, 1.5, ROUND), (HOLDER + 1.5, 0.0), (80.0, 0.0), (80.0, 20.0)]
    draw(holder=closed, closed=True)
    (tool,) = drawn_tools(read(tmp_path, holder=outline("holder")))
    assert not tool.fitted.carried
    draw(die=[*die_profile(-20.0, 80.0), (80.0, -20.0)], closed=True)
    said = one_fault(tmp_path, die=outline("die"))
    assert "at x = 37.31, y = -20 mm" in said and "x = 80" not in said


def test_many_sharp_edges_are_counted(tmp_path, draw):
    arc = [
        (DIE + 2.5 - 2.5 * math.cos(a), 2.5 * math.sin(a) - 2.5) for a in np.linspace(0, 1.57, 9)
    ]
    draw(die=[(DIE, -5.0), *arc, (70.0, 0.0)])
    assert "and 6 more" in one_fault(tmp_path, die=outline("die"))


def test_an_end_at_the_back_that_points_at_the_tool_stays(tmp_path, draw):
    hook = [(45.0, 12.0), (80.0, 12.0), (80.0, 0.0)]
    draw(holder=[*hook, (HOLDER + 1.5, 0.0, -ROUND), (HOLDER, 1.5), (HOLDER, 20.0)])
    (tool,) = drawn_tools(read(tmp_path, holder=outline("holder")))
    assert tool.fitted.ends == ((45.0, 12.0),)
    assert tool.fitted.carried == ((HOLDER, 20.0),)


# The shape that is used


def shape_of(case, name="die"):
    stage = case.stages[0]
    return fitted(getattr(stage, name).outline, role_of(stage, name))


def test_ends_go_on_straight(tmp_path, draw):
    draw(die=die_profile(), punch=punch_profile(5.0))
    case = read(tmp_path, die=outline("die"), punch=outline("punch"))
    die, punch = shape_of(case), shape_of(case, "punch")
    assert gaps(die.outline, np.array([[DIE - 0.1, -400.0], [400.0, 0.2]])) == pytest.approx(
        [0.1, 0.2]
    )
    assert gaps(punch.outline, np.array([[PUNCH + 0.1, 400.0]])) == pytest.approx([0.1])
    assert die.carried == ((DIE, -5.0), (70.0, 0.0))
    assert punch.carried == ((PUNCH, 5.0),)


def test_an_arc_at_the_end_goes_on_along_its_tangent(tmp_path, draw):
    draw(punch=punch_profile()[1:])
    punch = shape_of(read(tmp_path, punch=outline("punch")), "punch")
    assert len(punch.outline.pieces) == 3
    assert gaps(punch.outline, np.array([[PUNCH + 0.1, 400.0]])) == pytest.approx([0.1])


def test_a_drawing_is_moved_to_its_face(tmp_path, draw):
    up = [(r, z + 210.0, *rest) for r, z, *rest in die_profile()]
    draw(die=up, punch=[(r, z - 77.0, *rest) for r, z, *rest in punch_profile()])
    case = read(tmp_path, die=outline("die"), punch=outline("punch"))
    assert gaps(shape_of(case).outline, np.array([[60.0, 0.5]])) == pytest.approx([0.5])
    assert gaps(shape_of(case, "punch").outline, np.array([[9.0, -0.5]])) == pytest.approx([0.5])


def test_contact_sees_beside_a_slight_edge(tmp_path, draw):
    tilt = math.tan(math.radians(0.9 * BRIDGED))
    draw(die=[*die_profile(out=50.0), (90.0, -40.0 * tilt)])
    die = shape_of(read(tmp_path, die=outline("die")))
    beside = math.radians(90.0 - 0.45 * BRIDGED)
    points = np.array([[50.0 + d * math.cos(beside), d * math.sin(beside)] for d in (1e-4, 0.1)])
    assert gaps(die.outline, points) == pytest.approx([1e-4, 0.1])
    assert "1 slight edge bridged" in told(drawn_tools(read(tmp_path, die=outline("die"))))


def test_what_was_understood_is_told(tmp_path, draw):
    draw(die=die_profile())
    document = ezdxf.readfile(tmp_path / "tools.dxf")
    document.modelspace().add_line((70.006, 0.0), (75.0, 0.0), dxfattribs={"layer": "die"})
    document.saveas(tmp_path / "tools.dxf")
    text = told(drawn_tools(read(tmp_path, die=outline("die"))))
    assert "stage[0].die.outline: tools.dxf, layer die" in text
    assert "an open outline of 4 lines and arcs, drawn in mm; smallest round R 2.5 mm" in text
    assert "1 gap closed, the widest 6 um" in text
    assert "carried on straight beyond r 37.31, z -5 mm and r 75, z 0 mm" in text


# Rings


RING = """
title = "Drawn ring"
source = "invented"
start = { kind = "cup", diameter = 56.6, height = 40.0, corner_radius = 3.0 }
[sheet]
material = "can-body-demo"
thickness = 0.3
[[stage]]
kind = "iron"
punch = { diameter = 56.0, nose_radius = 3.0 }
rings = [ { bore = 56.5, outline = { file = "ring.dxf", layer = "ring" } } ]
"""


def ring_case(folder, built, dz=0.0):
    write_outlines(folder / "ring.dxf", {"ring": built.moved(0.0, dz)}, replace=True)
    return parse_case(RING, "ring.toml", folder)


def test_a_drawn_ring_is_the_built_one(tmp_path):
    built = shapes.ironing_ring(28.25, 8.0, 1.0, 0.5, 5.0)
    (tool,) = drawn_tools(ring_case(tmp_path, built))
    assert np.abs(tool.fitted.outline.pieces - built.pieces).max() < 1e-9


def test_the_entry_of_a_drawn_ring_lies_at_zero(tmp_path):
    built = shapes.ironing_ring(28.25, 8.0, 1.0, 0.5, 5.0)
    with pytest.raises(CaseError, match=r"rings\[0\].outline: .* land is drawn from z = "):
        drawn_tools(ring_case(tmp_path, built, 7.0))


def test_a_ring_that_ends_on_its_entry_cone_is_refused(tmp_path, draw):
    cone = [(28.6, -4.0), (28.25, -0.5), (28.25, 0.0), (28.8, 4.0)]
    draw(name="ring.dxf", ring=[(x, y) for x, y in cone])
    with pytest.raises(CaseError) as caught:
        drawn_tools(parse_case(RING, "ring.toml", tmp_path))
    said = " ".join(fault.expected for fault in caught.value.faults)
    assert "the outline ends at x = 28.8, y = 4 mm, within reach" in said
    assert "sharp edges of 5.71 degrees" in said and "x = 28.6" not in said


# All tools written and read again


@pytest.mark.parametrize("name", ["body_stroke", "reverse_redraw", "tube_nosing", "tube_flare"])
def test_every_tool_read_from_its_own_drawing_is_the_same(tmp_path, name):
    case = load_case(CASES / f"{name}.toml")
    for tools in toolset(case):
        stage = case.stages[tools.number - 1]
        write_outlines(tmp_path / f"{tools.number}.dxf", tools.outlines)
        for tool, built in tools.outlines.items():
            key = tools.keys[tool].partition(".")[2]
            table = {"file": f"{tools.number}.dxf", "layer": tool}
            drawing = parse_drawing(table, tmp_path)
            drawn = fitted(drawing, role_of(stage, key))
            ends = int(tool == "die" and stage.kind == "neck")
            assert len(drawn.carried) == ends, "the built necking die ends at its front"
            assert drawn.outline.pieces.shape == built.pieces.shape
            assert np.abs(drawn.outline.pieces - built.pieces)[ends:].max() < 1e-9


@pytest.mark.parametrize(
    "name", ["body_stroke", "reverse_redraw", "canister_ring_base", "canister_line"]
)
def test_a_short_drawing_of_a_tool_is_as_good_as_a_long_one(tmp_path, name):
    case = load_case(CASES / f"{name}.toml")
    dice = np.random.default_rng(3)
    for tools in toolset(case):
        stage = case.stages[tools.number - 1]
        short = {tool: shortened(built) for tool, built in tools.outlines.items()}
        write_outlines(tmp_path / f"{tools.number}.dxf", short)
        for tool, built in tools.outlines.items():
            drawing = parse_drawing({"file": f"{tools.number}.dxf", "layer": tool}, tmp_path)
            drawn = fitted(drawing, role_of(stage, tools.keys[tool].partition(".")[2]))
            assert drawn.carried
            points = dice.uniform((0.0, -80.0), (55.0, 80.0), (2000, 2))
            want, found = gaps(built, points), gaps(drawn.outline, points)
            close = np.abs(want) < 5.0
            assert found[close] == pytest.approx(want[close], abs=1e-9)
            assert (found > 4.9)[want >= 5.0].all()


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_no_shipped_tool_is_refused_when_it_is_drawn(tmp_path, path):
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    count = 0
    for tools in toolset(load_case(path)):
        write_outlines(tmp_path / f"{tools.number}.dxf", tools.outlines)
        stage = raw["stage"][tools.number - 1]
        for tool, key in tools.keys.items():
            name, _, number = key.partition(".")[2].rstrip("]").partition("[")
            table = stage[name][int(number)] if number else stage[name]
            table["outline"] = {"file": f"{tools.number}.dxf", "layer": tool}
            count += 1
    assert len(drawn_tools(build_case(raw, path.name, folder=tmp_path))) == count


def shortened(built):
    """Outline whose long ends are cut off 30 mm away from its first and last round."""
    pieces = built.pieces.copy()
    first, last = pieces[0], pieces[-1]
    if first[0] == LINE and first[7] > 200.0:
        pieces[0] = line(tuple(first[3:5] - 30.0 * first[5:7]), tuple(first[3:5]))
    if last[0] == LINE and last[7] > 200.0:
        pieces[-1] = line(tuple(last[1:3]), tuple(last[1:3] + 30.0 * last[5:7]))
    return Outline(pieces)


def parse_drawing(table, folder):
    return Drawing.model_validate(table, context=Origin("x", folder))


def test_a_drawing_gone_since_the_case_was_read(tmp_path, draw):
    draw(die=die_profile())
    case = read(tmp_path, die=outline("die"))
    (tmp_path / "tools.dxf").unlink()
    with pytest.raises(DrawingError, match="no such file"):
        shape_of(case)


# Copies beside a kept case


def test_kept_cases_lead_to_their_copies(tmp_path, draw):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        draw(die=die_profile())
        shutil.move(tmp_path / "tools.dxf", tmp_path / folder / "tools.dxf")
    text = case_text(
        die=outline("die").replace("tools", "a/tools"),
        punch="file='b/tools.dxf', layer = \"die\"",
    )
    case = parse_case(text, "x", tmp_path)
    stage = case.stages[0]
    names = copy_names([stage.punch.outline.file, stage.die.outline.file])
    kept = led_to_copies(text, names)
    assert copies_in(kept) == ["drawings/tools.dxf", "drawings/tools-2.dxf"]
    assert "file='drawings/tools.dxf'" in kept
    assert copies_in('file = "drawings/../case.toml"') == []
