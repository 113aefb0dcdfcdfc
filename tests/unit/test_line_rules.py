"""Stages that cannot work on what they are given are refused; the rest is judged."""

import math

import pytest

from formsim.case.fit_line import line_faults
from formsim.case.load import parse_case
from formsim.case.rules import preflight
from formsim.case.rules_line import flange_strain, line_findings, slab_share
from formsim.case.sheet import Blank
from formsim.case.stage import (
    Bake,
    Bulge,
    Dome,
    Draw,
    Flange,
    Iron,
    Neck,
    Redraw,
    Stretch,
    Stroke,
    Trim,
)
from formsim.case.start import Cup, Tube, equal_disc
from formsim.case.tools import FlangeTool
from formsim.case.workpiece import base_volume, beginning, workpieces
from formsim.errors import CaseError
from formsim.results.theory import flanging, ironing, necking, volume

# Invented: the canister of this project as a line.
T = 0.28
BLANK = Blank(thickness=T, blank_diameter=118.0)
DRAW = {
    "kind": "draw",
    "name": "cup",
    "punch": {"diameter": 74.0, "nose_radius": 2.0},
    "die": {"radius": 2.0, "clearance": 0.31},
    "holder": {"force": 8000.0},
}
REDRAW = {
    "kind": "redraw",
    "name": "redraw",
    "punch": {"diameter": 56.0, "nose_radius": 2.0},
    "die": {"radius": 2.0, "clearance": 0.31},
    "sleeve": {"diameter": 73.6, "corner_radius": 2.2, "force": 3000.0},
}
REVERSE = {
    "kind": "redraw",
    "name": "reverse",
    "direction": "reverse",
    "punch": {"diameter": 56.0, "nose_radius": 2.0},
    "die": {"radius": 2.0, "clearance": 0.31, "outer_diameter": 73.6, "outer_radius": 3.0},
}
IRON = {
    "kind": "iron",
    "name": "iron",
    "punch": {"diameter": 56.0, "nose_radius": 2.0},
    "rings": [
        {"bore": 56.4},
        {"bore": 56.28, "spacing": 40.0},
    ],
}
STROKE = {
    "kind": "stroke",
    "name": "stroke",
    "punch": REDRAW["punch"] | {"cavity": {"diameter": 44.0, "radius": 2.0, "depth": 12.0}},
    "die": REDRAW["die"],
    "sleeve": REDRAW["sleeve"],
    "rings": [{"bore": 56.4, "spacing": 30.0}],
    "dome": {"crown_radius": 50.0, "shoulder_radius": 3.0, "diameter": 40.0},
    "depth": 8.0,
}
DOME = {
    "kind": "dome",
    "name": "dome",
    "punch": STROKE["punch"],
    "dome": STROKE["dome"],
    "depth": 8.0,
}
TRIM = {"kind": "trim", "name": "trim", "height": 90.0}
NECK = {
    "kind": "neck",
    "name": "neck",
    "die": {"diameter": 55.4},
    "pilot": {"clearance": 0.18},
    "depth": 6.0,
}
FLANGE = {
    "kind": "flange",
    "name": "flange",
    "tool": {"diameter": 54.8, "radius": 1.5},
    "depth": 3.0,
}
KINDS = {
    "draw": Draw,
    "redraw": Redraw,
    "iron": Iron,
    "stroke": Stroke,
    "dome": Dome,
    "trim": Trim,
    "bake": Bake,
    "neck": Neck,
    "flange": Flange,
    "stretch": Stretch,
    "bulge": Bulge,
}
LINE = (DRAW, REDRAW, IRON, DOME, TRIM, NECK, FLANGE)


def with_value(table: dict, path: str, value) -> dict:
    """Copy of a stage table with one value changed; steps of the path are keys or indices."""
    key, _, rest = path.partition(".")
    inner = table[int(key)] if isinstance(table, list) else table.get(key, {})
    new = with_value(inner, rest, value) if rest else value
    if isinstance(table, list):
        return [new if index == int(key) else item for index, item in enumerate(table)]
    return table | {key: new}


def made(*tables: dict):
    return [KINDS[table["kind"]].model_validate(table) for table in tables]


def faults(*tables: dict, sheet=BLANK, start=None):
    return list(line_faults(sheet, made(*tables), start))


def test_the_whole_line_fits():
    assert faults(*LINE) == []
    assert faults(DRAW, STROKE, TRIM | {"height": 60.0}, NECK) == []
    assert faults(DRAW, REVERSE, IRON) == []


REFUSED = [
    # a stage before, the stage, a value, the faulty key, the reason
    ((), REDRAW, None, "kind", "needs a cup"),
    ((), IRON, None, "kind", "needs a cup"),
    ((), STROKE, None, "kind", "needs a cup"),
    ((), NECK, None, "kind", "needs a wall"),
    ((), FLANGE, None, "kind", "needs a wall"),
    ((DRAW,), REDRAW, ("punch.diameter", 74.0), "punch.diameter", "nothing to redraw"),
    ((DRAW,), REDRAW, ("punch.diameter", 80.0), "punch.diameter", "nothing to redraw"),
    ((DRAW,), REDRAW, ("punch.diameter", 73.97), "die.clearance", "falls through"),
    ((DRAW,), REDRAW, ("die.clearance", 0.2), "die.clearance", "does not fit"),
    ((DRAW,), REDRAW, ("sleeve.diameter", 74.2), "sleeve.diameter", "does not enter the cup"),
    ((DRAW,), REDRAW, ("sleeve.corner_radius", 1.0), "sleeve.corner_radius", "does not reach"),
    ((DRAW,), REDRAW, ("sleeve.corner_radius", 8.0), "sleeve", "has no face"),
    ((DRAW,), REVERSE, ("die.outer_diameter", 74.1), "die.outer_diameter", "does not enter"),
    ((DRAW,), REVERSE, ("die.outer_diameter", 66.0), "die.outer_diameter", "66.62 mm"),
    ((DRAW, REDRAW), IRON, ("punch.diameter", 56.2), "punch.diameter", "does not enter"),
    ((DRAW, REDRAW), IRON, ("rings.0.bore", 57.0), "rings[0].bore", "nothing to iron"),
    ((DRAW, REDRAW), IRON, ("rings.0.bore", 56.0), "rings[0].bore", "no gap is left"),
    ((DRAW, REDRAW), IRON, ("rings.1.bore", 55.9), "rings[1].bore", "no gap is left"),
    ((DRAW, REDRAW), IRON, ("rings.1.bore", 56.5), "rings[1].bore", "widest first"),
    ((DRAW, REDRAW), IRON, ("rings.1.bore", 56.4), "rings[1].bore", "widest first"),
    ((DRAW, REDRAW, IRON), IRON, None, "rings[0].bore", "nothing to iron"),
    ((DRAW,), STROKE, ("rings.0.bore", 56.62), "rings[0].bore", "nothing to iron"),
    ((DRAW,), STROKE, ("sleeve.diameter", 75.0), "sleeve.diameter", "does not enter the cup"),
    ((DRAW,), STROKE, ("dome.diameter", 56.0), "dome.diameter", "wider than the base"),
    ((DRAW, REDRAW), DOME, ("dome.diameter", 55.8), "dome.diameter", "wider than the base"),
    ((DRAW, REDRAW), DOME, ("punch.diameter", 57.0), "punch.diameter", "does not enter"),
    ((DRAW, REDRAW, IRON), NECK, ("die.diameter", 56.28), "die.diameter", "nothing to neck"),
    ((DRAW, REDRAW, IRON, NECK), NECK, None, "die.diameter", "55.4 mm outside of the rim"),
    ((DRAW, REDRAW, IRON, NECK), FLANGE, ("tool.diameter", 55.3), "tool.diameter", "55.12 mm"),
    ((DRAW, REDRAW, IRON, NECK, FLANGE), NECK, None, "kind", "neck before the flange"),
    ((DRAW, REDRAW, IRON, DOME), TRIM, ("height", 100.5), "height", "is 95.66 mm high"),
    ((DRAW, REDRAW, IRON, TRIM), TRIM, ("height", 95.0), "height", "is 90 mm high"),
    ((DRAW,), TRIM, ("height", 2.2), "height", "which ends 2.28 mm above"),
]


@pytest.mark.parametrize(("before", "stage", "change", "key", "reason"), REFUSED)
def test_refusals(before, stage, change, key, reason):
    table = with_value(stage, *change) if change else stage
    found = faults(*before, table)
    assert [fault.key for fault in found][:1] == [f"stage[{len(before)}].{key}"]
    assert reason in found[0].expected


def test_a_trim_near_the_nominal_rim_is_tried():
    """The height is known to 5 %; a tube has no corner, a stage that stops short no height."""
    assert faults(DRAW, REDRAW, IRON, TRIM | {"height": 100.3}) == []
    tube = Tube(kind="tube", diameter=56.28, length=40.0)
    sheet = Blank(thickness=0.14, blank_diameter=equal_disc(tube, 0.14))
    assert faults(TRIM | {"height": 0.2}, sheet=sheet, start=tube) == []
    part, high = {"stroke": 3.0}, TRIM | {"height": 500.0}
    assert faults(DRAW, REDRAW | part, high) == []
    assert faults(DRAW, REDRAW, IRON | part, high) == []


def test_a_tube_has_no_base():
    tube = Tube(kind="tube", diameter=56.28, length=40.0)
    sheet = Blank(thickness=0.14, blank_diameter=equal_disc(tube, 0.14))
    assert faults(NECK, sheet=sheet, start=tube) == []
    for stage in (REDRAW, IRON, DOME, STROKE):
        (fault,) = faults(stage, sheet=sheet, start=tube)
        assert "a tube has none" in fault.expected


def test_a_given_cup_is_like_a_drawn_one():
    cup = Cup(kind="cup", diameter=74.56, corner_radius=2.0, height=30.0)
    sheet = Blank(thickness=T, blank_diameter=equal_disc(cup, T))
    assert faults(REDRAW, IRON, sheet=sheet, start=cup) == []
    wide = with_value(REDRAW, "sleeve.diameter", 74.2)
    assert "does not enter" in faults(wide, sheet=sheet, start=cup)[0].expected
    given = beginning(sheet, cup)
    assert given.volume == pytest.approx(volume.blank_volume(sheet.blank_diameter, T), rel=1e-9)


def test_a_wide_sleeve_corner_may_be_small_beside_the_nose():
    """A corner rounder than the cup's seats anywhere; a sharper one only further in."""
    sharp = with_value(REDRAW, "sleeve.corner_radius", 1.0)
    assert faults(DRAW, with_value(sharp, "sleeve.diameter", 72.0)) == []
    assert faults(DRAW, with_value(sharp, "sleeve.diameter", 72.1))[0].key.endswith("corner_radius")


def test_faulty_stages_are_passed_over():
    draw, iron = made(DRAW, IRON)
    assert list(line_faults(BLANK, [draw, None, iron], None)) == []
    rings = made(with_value(IRON, "rings.1.bore", 57.0))
    assert [fault.key for fault in line_faults(BLANK, [None, *rings])] == ["stage[1].rings[1].bore"]


def test_behind_a_stage_that_cannot_be_nothing_is_said():
    assert [fault.key for fault in faults(REDRAW, IRON, NECK)] == ["stage[0].kind"]


def test_a_stretched_sheet_has_no_wall():
    bulge = {"kind": "bulge", "name": "bulge", "diameter": 100.0, "height": 20.0}
    (fault,) = faults(bulge, REDRAW)
    assert fault.key == "stage[1].kind"


def test_refusals_reach_the_case():
    text = """
title = "x"
source = "invented"
[sheet]
thickness = 0.28
blank_diameter = 118.0
material = "can-body-demo"
[[stage]]
kind = "iron"
punch = { diameter = 74.0, nose_radius = 2.0 }
rings = [{ bore = 74.4 }]
"""
    with pytest.raises(CaseError, match="needs a cup"):
        parse_case(text, "x")
    text = text.replace(
        '[[stage]]\nkind = "iron"',
        """[[stage]]
kind = "draw"
punch = { diameter = 74.0, nose_radius = 2.0 }
die = { radius = 2.0, clearance = 0.31 }
holder = { force = "8 kN" }
[[stage]]
kind = "iron"
""",
    )
    rules = [finding.rule for finding in preflight(parse_case(text, "x"))]
    assert "iron: ring reduction" in rules
    assert "iron: total reduction" in rules


# What the stages leave


def test_heights_by_volume():
    """Nominal walls against the closed forms of ``results/theory``."""
    given = list(workpieces(BLANK, made(*LINE)))
    cup = volume.cup_height(118.0, 74.0, 2.0, T)
    assert given[1].height == pytest.approx(cup)
    assert given[2].height == pytest.approx(volume.cup_height(118.0, 56.0, 2.0, T))
    ironed = volume.cup_height_from_wall(118.0, 56.0, 2.0, T, 0.14)
    assert given[3].height == pytest.approx(ironed)
    assert base_volume(56.0, 2.0, T) == pytest.approx(volume.base_area(56.0, 2.0, T) * T)
    assert (given[5].height, given[6].height, given[6].mouth) == (90.0, None, 55.4)


def test_walls_along_the_line():
    given = list(workpieces(BLANK, made(*LINE)))
    assert [now.wall for now in given] == pytest.approx([T, T, T, 0.14, 0.14, 0.14, 0.14])
    assert given[1].thickest == given[2].thickest == 0.31
    assert given[3].outer == pytest.approx(56.28)
    assert given[0].form == "flat"


def test_a_stepped_punch_leaves_a_thick_rim():
    step = {"height": 60.0, "diameter": 55.9}
    given = list(workpieces(BLANK, made(DRAW, REDRAW, with_value(IRON, "punch.step", step), TRIM)))
    assert given[3].rim_wall == pytest.approx(0.19)
    assert given[3].wall == pytest.approx(0.14)
    assert given[3].height is None


def test_a_draw_that_stops_short_has_no_known_height():
    short = DRAW | {"stroke": 10.0}
    assert list(workpieces(BLANK, made(short, REDRAW)))[1].height is None


# Rules


def findings(*tables: dict, start=None, sheet=BLANK):
    """Findings of the last stage, without its name."""
    stages = made(*tables)
    *_, before = workpieces(sheet, stages, start)
    found = line_findings(before, stages[-1], 2.1)
    return {finding.rule.removeprefix(f"{stages[-1].name}: "): finding for finding in found}


def test_the_whole_line_is_mostly_good():
    odd = {}
    for count in range(2, len(LINE) + 1):
        odd |= {
            rule: finding.verdict
            for rule, finding in findings(*LINE[:count]).items()
            if finding.verdict != "good"
        }
    assert odd == {}


JUDGED = [
    (1, "punch.diameter", 50.0, "redraw ratio", "watch", "large step"),
    (1, "punch.diameter", 70.0, "redraw ratio", "watch", "small step"),
    (1, "punch.diameter", 34.0, "redraw ratio", "will fail", "two steps"),
    (1, "die.clearance", 0.29, "clearance in thicknesses", "watch", "ironed"),
    (1, "die.clearance", 0.4, "clearance in thicknesses", "watch", "loose"),
    (1, "die.radius", 0.5, "die radius in thicknesses", "watch", "sharp"),
    (1, "die.radius", 4.0, "die radius in thicknesses", "watch", "early"),
    (1, "punch.nose_radius", 0.5, "punch nose radius in thicknesses", "watch", "thins"),
    (1, "punch.nose_radius", 4.0, "punch nose radius in thicknesses", "watch", "pucker"),
    (1, "sleeve.diameter", 73.0, "gap of sleeve and cup in thicknesses", "watch", "centred"),
    (1, "sleeve.corner_radius", 0.8, "sleeve corner radius in thicknesses", "watch", "sharp"),
    (2, "punch.diameter", 55.0, "gap of punch and cup in thicknesses", "watch", "loose"),
    (2, "rings.0.bore", 56.58, "ring 1 reduction", "watch", "thickened rim"),
    (2, "rings.0.bore", 56.35, "ring 1 reduction", "watch", "hard ring"),
    (2, "rings.1.bore", 56.14, "ring 2 wall stress over strength", "will fail", "tears"),
    (2, "rings.1.bore", 56.17, "ring 2 wall stress over strength", "watch", "close"),
    (2, "rings.1.bore", 56.2, "total reduction", "watch", "add a ring"),
    (2, "rings.0.land", 0.1, "ring 1 land in exit thicknesses", "watch", "wears"),
    (2, "rings.0.land", 5.0, "ring 1 land in exit thicknesses", "watch", "heat"),
    (2, "rings.0.entry_angle", 3.0, "ring 1 entry angle [deg]", "watch", "slender"),
    (2, "rings.0.entry_angle", 20.0, "ring 1 entry angle [deg]", "watch", "shave"),
    (4, "height", 98.0, "share of the height cut off", "watch", "too short"),
    (4, "height", 95.0, "share of the height cut off", "watch", "uneven"),
    (4, "height", 80.0, "share of the height cut off", "watch", "smaller blank"),
    (5, "die.diameter", 54.0, "radial step in thicknesses", "watch", "pleat"),
    (5, "pilot.clearance", 0.1, "pilot gap in thicknesses of the rim", "watch", "ironed"),
    (5, "pilot.clearance", 0.5, "pilot gap in thicknesses of the rim", "watch", "curl"),
    (5, "die.diameter", 25.0, "axial load over what crushes the wall", "watch", "straight"),
    (6, "depth", 6.0, "hoop strain of the edge", "watch", "crack"),
]


@pytest.mark.parametrize(("index", "path", "value", "rule", "verdict", "word"), JUDGED)
def test_judgements(index, path, value, rule, verdict, word):
    found = findings(*LINE[:index], with_value(LINE[index], path, value))[rule]
    assert (found.verdict, word in found.consequence) == (verdict, True)
    assert found.source


def test_a_crushed_wall_fails():
    steep = NECK | {"die": {"diameter": 15.0, "angle": 10.0}}
    rule = findings(DRAW, REDRAW, IRON, steep)["axial load over what crushes the wall"]
    assert rule.verdict == "will fail"


def test_a_stroke_has_the_rules_of_redraw_and_rings():
    found = findings(DRAW, STROKE)
    assert {"redraw ratio", "sleeve corner radius in thicknesses", "ring reduction"} <= set(found)
    assert found["ring reduction"].value == pytest.approx(1 - 0.2 / T)


def test_the_reverse_ring_has_an_edge():
    sharp = with_value(REVERSE, "die.outer_radius", 0.8)
    found = findings(DRAW, sharp)["ring edge radius in thicknesses"]
    assert (found.verdict, "sharp" in found.consequence) == ("watch", True)


def test_stages_with_rules_elsewhere_give_none():
    assert findings(DRAW, DOME) == findings(DRAW) == {}


@pytest.mark.parametrize("friction", [(0.0, 0.0), (0.05, 0.0), (0.05, 0.1)])
def test_the_slab_is_that_of_the_theory(friction):
    for share in (0.1, 0.4):
        assert slab_share(share, 8.0, *friction) == pytest.approx(
            ironing.slab_factor(share, 8.0, *friction)
        )


def test_the_neck_load_is_that_of_the_theory():
    found = findings(DRAW, REDRAW, IRON, NECK)["axial load over what crushes the wall"]
    load = necking.nosing_load(300.0, 56.14, 55.26, 0.14, 30.0, 0.08)
    assert found.value == pytest.approx(load / necking.crush_load(300.0, 56.14, 0.14))


def test_flange_strain():
    """A quarter turn and 1 mm flat; half a turn stands 45 degrees out."""
    tool = FlangeTool(diameter=48.0, radius=1.5)
    flat = flange_strain(48.0, tool, 0.5 * math.pi * 1.5 + 1.0)
    assert flat == pytest.approx(flanging.edge_hoop_strain(48.0, 48.0 + 2 * 2.5))
    half = flange_strain(48.0, tool, 0.25 * math.pi * 1.5)
    assert half == pytest.approx(math.log(1 + 2 * 1.5 * (1 - math.sqrt(0.5)) / 48.0))
