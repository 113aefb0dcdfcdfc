"""Key paths that vary: stages by number and by name, short forms written out, nearest keys told."""

import tomllib
from pathlib import Path

import pytest

from formsim.case.key_path import UnknownKeyError, place_of, with_values
from formsim.case.load import build_case
from tests.interface.small import small_cup

RAW = tomllib.loads(small_cup())
NOSE = ("stage", 0, "punch", "nose_radius")


@pytest.mark.parametrize("key", ["stage[0]", "stage[draw]", "stage.draw", " stage . draw"])
def test_a_stage_goes_by_its_number_or_its_name(key):
    assert place_of(f"{key}.punch.nose_radius", RAW) == NOSE


@pytest.mark.parametrize(
    ("key", "word"),
    [
        ("stage.draw.punch.nos_radius", 'did you mean "nose_radius"?'),
        ("shet.thickness", 'did you mean "sheet"?'),
        ("stage.drow.punch.nose_radius", 'did you mean "draw"? they are draw, dome'),
        ("stage[7].punch", "they are draw, dome"),
        ("sheet.thickness.mm", "sheet.thickness has no keys below it"),
        ("sheet.material.flow.rat", 'did you mean "rate"?'),
        ("sheet thickness", "expected a key path"),
        ("limits.forming_limit.imperfection", "one of table, keeler_brazier"),
    ],
)
def test_a_path_that_leads_nowhere_names_the_nearest(key, word):
    with pytest.raises(UnknownKeyError) as error:
        place_of(key, RAW)
    assert word in str(error.value)


@pytest.mark.parametrize(
    ("key", "value"),
    [("mesh.layers", 3), ("stage.draw.die.land", 3.0), ("limits.press_force", "40 kN")],
)
def test_a_key_with_a_default_may_vary_too(key, value):
    changed = with_values(RAW, {place_of(key, RAW): value}, Path())
    build_case(changed, "case")


def test_the_base_case_stays_as_it_was():
    before = small_cup()
    with_values(RAW, {NOSE: 4.0}, Path())
    assert tomllib.loads(before) == RAW


def test_one_friction_for_all_tools_is_written_out():
    raw = {**RAW, "stage": [{**RAW["stage"][0], "friction": 0.07}, RAW["stage"][1]]}
    changed = with_values(raw, {place_of("stage.draw.friction.die", raw): 0.1}, Path())
    assert changed["stage"][0]["friction"] == {"punch": 0.07, "die": 0.1, "holder": 0.07}


def test_a_value_of_a_library_material_may_vary_beside_the_material_itself():
    material, r_bar = ("sheet", "material"), ("sheet", "material", "r_values", "r_bar")
    raw = {**RAW, "sheet": {**RAW["sheet"], "material": "can-body-demo"}}
    changed = with_values(raw, {r_bar: 1.4, material: "aa6016-t4"}, Path())
    card = build_case(changed, "case").sheet.material
    assert (card.name, card.r_bar) == ("aa6016-t4", 1.4)
