"""Materials that a case names, reads from a card file, or completes from the library."""

import tomllib

import pytest

from formsim.case.card import MaterialCard
from formsim.case.card_file import OTHER_CURVE, written_out
from formsim.case.describe import describe
from formsim.case.library import library, missing
from formsim.case.load import load_case, parse_case
from formsim.case.template import template
from formsim.case.toml_text import inline, toml_text
from formsim.errors import CaseError
from formsim.report.given_limits import given_limits_text
from formsim.report.materials import material_text, materials_text

CARD = """name = "my-sheet"
source = "invented"
young = "69 GPa"
poisson = 0.33
density = 2700.0
flow = { kind = "voce", saturation = 405.0, drop = 105.0, rate = 18.0 }
r_values = { r0 = 0.6, r45 = 0.9, r90 = 1.1 }
sources = { flow = "invented: three tests" }
"""
PLAIN = 'material = "can-body-demo"'
NAMED = 'material = { card = "my_sheet.toml" }   # ours'


def cup(material: str) -> str:
    text = template("cup")
    line = next(line for line in text.splitlines() if line.startswith("material ="))
    return text.replace(line, material)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "my_sheet.toml").write_text(CARD, encoding="utf-8")
    return tmp_path


def case_in(folder, material):
    path = folder / "cup.toml"
    path.write_text(cup(material), encoding="utf-8")
    return load_case(path)


@pytest.mark.parametrize("repeats", ['"two"', "0", "2.5"])
def test_repeats_that_cannot_be_are_refused_in_our_words(folder, repeats):
    with (folder / "my_sheet.toml").open("a") as card:
        card.write(f"tested = {{ repeats = {repeats} }}\n")
    with pytest.raises(CaseError, match="expected a number of repeats from 1 to 1000"):
        case_in(folder, NAMED)


def test_a_card_file_beside_the_case_is_used(folder):
    card = case_in(folder, NAMED).sheet.material
    assert card == MaterialCard.model_validate(tomllib.loads(CARD))


def test_a_card_counts_by_its_values(folder):
    written = ", ".join(CARD.strip().splitlines())
    digests = {case_in(folder, text).digest for text in (NAMED, f"material = {{ {written} }}")}
    assert len(digests) == 1
    (folder / "my_sheet.toml").write_text(CARD.replace("18.0", "18.5"), encoding="utf-8")
    assert case_in(folder, NAMED).digest not in digests


def test_keys_beside_the_card_take_the_place_of_its_own(folder):
    flow = '{ kind = "ludwik", yield_stress = 280, strength = 200, exponent = 0.5 }'
    card = case_in(folder, f'material = {{ card = "my_sheet.toml", flow = {flow} }}').sheet.material
    assert card.flow.kind == "ludwik"
    assert card.r_values.r45 == 0.9
    assert "flow" not in card.sources
    assert "the user's own: flow" in card.source
    assert card.name == "my-sheet-completed"


def test_a_critical_damage_says_that_the_flow_curve_is_another(folder):
    found = 'damage = { kind = "cockcroft_latham", critical = 1.16, source = "a bar of this card" }'
    with (folder / "my_sheet.toml").open("a") as card:
        card.write(f"{found}\n")
    flow = 'flow = { kind = "swift", strength = 300, prestrain = 0.01, exponent = 0.2 }'
    named = NAMED.partition("}")[0]
    kept, softer, stiffer = (
        case_in(folder, f"{named}{own} }}") for own in ("", f", {flow}", ", young = 70000")
    )
    assert kept.damage.source == stiffer.damage.source == "a bar of this card"
    assert softer.damage.source == f"{OTHER_CURVE}a bar of this card"
    told = " ".join(given_limits_text(softer).split())
    assert f"critical at 1.16 ({OTHER_CURVE}a bar of this card)" in told
    own = f"{named}, {flow}, {found.replace('a bar of this card', 'anew')} }}"
    assert case_in(folder, own).damage.source == "anew"


def test_values_of_a_card_are_told_as_such(folder):
    rows = {row.key: row.origin for row in describe(case_in(folder, NAMED))}
    assert rows["sheet.material.young"] == "card"
    assert rows["sheet.thickness"] == "given"


@pytest.mark.parametrize("header", [False, True])
def test_a_case_is_written_out_with_the_values_of_its_card(folder, tmp_path_factory, header):
    material = NAMED
    if header:
        text = cup("").replace(
            "[[stage]]", '[sheet.material]\ncard = "my_sheet.toml"\n\n[[stage]]', 1
        )
        (folder / "cup.toml").write_text(text, encoding="utf-8")
        case = load_case(folder / "cup.toml")
    else:
        case = case_in(folder, material)
    whole = written_out((folder / "cup.toml").read_text(encoding="utf-8"), folder)
    alone = parse_case(whole, "cup.toml", tmp_path_factory.mktemp("elsewhere"))
    assert alone.digest == case.digest
    assert alone.sheet.material == case.sheet.material
    if not header:
        assert whole.count("#") == cup("").count("#")


def test_a_case_without_card_file_is_kept_as_it_is(folder):
    assert written_out(cup(PLAIN), folder) == cup(PLAIN)
    assert written_out("", folder) == ""


@pytest.mark.parametrize(
    ("material", "said"),
    [
        ('material = { card = "her_sheet.toml" }', "no such file; in .* there is my_sheet.toml"),
        ("material = { card = 7 }", "expected the name of a card file"),
        ('material = { card = "my_sheet.toml", base = "dc04" }', "card, or base, not both"),
        ('material = { base = "dc4" }', "no material of this name in the library; nearest: dc0"),
        ("material = { base = 4 }", "name of a library material in quotes"),
        ('material = { base = "dc04" }', "sheet.material.flow: is missing"),
        ('material = "dc04"', "no source for the flow of this material; complete it"),
    ],
)
def test_what_names_no_card_is_refused(folder, material, said):
    with pytest.raises(CaseError, match=said):
        case_in(folder, material)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "poisson = 0.33",
            "poisson = 0.7",
            r"sheet.material.poisson = 0.7: .*my_sheet.toml, line 4",
        ),
        ("rate = 18.0", "rat = 18.0", r"flow.rat.*did you mean \"rate\".*my_sheet.toml, line 6"),
        ("density = 2700.0", "density 2700", "my_sheet.toml: line 5: syntax"),
        ("young", "base = 'dc04'\nelastic", "sheet.material.elastic"),
        ("young", "card = 'other.toml'\nyoung", "names a card file itself"),
    ],
)
def test_faults_of_a_card_name_its_line(folder, old, new, said):
    (folder / "my_sheet.toml").write_text(CARD.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(CaseError, match=said):
        case_in(folder, NAMED)


def test_an_incomplete_library_material_is_completed(folder):
    flow = '{ kind = "voce", saturation = 420, drop = 140, rate = 12 }'
    case = case_in(folder, f'material = {{ base = "aa3104-h19", flow = {flow} }}')
    card = case.sheet.material
    assert card.name == "aa3104-h19-completed"
    assert card.r_values.by_angle[-1] == (90.0, 1.416)
    assert card.young == 69000.0
    rows = {row.key: row.origin for row in describe(case)}
    assert rows["sheet.material.young"] == "library"
    assert rows["sheet.material.flow.rate"] == "given"


def test_every_library_material_names_what_it_has():
    """Each value has a source or is invented, and each incomplete card lacks the flow curve."""
    for name, raw in library().items():
        given = {"young", "poisson", "density", "flow", "r_values"} & set(raw)
        assert raw.get("invented") or given <= set(raw["sources"]), name
        assert missing(raw) in ((), ("flow",)), name


@pytest.mark.parametrize("name", sorted(name for name in library() if missing(library()[name])))
def test_an_incomplete_material_says_how_it_is_completed(name):
    text = material_text(name)
    assert f'base = "{name}"' in text
    assert "no source gives it" in text
    card = {
        **library()[name],
        "flow": {"kind": "voce", "saturation": 400.0, "drop": 100.0, "rate": 9.0},
    }
    assert MaterialCard.model_validate(card).name == name


def test_the_list_is_no_wider_than_a_page():
    assert max(map(len, materials_text().splitlines())) <= 100


# EN 10202 and EN 10130, as far as their figures were read.
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("ts275", ("225 to 325 MPa", "325 to 425 MPa")),
        ("th620", ("570 to 670 MPa", "575 to 675 MPa")),
        ("dc04", ("at most 210 MPa", "270 to 350 MPa", "at least 38 %", "at least 1.6")),
    ],
)
def test_nominal_values_of_the_standards_are_shown(name, said):
    text = material_text(name)
    assert all(words in text for words in said)


@pytest.mark.parametrize(
    "value", [1.5, 7, True, 'a "b" \\ \n', [1.0, 2.0], {"a": {"b c": [1]}}, "\x7f"]
)
def test_values_are_written_as_toml(value):
    assert tomllib.loads(f"x = {inline(value)}") == {"x": value}
    assert tomllib.loads(toml_text({"x": value})) == {"x": value}


def test_what_toml_has_no_word_for_is_refused():
    with pytest.raises(TypeError, match="NoneType"):
        inline(None)
