"""A case that starts from a tube or a cup: area, mesh, faults, and what is measured along it."""

import numpy as np
import pytest

from formsim.case.describe import describe
from formsim.case.load import parse_case
from formsim.case.schema import Case
from formsim.case.start import Cup, Tube, equal_disc
from formsim.errors import CaseError
from formsim.report.preflight import stages_text
from formsim.results import shape
from formsim.results.curve import start_way, starts_flat
from formsim.results.strains import surface_strains
from formsim.results.thickness import thickness_profile
from formsim.solver.state import fresh_state
from formsim.stages.grading import grade
from formsim.stages.sheet import make_sheet
from formsim.stages.through import sharp_height

TUBE = 'start = { kind = "tube", diameter = 56.0, length = 40.0 }'
CUP = 'start = { kind = "cup", diameter = 56.0, corner_radius = 3.0, height = 30.0 }'
NECK = '[[stage]]\nkind = "neck"\ndie = { diameter = 52.0 }\ndepth = 8.0\n'


def text(start=TUBE, sheet="", stage=NECK):
    return (
        f'title = "t"\nsource = "invented"\n{start}\n[sheet]\nmaterial = "can-body-demo"\n'
        f"thickness = 0.5\n{sheet}\n{stage}"
    )


def case(**parts) -> Case:
    return parse_case(text(**parts), "start.toml")


def faults(**parts):
    with pytest.raises(CaseError) as error:
        case(**parts)
    return {fault.key: fault.expected for fault in error.value.faults}


@pytest.mark.parametrize("start", [TUBE, CUP], ids=["tube", "cup"])
def test_the_equal_disc_has_the_volume_of_the_mesh(start):
    """Geometry (Pappus): area of the middle times thickness; chords of a corner cost a little."""
    asked = case(start=start)
    body = make_sheet(asked).body
    area = 0.25 * np.pi * asked.sheet.blank_diameter**2
    assert body.volume.sum() == pytest.approx(0.5 * area, rel=5e-4)
    assert sharp_height(body, 40.0) == pytest.approx((4 * area / np.pi - 1600.0) / 160.0, rel=1e-3)


def test_disc_of_a_tube():
    tube = Tube(kind="tube", diameter=56.0, length=40.0)
    assert equal_disc(tube, 0.5) == pytest.approx(np.sqrt(4 * 55.5 * 40.0), rel=1e-12)


def test_mesh_of_a_tube_stands_on_its_lower_end():
    body = make_sheet(case()).body
    assert not starts_flat(body)
    for edge, axis, place in (
        ("bottom", 0, 28.0),
        ("top", 0, 27.5),
        ("centre", 1, 0.0),
        ("rim", 1, 40.0),
    ):
        assert body.nodes[body.edge_nodes(edge), axis] == pytest.approx(place, abs=1e-12)


def test_mesh_of_a_cup_has_even_thickness_and_its_outer_sizes():
    asked = case(start=CUP)
    body = make_sheet(asked).body
    profile = thickness_profile(body, fresh_state(body))
    assert profile.original_thickness == pytest.approx(0.5, abs=1e-12)
    assert profile.thickness == pytest.approx(0.5, rel=6e-3)
    assert body.nodes[:, 0].max() == pytest.approx(28.0, abs=1e-12)
    assert body.nodes[:, 1].max() == pytest.approx(30.0, abs=1e-12)
    assert start_way(body)[-1] == pytest.approx(grade(asked).outer, rel=1e-3)
    assert shape.height(body, fresh_state(body)) == pytest.approx(30.0)


def test_strains_are_relative_to_the_start():
    """A tube stretched evenly: the strains are the same everywhere (exact)."""
    body = make_sheet(case()).body
    state = fresh_state(body)
    u = np.stack([-0.1 * body.nodes[:, 0], 0.25 * body.nodes[:, 1]], axis=1).ravel()
    moved = type(state)(0.0, u, state.plastic, state.positions, state.grip)
    strains, profile = surface_strains(body, moved), thickness_profile(body, moved)
    assert strains.meridional == pytest.approx(np.log(1.25), rel=1e-9)
    assert strains.hoop == pytest.approx(np.log(0.9), rel=1e-9)
    assert profile.thickness == pytest.approx(0.45, rel=1e-9)
    assert profile.thinning_percent == pytest.approx(10.0, rel=1e-8)
    assert profile.volume_thickness_at_lines == pytest.approx(0.45, rel=1e-9)
    assert profile.original_radius == pytest.approx(27.75)
    assert profile.way == pytest.approx(np.linspace(0.0, 40.0, len(profile.way)))
    assert strains.way == pytest.approx(0.5 * (profile.way[1:] + profile.way[:-1]))
    rim = shape.rim(body, moved)
    assert (np.diff(rim.points[:, 0]) < 0).all()
    assert rim.highest == pytest.approx(50.0)


def test_the_disc_is_no_blank_of_the_user():
    asked = case()
    rows = {row.key: row for row in describe(asked)}
    assert rows["start.diameter"].origin == "given"
    assert rows["sheet.blank_diameter"].origin == "default"
    assert "tube 56 mm, 40 mm high" in stages_text(asked)
    again = Case.model_validate(asked.model_dump())
    assert again.digest == asked.digest != case(start=TUBE.replace("40.0", "41.0")).digest


@pytest.mark.parametrize(
    ("parts", "key", "says"),
    [
        ({"sheet": "blank_diameter = 100.0"}, "sheet.blank_diameter", "leave it out"),
        ({"sheet": "hole_diameter = 10.0"}, "sheet.hole_diameter", "starts from a tube"),
        ({"start": ""}, "stage[0].kind", "needs a wall"),
        ({"start": TUBE.replace("56.0", "4.0")}, "start.diameter", "ten thicknesses"),
        ({"start": CUP.replace("3.0", "27.5")}, "start.corner_radius", "less than 27.5"),
        ({"start": CUP.replace("30.0", "3.2")}, "start.height", "more than 3.5"),
        ({"start": TUBE.replace(", length = 40.0", "")}, "start.length", "length"),
        (
            {"stage": '[[stage]]\nkind = "bulge"\ndiameter = 50.0\nheight = 9.0\n'},
            "stage[0].kind",
            "needs a flat blank",
        ),
    ],
)
def test_what_does_not_fit_is_refused(parts, key, says):
    if parts.get("start") == "":
        parts = {**parts, "sheet": "blank_diameter = 100.0"}
    found = faults(**parts)
    assert says in found[key]


def test_a_flat_case_still_needs_its_blank():
    assert "sheet.blank_diameter" in faults(start="")


def test_a_faulty_start_is_told_once():
    assert set(faults(start=TUBE.replace("40.0", "-1.0"))) == {"start.length"}


def test_cup_and_tube_are_closed_tables():
    assert set(Cup.model_fields) == {"kind", "diameter", "corner_radius", "height"}
    assert set(Tube.model_fields) == {"kind", "diameter", "length"}
