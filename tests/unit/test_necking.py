"""Measures of necks and flanges on shapes that are known, and the tools that make them."""

import math
import re

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.case.stage import Flange, Neck
from formsim.case.tools import FlangeTool, NeckDie
from formsim.cli import main
from formsim.errors import FormsimError, GeometryError
from formsim.geometry.distance import gaps
from formsim.results import necking
from formsim.results.flanging import edge_strain, flange_notes, flange_size, total_edge_strain
from formsim.results.record import Frame, StageRecord
from formsim.results.thickness import thickness_profile
from formsim.results.zones import zones
from formsim.solver.state import State, fresh_state
from formsim.stages.flange import tool_outline
from formsim.stages.gauges import strength_gauges
from formsim.stages.neck import cone_height, die_angle, die_outline
from formsim.stages.run import set_up
from formsim.stages.sheet import make_sheet
from formsim.stages.wall import held_line, seam_begin, wall_strength

DIE = NeckDie(diameter=50.0, entry_radius=4.0, throat_radius=3.0, land=3.0)
TUBE = 'start = { kind = "tube", diameter = 56.0, length = 40.0 }'
CUP = 'start = { kind = "cup", diameter = 56.0, corner_radius = 3.0, height = 40.0 }'
NECK = 'kind = "neck"\ndie = { diameter = 50.0 }\ndepth = 6.0'
FLANGE = 'kind = "flange"\ntool = { diameter = 54.6, radius = 2.0 }\ndepth = 3.0'


def case_of(start=TUBE, stage=NECK):
    return parse_case(
        f'title = "t"\nsource = "invented"\n{start}\n[sheet]\nmaterial = "can-body-demo"\n'
        f"thickness = 0.5\n[mesh]\ncolumns = 200\n[[stage]]\n{stage}\n",
        "neck.toml",
    )


def moved(sheet, change) -> State:
    """State with nodes moved by a function of places, (n, 2) -> (n, 2) [mm]."""
    state = fresh_state(sheet.body)
    u = (change(sheet.body.nodes) - sheet.body.nodes).ravel()
    return State(0.0, u, state.plastic, state.positions, state.grip)


def record_of(sheet, state) -> StageRecord:
    start = fresh_state(sheet.body)
    return StageRecord(
        name="s",
        kind="neck",
        body=sheet.body,
        material=sheet.material,
        frame_tool="",
        tools=(),
        pressures=(),
        increments=(),
        release=(),
        frames=(Frame("s", "start", 0.0, start, {}),),
        formed=state,
        final=state,
        seconds=0.0,
    )


def narrowed(nodes):
    """Last 15 mm at 0.9 of the radius, 5 mm of straight shoulder before."""
    share = np.clip((nodes[:, 1] - 20.0) / 5.0, 0.0, 1.0)
    return nodes * np.stack([1.0 - 0.1 * share, np.ones(len(nodes))], axis=1)


def test_size_of_a_neck():
    sheet = make_sheet(case_of())
    size = necking.neck_size(sheet.body, moved(sheet, narrowed))
    assert size.diameter == pytest.approx(0.9 * 56.0, rel=1e-9)
    assert size.thickness == pytest.approx(0.9 * 0.5, rel=1e-6)
    assert size.length == pytest.approx(15.0, abs=0.5)
    assert necking.neck_diameter(sheet.body, moved(sheet, narrowed)) == size.diameter
    assert necking.neck_thickness(sheet.body, moved(sheet, narrowed)) == size.thickness


def test_a_cone_up_to_the_rim_has_no_neck():
    sheet = make_sheet(case_of())
    cone = moved(sheet, lambda x: x * np.stack([1.0 - 0.005 * x[:, 1], np.ones(len(x))], axis=1))
    with pytest.raises(FormsimError, match="no neck"):
        necking.neck_size(sheet.body, cone)


def test_zones_of_a_neck():
    sheet = make_sheet(case_of(CUP))
    profile = thickness_profile(sheet.body, moved(sheet, narrowed))
    named = zones(profile, case_of(CUP).stages[0])
    order = list(dict.fromkeys(named))
    assert order == ["base", "wall", "neck", "rim"]


def test_loads_the_wall_bears():
    """Section times first yield stress; the classical load ``2 pi E t^2/sqrt(3 (1 - nu^2))``."""
    sheet = make_sheet(case_of())
    record = record_of(sheet, fresh_state(sheet.body))
    section = math.pi * 55.5 * 0.5
    young, poisson = sheet.material.young, sheet.material.poisson
    assert necking.crush_load(record) == pytest.approx(
        section * float(sheet.material.yield_stress), rel=1e-9
    )
    assert necking.buckling_load(record) == pytest.approx(
        2 * math.pi * young * 0.25 / math.sqrt(3 * (1 - poisson**2)), rel=1e-9
    )


def test_strength_is_that_of_the_weakest_section():
    sheet = make_sheet(case_of())
    load, area = wall_strength(sheet.body, sheet.material, moved(sheet, narrowed), 0)
    assert area == pytest.approx(math.pi * 55.5 * 0.5 * 0.81, rel=1e-6)
    assert load == pytest.approx(area * float(sheet.material.yield_stress), rel=1e-9)


def test_a_tube_is_held_at_its_end_and_a_cup_in_its_wall():
    tube, cup = (make_sheet(case_of(start)) for start in (TUBE, CUP))
    assert held_line(tube.body, fresh_state(tube.body), 10.0) == 0
    line = held_line(cup.body, fresh_state(cup.body), 10.0)
    node = line * cup.body.columns.stride
    assert cup.body.nodes[node, 1] == pytest.approx(0.5 * (3.5 + 30.0), abs=0.5)
    with pytest.raises(GeometryError, match="no upright wall"):
        held_line(cup.body, fresh_state(cup.body), 39.0)


def flared(nodes):
    """Last 4 mm turned outwards to 1.15 of the radius."""
    share = np.clip((nodes[:, 1] - 36.0) / 4.0, 0.0, 1.0)
    return nodes * np.stack([1.0 + 0.15 * share, np.ones(len(nodes))], axis=1)


@pytest.mark.parametrize("start", [TUBE, CUP])
def test_a_flange_begins_where_the_wall_ends_and_a_plain_rim_has_none(start):
    sheet = make_sheet(case_of(start))
    body = sheet.body
    assert seam_begin(body, fresh_state(body)) == len(body.nodes)
    first = body.nodes[seam_begin(body, moved(sheet, flared))]
    assert first[0] > 27.0 and first[1] <= 36.0


def test_the_wall_radius_is_that_of_the_wall():
    sheet = make_sheet(case_of(CUP))
    plain, wide = fresh_state(sheet.body), moved(sheet, flared)
    for state in (plain, wide):
        gauge = strength_gauges(sheet.body, state)["wall_radius"]
        assert gauge(state) == pytest.approx(28.0, rel=0.01)


def test_necks_of_equal_ratio():
    necks = necking.equal_ratio_necks(56.0, 48.0, 8)
    ratios = np.array(necks) / np.array([56.0, *necks[:-1]])
    assert ratios == pytest.approx((48.0 / 56.0) ** 0.125, rel=1e-12)
    assert necks[-1] == pytest.approx(48.0, rel=1e-12)
    for body, neck, count in ((48.0, 56.0, 8), (56.0, 48.0, 0)):
        with pytest.raises(FormsimError, match="cannot be made"):
            necking.equal_ratio_necks(body, neck, count)


def test_die_fits_its_arcs_into_a_small_step():
    guide = 25.3
    angle = die_angle(DIE, guide)
    assert angle < math.radians(30.0)
    assert 7.0 * (1.0 - math.cos(angle)) == pytest.approx(0.98 * 0.3)
    assert math.degrees(die_angle(DIE, 28.0)) == pytest.approx(30.0)
    die_outline(DIE, guide, 0.1)


def test_die_narrows_from_its_guide_to_its_throat():
    outline = die_outline(DIE, 28.0, 0.1)
    height = cone_height(DIE, 28.0)
    assert height == pytest.approx(3.0 / math.tan(math.radians(30.0)))
    points = np.array([[27.0, -5.0], [24.0, height + 2.0], [24.0, height + 60.0]])
    assert gaps(outline, points) == pytest.approx([1.0, 1.0, 1.2], abs=1e-9)


def test_flange_tool_has_a_pilot_below_and_a_face_above():
    outline = tool_outline(FlangeTool(diameter=50.0, radius=2.0))
    points = np.array([[26.0, -4.0], [40.0, -0.5]])
    assert gaps(outline, points) == pytest.approx([1.0, 0.5], abs=1e-9)


def test_die_no_narrower_than_the_rim_is_refused():
    case = case_of()
    sheet = make_sheet(case)
    small = moved(sheet, lambda x: x * [0.85, 1.0])
    with pytest.raises(GeometryError, match="nothing to neck"):
        set_up(case.stages[0], 0.5, type(sheet)(sheet.body, sheet.material, small))


def test_size_of_a_flange():
    """The last 5 mm of the tube turned by 60 degrees from the axis, as a cone."""
    sheet = make_sheet(case_of(stage=FLANGE))
    slope = math.radians(60.0)

    def turned(nodes):
        over = np.maximum(nodes[:, 1] - 35.0, 0.0)
        inward = 28.0 - nodes[:, 0]
        bent = over > 0.0
        r = nodes[:, 0] + over * math.sin(slope)
        z = nodes[:, 1] - over * (1.0 - math.cos(slope))
        r = np.where(bent, r + inward * (1.0 - math.cos(slope)), r)
        z = np.where(bent, z + inward * math.sin(slope), z)
        return np.stack([r, z], axis=1)

    state = moved(sheet, turned)
    record = record_of(sheet, state)
    size = flange_size(sheet.body, state)
    assert size.short_of_flat == pytest.approx(30.0, abs=0.1)
    assert size.diameter == pytest.approx(56.0 + 10.0 * math.sin(slope), rel=1e-9)
    assert size.width == pytest.approx(0.5 * size.diameter - 27.5, rel=1e-9)
    edge = 27.75 + 5.0 * math.sin(slope) + 0.25 * (1.0 - math.cos(slope))
    assert edge_strain(record) == pytest.approx(math.log(edge / 27.75), rel=1e-6)
    assert total_edge_strain(record) == pytest.approx(edge_strain(record))
    stage = case_of(stage=FLANGE).stages[0]
    assert isinstance(stage, Flange)
    assert "30 degrees short of" in flange_notes(record, stage)[0]


def test_a_rim_that_has_not_reached_the_throat_is_noted():
    sheet = make_sheet(case_of())
    stage = case_of().stages[0]
    assert isinstance(stage, Neck)
    record = record_of(sheet, moved(sheet, narrowed))
    notes = necking.neck_notes(record, stage)
    assert "has not reached the throat" in notes[0]


def test_the_command_prints_stages_that_a_case_takes(capsys):
    assert main(["necks", "--from", "56", "--to", "48", "--steps", "8"]) == 0
    printed = capsys.readouterr().out
    assert printed.count("[[stage]]") == 8
    start = TUBE.replace("40.0", "90.0")
    case = parse_case(
        f'title = "t"\nsource = "invented"\n{start}\n[sheet]\nmaterial = "can-body-demo"\n'
        f"thickness = 0.15\n{printed}",
        "necks.toml",
    )
    throats = [stage.die.diameter for stage in case.stages if isinstance(stage, Neck)]
    assert throats == pytest.approx(necking.equal_ratio_necks(56.0, 48.0, 8), abs=5e-4)
    assert len(re.findall("depth = ", printed)) == 8


def test_the_command_refuses_a_neck_wider_than_the_body(capsys):
    assert main(["necks", "--from", "56", "--to", "57", "--steps", "3"]) == 1
    assert "cannot be made" in capsys.readouterr().err
