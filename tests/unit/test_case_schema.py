"""The case: defaults, names, digest, description, templates and the shipped files."""

import tomllib
from pathlib import Path

import pytest
from pydantic import ValidationError

from formsim.case.card import MaterialCard, RValues
from formsim.case.describe import describe
from formsim.case.expect import Expect
from formsim.case.library import library, missing
from formsim.case.load import build_case, load_case, parse_case
from formsim.case.schema import Case
from formsim.case.stage import (
    Bake,
    Bulge,
    Dome,
    Draw,
    Flange,
    Iron,
    Neck,
    Pressurise,
    Redraw,
    Stretch,
    Stroke,
    TopLoad,
    Trim,
)
from formsim.case.template import template
from formsim.errors import CaseError

WHOLE = [name for name, raw in library().items() if not missing(raw)]
CASES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))
CANISTER = Path(__file__).parents[2] / "cases" / "canister_cup.toml"


def changed(old: str, new: str) -> Case:
    text = CANISTER.read_text(encoding="utf-8")
    assert old in text
    return parse_case(text.replace(old, new), "changed.toml")


@pytest.fixture
def canister() -> Case:
    return load_case(CANISTER)


def test_fourteen_cases_are_shipped():
    assert len(CASES) == 14


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_shipped_case_loads_and_names_its_source(path):
    case = load_case(path)
    assert len(case.source) > 10
    assert all(len(item.source) > 10 for item in case.expect)
    assert len(case.digest) == 12


def test_kinds_of_the_shipped_cases():
    kinds = {type(stage) for path in CASES for stage in load_case(path).stages}
    kinds_of_the_line = {Draw, Redraw, Iron, Stroke, Dome, Trim, Bake, Neck, Flange}
    assert kinds == kinds_of_the_line | {Stretch, Bulge, Pressurise, TopLoad}


@pytest.mark.parametrize("name", WHOLE)
def test_every_library_material_is_a_sound_card(name):
    card = MaterialCard.model_validate(library()[name])
    assert card.name == name


def test_texts_with_units_become_numbers(canister):
    assert canister.stages[0].holder.force == 8000.0


def test_details_default_to_thicknesses(canister):
    die, holder = canister.stages[0].die, canister.stages[0].holder
    assert (die.land, die.relief) == (2.8, 0.56)
    assert (holder.edge_radius, holder.clearance) == (1.4, 0.56)


def test_a_given_detail_is_kept():
    case = changed("clearance = 0.31 }", "clearance = 0.31, land = 5 }")
    assert case.stages[0].die.land == 5.0
    assert case.stages[0].die.relief == 0.56


def test_one_friction_number_holds_for_all_tools():
    case = changed("friction = { punch = 0.10, die = 0.05, holder = 0.05 }", "friction = 0.07")
    friction = case.stages[0].friction
    assert (friction.punch, friction.die, friction.holder) == (0.07, 0.07, 0.07)


def test_a_repeated_kind_is_numbered():
    dome = CANISTER.read_text(encoding="utf-8").split("[[stage]]")[-1]
    again = dome.replace("depth = 9.5", "depth = 7.0")
    text = CANISTER.read_text(encoding="utf-8") + "\n[[stage]]\n" + again
    names = [stage.name for stage in parse_case(text, "x").stages]
    assert names == ["draw", "dome", "dome-2"]


def test_stage_name_generation_avoids_given_names():
    text = CANISTER.read_text(encoding="utf-8")
    text = text.replace('kind = "draw"', 'kind = "draw"\nname = "dome"')
    assert [stage.name for stage in parse_case(text, "x").stages] == ["dome", "dome-2"]


def test_the_case_is_frozen(canister):
    with pytest.raises(ValidationError):
        canister.title = "other"
    with pytest.raises(ValidationError):
        canister.sheet.thickness = 1.0


def test_a_dumped_case_validates_to_the_same_case(canister):
    assert Case.model_validate(canister.model_dump()).digest == canister.digest


def test_a_case_can_be_built_from_models(canister):
    parts = {name: getattr(canister, name) for name in Case.model_fields}
    assert Case(**parts).digest == canister.digest


def test_a_case_built_in_python_is_cross_checked(canister):
    raw = canister.model_dump()
    raw["sheet"]["blank_diameter"] = 70.0
    with pytest.raises(ValidationError, match="nothing to draw"):
        Case.model_validate(raw)
    with pytest.raises(CaseError, match="nothing to draw"):
        build_case(raw, "study variant 7")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('title = "Cold-brew canister cup with domed base"', 'title = "Other"'),
        ("thickness = 0.28", 'thickness = "0.028 cm"'),
        ('force = "8 kN"', "force = 8000"),
        ('force = "8 kN"', 'force = "0.008 MN"'),
        ("young = 69000.0", 'young = "69 GPa"'),
        ("clearance = 0.31 }", "clearance = 0.31, land = 2.8 }"),
        ("friction = { punch = 0.10,", "springback = true\nfriction = { punch = 0.1,"),
        ('source = "invented demo;', 'source = "our own demo;'),
    ],
)
def test_digest_sees_numbers_not_their_writing(canister, old, new):
    assert changed(old, new).digest == canister.digest


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("thickness = 0.28", "thickness = 0.281"),
        ("nose_radius = 3.0, cavity", "nose_radius = 3.4, cavity"),
        ("rate = 18.0", "rate = 18.5"),
        ("friction = { punch = 0.10,", "springback = false\nfriction = { punch = 0.10,"),
    ],
)
def test_digest_sees_every_change(canister, old, new):
    assert changed(old, new).digest != canister.digest


def test_describe_tells_given_from_default(canister):
    rows = {row.key: row for row in describe(canister)}
    assert rows["sheet.thickness"][1:] == (0.28, "mm", "given")
    assert rows["stage[0].holder.force"][1:] == (8000.0, "N", "given")
    assert rows["stage[0].die.land"][1:] == (2.8, "mm", "default")
    assert rows["mesh.layers"][1:] == (2, "", "default")
    assert rows["stage[0].stroke"][1:] == ("through", "", "default")


def test_describe_marks_library_values():
    rows = {row.key: row for row in describe(parse_case(template(), "cup.toml"))}
    assert rows["sheet.material.young"].origin == "library"
    assert rows["stage[1].friction.dome"].origin == "given"


def test_describe_without_full_has_given_rows_only(canister):
    assert {row.origin for row in describe(canister, full=False)} == {"given"}


def test_template_is_commented_and_loads():
    case = parse_case(template("cup"), "cup.toml")
    assert [stage.kind for stage in case.stages] == ["draw", "dome"]
    assert template().count("#") > 20
    with pytest.raises(CaseError, match="cup"):
        template("bucket")


def test_options_shown_in_the_template_are_real():
    lines = template().splitlines()
    start = lines.index(next(line for line in lines if line.startswith("# [sheet.material]")))
    card = [line[2:] for line in lines[start : start + 7]]
    data = tomllib.loads("\n".join(card))["sheet"]["material"]
    assert MaterialCard.model_validate(data).young == 69000.0
    for key in ("[mesh]", "[output]", "[limits]", "[[expect]]"):
        assert f"# {key}" in template()


def test_commented_blocks_of_the_template_load():
    text = template()
    tail = text[text.index("# [mesh]") :]
    opened = "\n".join(line.removeprefix("# ") for line in tail.splitlines())
    case = parse_case(text[: text.index("# [mesh]")] + opened, "cup.toml")
    assert case.mesh.columns == 300
    assert case.limits.press_force == 150e3
    assert case.expect[0].band == pytest.approx((27.0 * 0.97, 27.0 * 1.03))


# ISO 10113, mean plastic strain ratio: (r0 + 2 r45 + r90)/4.
def test_mean_r_value_of_three():
    assert RValues(r0=0.526, r45=0.253, r90=0.601).mean == pytest.approx(0.40825)


def test_mean_r_value_of_many_angles():
    values = RValues(angle=[0, 45, 90], r=[0.526, 0.253, 0.601])
    assert values.mean == pytest.approx(0.40825)
    assert RValues(r_bar=0.9).mean == 0.9


def test_missing_r_values_mean_isotropic(canister):
    card = MaterialCard.model_validate(canister.sheet.material.model_dump() | {"r_values": None})
    assert card.r_bar == 1.0
    assert "isotropic" in card.r_note


def test_expect_band_and_unit():
    force = Expect(measure="punch_force", source="s", value="39 kN", tolerance="10 %")
    assert force.band == pytest.approx((35100.0, 42900.0))
    assert force.unit == "N"
    low = Expect(measure="height", source="s", low=33.5)
    assert low.band == (33.5, float("inf"))
    strain = Expect(measure="pole_thickness_strain", source="s", value=-0.2, tolerance=0.1)
    assert strain.band == pytest.approx((-0.22, -0.18))


def test_all_faults_of_an_expectation_are_told():
    """Measure, stage and band at once: a wrong measure hid the other two."""
    wrong = '\n[[expect]]\nmeasure = "heigth"\nstage = "drawn"\nlow = 3\nhigh = 2\nsource = "s"\n'
    with pytest.raises(CaseError) as it:
        parse_case(template("cup") + wrong, "x")
    first = it.value.faults[0].key.partition("]")[0]
    assert [fault.key for fault in it.value.faults] == [
        f"{first}].measure",
        f"{first}].stage",
        f"{first}].high",
    ]
