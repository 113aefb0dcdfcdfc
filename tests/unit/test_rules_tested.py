"""Sheets of another thickness than that which was tested."""

import pytest

from formsim.case.digest import digest_of
from formsim.case.load import parse_case
from formsim.case.rules import preflight
from formsim.case.toml_text import toml_text
from tests.interface.small import small_cup

TESTED = "tested = { repeats = 2, thickness = %s, proof_strength = { mean = 205.0 } }"
CURVE = (
    '[limits]\nforming_limit = { kind = "table", strain = "true", unit = "fraction",'
    ' source = "invented", thickness = %s, minor = [-0.1, 0.0, 0.2], major = [0.3, 0.2, 0.3] }\n'
)
CARD = 'material = { base = "can-body-demo", %s }'
NAMED = 'material = "can-body-demo"'


def cup(tested="", limits=""):
    card = CARD % (TESTED % tested) if tested else NAMED
    return parse_case(small_cup((NAMED, card), more=limits), "cup.toml")


def told(case):
    return [one for one in preflight(case) if "thickness over that" in one.rule]


@pytest.mark.parametrize(("tested", "verdict"), [("0.28", "good"), ("0.34", "good")])
def test_a_sheet_as_thick_as_the_tested_one(tested, verdict):
    assert [one.verdict for one in told(cup(tested))] == [verdict]


@pytest.mark.parametrize(("tested", "word"), [("0.5", "thinner"), ("0.2", "thicker")])
def test_a_sheet_of_another_thickness_is_told(tested, word):
    (one,) = told(cup(tested))
    assert one.verdict == "watch" and f"the sheet is {word}" in one.consequence
    assert one.value == pytest.approx(0.28 / float(tested))


def test_a_limit_curve_of_another_thickness_is_told():
    (one,) = told(cup(limits=CURVE % "1.0"))
    assert one.verdict == "watch" and "lower than it says" in one.consequence
    assert not told(cup())


def test_what_was_tested_does_not_count_in_the_name_of_a_case():
    assert digest_of({"a": 1.0, "tested": {"repeats": 2}}) == digest_of({"a": 1.0})
    assert digest_of({"b": {"thickness": None}}) == digest_of({"b": {}})


def test_a_flow_curve_of_the_users_own_was_not_tested(tmp_path):
    card = tmp_path / "ours.toml"
    case = cup("0.5")
    raw = case.sheet.material.model_dump(exclude_none=True)
    card.write_text(toml_text(raw))
    flow = 'flow = { kind = "voce", saturation = 400.0, drop = 100.0, rate = 15.0 }'
    text = small_cup((NAMED, f'material = {{ card = "ours.toml", {flow} }}'))
    assert parse_case(text, "cup.toml", tmp_path).sheet.material.tested is None
    text = small_cup((NAMED, 'material = { card = "ours.toml" }'))
    assert (
        parse_case(text, "cup.toml", tmp_path).sheet.material.tested == case.sheet.material.tested
    )


@pytest.mark.parametrize(("thinning", "doubted"), [("0.12", True), ("1.0", False), ("12", False)])
def test_a_share_in_the_place_of_per_cent_is_doubted(thinning, doubted):
    case = cup(limits=f"[limits]\nmax_thinning_percent = {thinning}\n")
    found = [one for one in preflight(case) if "max_thinning_percent" in one.rule]
    assert bool(found) == doubted
    if doubted:
        assert found[0].consequence == "0.12 per cent: is a share meant? Then write 12"
