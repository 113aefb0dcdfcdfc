"""Bad case files: every fault names its key path, its line and what to do."""

import os
import re
import time
from pathlib import Path

import pytest

from formsim.case.load import load_case, parse_case
from formsim.errors import CaseError

CASES = Path(__file__).parents[2] / "cases"
CANISTER = (CASES / "canister_cup.toml").read_text(encoding="utf-8")
STRETCH = (CASES / "hemispherical_stretch.toml").read_text(encoding="utf-8")
BULGE = (CASES / "hydraulic_bulge.toml").read_text(encoding="utf-8")
PUNCH = "nose_radius = 3.0, cavity = { diameter = 58.0, radius = 2.0, depth = 14.0 } }\ndie"
DOME_PUNCH = PUNCH.replace("die", "dome")


def swapped(text: str, old: str, new: str) -> str:
    assert old in text, old
    return text.replace(old, new, 1)


def faults(text: str):
    with pytest.raises(CaseError) as caught:
        parse_case(text, "bad.toml")
    return caught.value.faults


TABLE = [
    # values out of their band, wrong units, not numbers
    ("thickness = 0.28", "thickness = 0.00028", "sheet.thickness", '"0.00028 m"'),
    ("thickness = 0.28", "thickness = -0.28", "sheet.thickness", "negative"),
    ("thickness = 0.28", "thickness = 0", "sheet.thickness", "0.02 to 20 mm"),
    ("thickness = 0.28", "thickness = nan", "sheet.thickness", "finite"),
    ("thickness = 0.28", "thickness = inf", "sheet.thickness", "finite"),
    ("thickness = 0.28", "thickness = true", "sheet.thickness", "not a number"),
    ("thickness = 0.28", 'thickness = "0,28 mm"', "sheet.thickness", "decimal point"),
    ("thickness = 0.28", 'thickness = "thin"', "sheet.thickness", "number"),
    ("thickness = 0.28", "thickness = 15", "sheet.thickness", "too thick"),
    ("blank_diameter = 118.0", "blank_diameter = 1e9", "sheet.blank_diameter", "10000 mm"),
    ("young = 69000.0", "young = 69", "sheet.material.young", '"69 GPa"'),
    ("density = 2720.0", "density = 2.72", "sheet.material.density", '"2.72 g/cm3"'),
    ("poisson = 0.33", "poisson = 0.5", "sheet.material.poisson", "0.495"),
    ('force = "8 kN"', 'force = "5 mm"', "stage[0].holder.force", "unit of length"),
    ('force = "8 kN"', "force = -5000", "stage[0].holder.force", "negative"),
    ("punch = 0.10, die = 0.05", "punch = 8, die = 0.05", "stage[0].friction.punch", "%"),
    # unknown, missing and misplaced keys
    ("thickness = 0.28", "thicknes = 0.28", "sheet.thicknes", '"thickness"'),
    ("nose_radius = 3.0", "nose_radus = 3.5", "stage[0].punch.nose_radus", '"nose_radius"'),
    ("title =", "titel =", "titel", '"title"'),
    ('kind = "draw"', 'kind = "presurise"', "stage[0].kind", 'did you mean "pressurise"?'),
    ('kind = "draw"', 'kind = "ironing"', "stage[0].kind", 'did you mean "iron"'),
    ('kind = "dome"', 'kind = "topload"', "stage[1].kind", 'did you mean "top_load"?'),
    ('kind = "draw"', 'kind = "draw"\nstroke = "thru"', "stage[0].stroke", 'mean "through"?'),
    (
        'kind = "voce", saturation = 405.0, drop = 105.0, rate = 18.0',
        'kind = "hollomon", strength = 500, exponent = 1.0',
        "sheet.material.flow.exponent",
        "below 1 from 0 to 0.99",
    ),
    (
        'kind = "voce", saturation = 405.0, drop = 105.0, rate = 18.0',
        'kind = "swift", strength = 500, prestrain = 0.01, exponent = 1',
        "sheet.material.flow.exponent",
        "below 1",
    ),
    ("depth = 9.5\n", "", "stage[1].depth", "is missing"),
    ('kind = "draw"\n', "", "stage[0].kind", "draw, redraw, iron"),
    ('kind = "draw"', 'kind = "drow"', "stage[0].kind", '"draw"'),
    ('kind = "voce"', 'kind = "voice"', "sheet.material.flow.kind", '"voce"'),
    ("[[stage]]", "[mesh]\ncolumns = 2.5\n[[stage]]", "mesh.columns", "whole number"),
    ("[[stage]]", "[output]\npicture = 1\n[[stage]]", "output.picture", "true or false"),
    ("[[stage]]", "[limits]\npress_force = 0\n[[stage]]", "limits.press_force", "N"),
    # material card
    ("drop = 105.0", "drop = 405.0", "sheet.material.flow", "yield stress"),
    ("{ r_bar = 1.0 }", "{ r0 = 1.0 }", "sheet.material.r_values", "r45"),
    ("{ r_bar = 1.0 }", "{ r_bar = 1, r0 = 1 }", "sheet.material.r_values", "one form"),
    ('{ flow = "invented",', '{ flaw = "invented",', "sheet.material.sources", "flaw"),
    # tools that do not fit
    ("blank_diameter = 118.0", "blank_diameter = 70", "sheet.blank_diameter", "nothing to draw"),
    ("blank_diameter = 118.0", "blank_diameter = 78", "stage[0].die.radius", "never touch"),
    (
        'force = "8 kN" }',
        'force = "8 kN", clearance = 25 }',
        "stage[0].holder",
        "never touch",
    ),
    (
        "thickness = 0.28",
        "thickness = 0.28\nhole_diameter = 74",
        "sheet.hole_diameter",
        "fall through",
    ),
    (
        "thickness = 0.28",
        "thickness = 0.28\nhole_diameter = 120",
        "sheet.hole_diameter",
        "less than the blank",
    ),
    ("clearance = 0.31", "clearance = 0.25", "stage[0].die.clearance", "sheet thickness"),
    ('force = "8 kN"', "gap = 0.2", "stage[0].holder.gap", "sheet thickness"),
    ('force = "8 kN"', 'force = "8 kN", gap = 0.3', "stage[0].holder", "exactly one"),
    ('holder = { force = "8 kN" }', "holder = {}", "stage[0].holder", "exactly one"),
    ('force = "8 kN"', 'force = "8 kN", max_force = 9000', "stage[0].holder", "max_force"),
    ("nose_radius = 3.0", "nose_radius = 38", "stage[0].punch.nose_radius", "37 mm"),
    ("nose_radius = 3.0", "nose_radius = 7", "stage[0].punch.cavity.radius", "nose radius"),
    (
        "cavity = { diameter = 58.0",
        "cavity = { diameter = 80",
        "stage[0].punch.cavity.diameter",
        "wider",
    ),
    (
        "radius = 2.0, depth = 14.0",
        "radius = 2.0, depth = 1",
        "stage[0].punch.cavity.radius",
        "depth",
    ),
    ("radius = 2.0, depth = 14.0", "depth = 14.0", "stage[0].punch", "cavity needs"),
    ("crown_radius = 62.0", "crown_radius = 20", "stage[1].dome.crown_radius", "at least 27"),
    (
        "shoulder_radius = 3.0",
        "shoulder_radius = 28",
        "stage[1].dome.shoulder_radius",
        "at most 27",
    ),
    ("diameter = 54.0", "diameter = 57.8", "stage[1].dome.diameter", "does not enter"),
    ("depth = 9.5", "depth = 13.9", "stage[1].depth", "bottom of the cavity"),
    ('force = "15 kN"', "gap = 0.1", "stage[1].clamp.gap", "sheet thickness"),
    (
        'force = "15 kN"',
        "gap = 0.3, inner_diameter = 70, outer_diameter = 60",
        "stage[1].clamp.inner_diameter",
        "outer",
    ),
    (
        'kind = "dome"\npunch = { diameter = 74.0',
        'kind = "dome"\npunch = { diameter = 75.0',
        "stage[1].punch.diameter",
        "enter the cup",
    ),
    (
        PUNCH,
        "nose_radius = 3.0, nose_ring = { diameter = 72, radius = 2, height = 5 } }\ndie",
        "stage[0].punch.nose_ring.diameter",
        "76 mm",
    ),
    (
        PUNCH,
        "nose_radius = 3.0, nose_ring = { diameter = 3, radius = 2, height = 5 } }\ndie",
        "stage[0].punch.nose_ring.radius",
        "1.5 mm",
    ),
    (DOME_PUNCH, "nose_radius = 3.0 }\ndome", "stage[1].punch", "room to rise"),
    (
        "[[stage]]",
        '[[expect]]\nmeasure = "hight"\nsource = "s"\n[[stage]]',
        "expect[0].measure",
        '"height"',
    ),
    (
        "[[stage]]",
        '[[expect]]\nmeasure = "height"\nsource = "s"\nvalue = "3 kN"\n[[stage]]',
        "expect[0].value",
        "unit of force",
    ),
    (
        "[[stage]]",
        '[[expect]]\nmeasure = "height"\nsource = "s"\nvalue = 3\n[[stage]]',
        "expect[0]",
        "tolerance",
    ),
    (
        "[[stage]]",
        '[[expect]]\nmeasure = "height"\nsource = "s"\nlow = 3\nstage = "redraw"\n[[stage]]',
        "expect[0].stage",
        "draw, dome",
    ),
]


@pytest.mark.parametrize(("old", "new", "key", "word"), TABLE, ids=lambda text: text[:30])
def test_one_fault_names_its_key_and_cure(old, new, key, word):
    found = [fault for fault in faults(swapped(CANISTER, old, new)) if fault.key == key]
    assert len(found) == 1
    assert word in str(found[0])
    assert found[0].line > 0 or "missing" in found[0].expected


@pytest.mark.parametrize(
    ("old", "new", "key", "word"),
    [
        (
            "opening_diameter = 105.66",
            "opening_diameter = 102",
            "stage[0].die.opening_diameter",
            "103.6",
        ),
        ("clamp_diameter = 118.36", "clamp_diameter = 110", "stage[0].clamp_diameter", "profile"),
        ("clamp_diameter = 118.36", "clamp_diameter = 130", "stage[0].clamp_diameter", "outside"),
        ("nose_radius = 50.8", "nose_radius = 50.9", "stage[0].punch.nose_radius", "50.8"),
    ],
)
def test_stretch_faults(old, new, key, word):
    found = faults(swapped(STRETCH, old, new))
    assert [fault.key for fault in found] == [key]
    assert word in str(found[0])


@pytest.mark.parametrize(
    ("old", "new", "key", "word"),
    [
        ("\ndiameter = 100.0", "\ndiameter = 101", "stage[0].diameter", "outside"),
        ("height = 25.0", "height = 120", "stage[0].height", "diameter"),
        ("thickness = 1.0", "thickness = 1.0\nhole_diameter = 5", "sheet.hole_diameter", "leak"),
    ],
)
def test_bulge_faults(old, new, key, word):
    found = faults(swapped(BULGE, old, new))
    assert [fault.key for fault in found] == [key]
    assert word in str(found[0])


def test_an_unknown_material_names_the_nearest():
    (fault,) = faults(swapped(STRETCH, '"check-hemisphere"', '"check-hemisfere"'))
    assert fault.key == "sheet.material"
    assert "check-hemisphere" in fault.expected


def test_an_unknown_material_may_be_written_out():
    text = re.sub(r"\[sheet\.material\].*?(?=\n\[\[stage)", "", CANISTER, flags=re.DOTALL)
    fault = faults(text.replace("[sheet]", '[sheet]\nmaterial = "DC04"', 1))[0]
    assert fault.key == "sheet.material"
    assert "or write your own [sheet.material] table" in fault.expected


def test_an_identical_stage_again_is_said_so():
    again = CANISTER + "\n[[stage]]\n" + CANISTER.split("[[stage]]")[-1]
    (fault,) = faults(again)
    assert fault.key == "stage[2]"
    assert "repeats the dome stage" in fault.expected


def test_repeated_names():
    text = swapped(CANISTER, 'kind = "draw"', 'kind = "draw"\nname = "one"')
    (fault,) = faults(swapped(text, 'kind = "dome"', 'kind = "dome"\nname = "one"'))
    assert fault.key == "stage[1].name"
    assert "already the name of stage[0]" in fault.expected


def test_a_second_draw_of_the_flat_blank_is_refused():
    draw = CANISTER.split("[[stage]]")[1].replace("radius = 2.5", "radius = 2.4")
    (fault,) = faults(CANISTER + "\n[[stage]]\n" + draw)
    assert fault.key == "stage[2].kind"
    assert "flat blank" in fault.expected


def test_a_misspelt_key_is_one_fault():
    (fault,) = faults(swapped(CANISTER, "thickness = 0.28", "thicknes = 0.28"))
    assert fault.key == "sheet.thicknes"
    (fault,) = faults(swapped(CANISTER, "depth = 9.5\n", "dept = 9.5\n"))
    assert fault.key == "stage[1].dept"
    text = swapped(CANISTER, "depth = 9.5\n", "colour = 9.5\n")
    assert {fault.key for fault in faults(text)} == {"stage[1].depth", "stage[1].colour"}


def test_no_stages():
    head = CANISTER.split("[[stage]]")[0]
    (missing,) = faults(head)
    assert (missing.key, "[[stage]]" in missing.expected) == ("stage", True)
    (empty,) = faults("stage = []\n" + head)
    assert (empty.key, empty.line) == ("stage", 1)
    (single,) = faults(head + '[stage]\nkind = "draw"\n')
    assert "double brackets" in single.expected


def test_a_wrong_friction_number_is_one_fault():
    text = swapped(CANISTER, "{ punch = 0.10, die = 0.05, holder = 0.05 }", "7")
    (fault,) = faults(text)
    assert (fault.key, fault.value) == ("stage[0].friction", "7")


def test_all_faults_come_at_once_in_the_order_of_the_file():
    text = swapped(CANISTER, "young = 69000.0", "young = 69")
    text = swapped(text, "clearance = 0.31", "clearance = 0.2")
    text = swapped(text, "depth = 9.5", 'depth = "six"')
    found = faults(text)
    keys = [fault.key for fault in found]
    assert keys == ["sheet.material.young", "stage[0].die.clearance", "stage[1].depth"]
    assert [fault.line for fault in found] == sorted(fault.line for fault in found)


def test_misfits_are_found_beside_faults_of_other_tables():
    text = swapped(CANISTER, "clearance = 0.31", "clearance = 0.2")
    text = swapped(text, "depth = 9.5", 'depth = "six"')
    assert [fault.key for fault in faults(text)] == ["stage[0].die.clearance", "stage[1].depth"]


def test_the_line_of_a_fault_is_that_of_the_file():
    text = swapped(CANISTER, "thickness = 0.28", "thickness = 0.00028")
    (fault,) = faults(text)
    assert text.splitlines()[fault.line - 1] == "thickness = 0.00028"


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ('title = "abc', 1, "quote"),
        ("a = 1\nb = [1, 2\n", 3, "bracket"),
        ('title "x"', 1, "key = value"),
        ("a = 1\na = 2", 2, "already set"),
        ("a = 1\nb = 3,5", 2, "3.5, not 3,5"),
        ("a = { b = 74,0, c = 3 }", 1, "74.0, not 74,0"),
        ("a = [0,05, 0,2]", 1, "0.05, not 0,05"),
        ("a = \n", 1, "cannot read the value"),
    ],
)
def test_syntax_errors_name_the_line(text, line, word):
    (fault,) = faults(text)
    assert abs(fault.line - line) <= 1
    assert word in fault.expected


@pytest.mark.parametrize(
    "text", ["x = " + "[" * 3000 + "]" * 3000, "[a" + ".a" * 3000 + "]\nb = 1"]
)
def test_endless_nesting_is_refused(text):
    assert "nested" in faults(text)[0].expected


def test_endless_numbers_are_refused():
    assert "digits" in faults(swapped(CANISTER, "118.0", "9" * 5000))[0].expected
    assert "finite" in faults(swapped(CANISTER, "118.0", "9" * 400))[0].expected


def test_braces_and_control_letters_in_texts_do_no_harm():
    text = swapped(CANISTER, "thickness = 0.28", 'thickness = "{0}\\u0007 mm"')
    (fault,) = faults(text)
    assert fault.value == '"{0}? mm"'


# files


def refused(path: Path) -> CaseError:
    with pytest.raises(CaseError) as caught:
        load_case(path)
    assert str(path.name) in str(caught.value)
    return caught.value


def test_missing_file_names_the_nearest(tmp_path):
    (tmp_path / "canister.toml").write_text(CANISTER, encoding="utf-8")
    error = refused(tmp_path / "cannister.toml")
    assert "no such file" in str(error)
    assert "canister.toml" in error.hint
    assert "formsim new" in refused(tmp_path / "nowhere" / "x.toml").hint


def test_a_huge_file_is_refused_at_once(tmp_path):
    path = tmp_path / "huge.toml"
    path.write_bytes(b"# filler\n" * 1_200_000)
    start = time.perf_counter()
    error = refused(path)
    assert time.perf_counter() - start < 0.2
    assert "10.8 MB" in str(error)


def test_binary_rubbish_is_refused(tmp_path):
    path = tmp_path / "rubbish.toml"
    path.write_bytes(bytes(range(256)) * 20)
    assert "not a text file" in str(refused(path))
    path.write_bytes(b"title = 'a'\nsource = '\xfc'\n")
    error = refused(path)
    assert "UTF-8" in str(error)
    assert error.faults[0].line == 2
    path.write_bytes(CANISTER.encode("utf-16"))
    assert "UTF-16" in str(refused(path))


def test_an_empty_file_lists_what_is_missing(tmp_path):
    path = tmp_path / "empty.toml"
    path.write_bytes(b"")
    keys = {fault.key for fault in refused(path).faults}
    assert keys == {"title", "source", "sheet", "stage"}


def test_a_folder_is_refused(tmp_path):
    assert "folder" in str(refused(tmp_path))


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_an_unreadable_file_is_refused(tmp_path):
    path = tmp_path / "locked.toml"
    path.write_text(CANISTER, encoding="utf-8")
    path.chmod(0)
    assert "permission" in str(refused(path))


def test_byte_order_mark_and_windows_line_ends_are_fine(tmp_path):
    path = tmp_path / "notepad.toml"
    path.write_bytes(CANISTER.replace("\n", "\r\n").encode("utf-8-sig"))
    assert load_case(path).digest == parse_case(CANISTER, "x").digest


def test_the_whole_message_reads_well():
    text = swapped(CANISTER, "thickness = 0.28", "thickness = 0.00028")
    with pytest.raises(CaseError) as caught:
        parse_case(text, "cup.toml")
    assert re.fullmatch(
        r"cup\.toml: 1 fault\n"
        r"  - line \d+: sheet\.thickness = 0\.00028: expected a thickness from 0\.02 to 20 mm;"
        r' a plain number is read in mm; did you mean "0\.00028 m"\?',
        str(caught.value),
    )


def test_loading_is_quick():
    start = time.perf_counter()
    for _ in range(20):
        parse_case(CANISTER, "x")
    assert time.perf_counter() - start < 1.0
