"""Pre-flight rules: the handbook figures and their words."""

import math
from pathlib import Path

import pytest

from formsim.case.card import MaterialCard
from formsim.case.load import load_case, parse_case
from formsim.case.rules import held_area, holder_pressure_rule, preflight, yield_stress
from formsim.results.findings import force_findings, stroke_findings

CANISTER = Path(__file__).parents[2] / "cases" / "canister_cup.toml"


def findings(*changes: tuple[str, str]):
    text = CANISTER.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    found = preflight(parse_case(text, "x"))
    return {finding.rule.removeprefix("draw: "): finding for finding in found}


def test_values_of_the_canister():
    found = findings()
    assert found["draw ratio"].value == pytest.approx(118 / 74)
    assert found["clearance in thicknesses"].value == pytest.approx(0.31 / 0.28)
    assert found["die radius in thicknesses"].verdict == "good"
    assert found["holder pressure [MPa]"].value == pytest.approx(
        8000 / (math.pi / 4 * (118**2 - (74 + 0.62 + 5) ** 2))
    )


@pytest.mark.parametrize(
    ("blank", "verdict"), [("133.0", "good"), ("140.0", "watch"), ("170.0", "will fail")]
)
def test_draw_ratio_verdicts(blank, verdict):
    change = ("blank_diameter = 118.0", f"blank_diameter = {blank}")
    assert findings(change)["draw ratio"].verdict == verdict


@pytest.mark.parametrize(
    ("clearance", "word"), [("0.285", "ironed"), ("0.31", ""), ("0.40", "loose")]
)
def test_clearance_words(clearance, word):
    found = findings(("clearance = 0.31", f"clearance = {clearance}"))["clearance in thicknesses"]
    assert word in found.consequence
    assert (found.verdict == "good") == (word == "")


def test_clearance_at_the_end_of_the_range_is_good():
    found = findings(("clearance = 0.31", "clearance = 0.2996"))
    assert found["clearance in thicknesses"].verdict == "good"


@pytest.mark.parametrize(("force", "word"), [("2 kN", "wrinkles"), ("150 kN", "thinning")])
def test_holder_words(force, word):
    found = findings(('force = "8 kN"', f'force = "{force}"'))["holder pressure [MPa]"]
    assert found.verdict == "watch"
    assert word in found.consequence


def test_the_limiting_ratio_follows_the_r_value():
    found = findings(("blank_diameter = 118.0", "blank_diameter = 150.0"))["draw ratio"]
    assert found.verdict == "watch"
    low = ("{ r_bar = 1.0 }", "{ r_bar = 0.5 }")
    found = findings(("blank_diameter = 118.0", "blank_diameter = 150.0"), low)["draw ratio"]
    assert (found.verdict, "tears" in found.consequence) == ("will fail", True)
    assert "1.91" in found.limit


def test_a_holder_that_hardly_holds_wrinkles():
    found = findings(('force = "8 kN"', 'force = "40 N"'))["holder pressure [MPa]"]
    assert (found.verdict, "wrinkles" in found.consequence) == ("will wrinkle", True)


@pytest.mark.parametrize(
    ("old", "new", "rule", "verdict"),
    [
        ("depth = 9.5", "depth = 9.5", "dome depth over cavity diameter", "good"),
        ("depth = 9.5", "depth = 13.5", "dome depth over cavity diameter", "watch"),
        ('"15 kN"', '"15 kN"', "clamp pressure over yield stress", "good"),
        ('"15 kN"', '"200 kN"', "clamp pressure over yield stress", "watch"),
        ('"15 kN"', '"400 kN"', "clamp pressure over yield stress", "will fail"),
        (
            "diameter = 54.0",
            "diameter = 57.4",
            "gap of dome tool to cavity in thicknesses",
            "watch",
        ),
        (
            "shoulder_radius = 3.0",
            "shoulder_radius = 1.0",
            "dome shoulder radius in thicknesses",
            "watch",
        ),
    ],
)
def test_dome_rules(old, new, rule, verdict):
    found = findings((old, new))[f"dome: {rule}"]
    assert (found.verdict, bool(found.consequence)) == (verdict, verdict != "good")


def test_a_far_too_deep_dome_fails():
    found = findings(("depth = 14.0", "depth = 40.0"), ("depth = 9.5", "depth = 22.0"))
    assert found["dome: dome depth over cavity diameter"].verdict == "will fail"


def test_a_ring_clamp_presses_on_its_ring():
    case = load_case(CANISTER.with_name("canister_ring_base.toml"))
    (found,) = [f for f in preflight(case) if f.rule == "dome: clamp pressure over yield stress"]
    assert found.value == pytest.approx(10_000 / (math.pi / 4 * (74**2 - 61**2)) / 300)


def test_punches_that_differ_are_noticed():
    assert not [rule for rule in findings() if rule.startswith("dome: punch")]
    text = CANISTER.read_text(encoding="utf-8")
    head, dome = text.rsplit("[[stage]]", 1)
    dome = dome.replace("nose_radius = 3.0", "nose_radius = 4.0").replace("74.0", "73.5")
    found = {f.rule: f for f in preflight(parse_case(f"{head}[[stage]]{dome}", "x"))}
    nose = found["dome: punch nose radius [mm]"]
    assert (nose.value, nose.limit, nose.verdict) == (4.0, "3, as in draw", "watch")
    assert "dome: punch diameter [mm]" in found


def test_every_finding_names_a_source():
    assert all(finding.source for finding in findings().values())


def test_a_gap_holder_has_no_pressure_finding():
    assert "holder pressure [MPa]" not in findings(('force = "8 kN"', "gap = 0.30"))


def test_a_narrow_flange_is_noticed():
    found = findings(("blank_diameter = 118.0", "blank_diameter = 80.5"))
    assert "flange" in found["held flange width in thicknesses"].consequence


@pytest.mark.parametrize(
    ("flow", "expected"),
    [
        ({"kind": "voce", "saturation": 405, "drop": 105, "rate": 18}, 300.0),
        ({"kind": "swift", "strength": 500, "prestrain": 0.01, "exponent": 0.2}, 199.0536),
        ({"kind": "ludwik", "yield_stress": 120, "strength": 300, "exponent": 0.5}, 120.0),
        ({"kind": "table", "strain": [0, 0.1], "stress": [150, 200]}, 150.0),
        (
            {"kind": "hockett_sherby", "saturation": 400, "drop": 250, "rate": 6, "exponent": 0.8},
            150.0,
        ),
    ],
)
def test_yield_stress(flow, expected):
    assert yield_stress(card(flow)) == pytest.approx(expected, rel=1e-6)


def test_hollomon_begins_on_the_elastic_line():
    metal = card({"kind": "hollomon", "strength": 500, "exponent": 0.2})
    begin = yield_stress(metal)
    assert begin == pytest.approx(500 * (begin / metal.young) ** 0.2)


def test_holder_rule_is_a_fraction_of_yield():
    case = load_case(CANISTER)
    assert holder_pressure_rule(case.sheet.material) == pytest.approx(4.5)
    assert held_area(case.sheet, case.stages[0]) == pytest.approx(math.pi / 4 * (118**2 - 79.62**2))


def card(flow):
    values = {"name": "m", "source": "invented", "young": 7e4, "poisson": 0.33, "density": 2700}
    return MaterialCard.model_validate(values | {"flow": flow})


def steel_findings(material: str):
    text = CANISTER.read_text(encoding="utf-8")
    start, end = text.index("[sheet.material]"), text.index("[[stage]]")
    text = text[:start].replace("[sheet]", f"[sheet]\nmaterial = {material}") + text[end:]
    found = preflight(parse_case(text, "steel.toml"))
    return {finding.rule: finding for finding in found if "yield" in finding.rule}


@pytest.mark.parametrize(
    ("saturation", "family", "grade"),
    [(330, "good", "good"), (480, "good", "watch"), (1060, "watch", "watch")],
)
def test_a_library_card_completed_with_a_yield_that_is_not_its_own(saturation, family, grade):
    """DC04 by EN 10130: a yield stress of at most 210 MPa."""
    flow = f'{{ kind = "voce", saturation = {saturation}.0, drop = 150.0, rate = 12.0 }}'
    found = steel_findings(f'{{ base = "dc04", flow = {flow} }}')
    first, second = (
        found["yield stress [MPa] for steel sheet"],
        found["yield stress [MPa] for dc04"],
    )
    assert (first.verdict, second.verdict) == (family, grade)
    assert "EN 10130" in second.source
    if family == "watch":
        assert "in MPa?" in first.consequence


def test_the_metal_is_told_by_its_modulus():
    found = findings()["yield stress [MPa] for aluminium sheet"]
    assert (found.value, found.verdict) == (300.0, "good")
    odd = findings(("saturation = 405.0, drop = 105.0", "saturation = 700.0, drop = 105.0"))
    assert odd["yield stress [MPa] for aluminium sheet"].verdict == "watch"
    copper = findings(("young = 69000.0", "young = 120000.0"))
    assert not [rule for rule in copper if rule.startswith("yield stress")]


@pytest.mark.parametrize(
    ("force", "words"),
    [
        ("60", ("will fail", "the die bears 18.", "is 60 kN meant? Plain numbers are N")),
        ('"12 kN"', ("will fail", "the limit cannot be kept")),
        ('"40 kN"', ("good",)),
    ],
)
def test_a_press_force_below_ideal_work_and_holder_is_told(force, words):
    """Ideal work is a lower bound; 8 kN of the 18 kN are the holder's."""
    text = CANISTER.read_text(encoding="utf-8") + f"\n[limits]\npress_force = {force}\n"
    (found,) = force_findings(parse_case(text, "x"))
    told = f"{found.verdict}: {found.consequence}"
    assert all(word in told for word in words)


def test_no_press_force_is_asked_for_where_none_is_given():
    assert not list(force_findings(load_case(CANISTER)))


def test_a_draw_that_leaves_a_flange_is_judged_up_to_there():
    """The calibration of a critical damage stops at the stroke of fracture; a search must not."""
    text = (CANISTER.parent / "fracture_cup.toml").read_text(encoding="utf-8")
    (found,) = stroke_findings(parse_case(text, "x"))
    assert (found.verdict, found.value) == ("watch", 15.0)
    assert "a flange is left" in found.consequence
    through = text.replace("stroke = 15.0", 'stroke = "through"')
    assert not list(stroke_findings(parse_case(through, "x")))
    assert not list(stroke_findings(load_case(CANISTER)))
