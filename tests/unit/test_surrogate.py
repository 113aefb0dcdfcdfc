"""Surrogate of a study: what it says between the variants, and what it refuses to say."""

import json
import shlex
from pathlib import Path

import numpy as np
import pytest

from formsim.errors import CaseError, FormsimError, StoreError
from formsim.study.asked import asked_study, check_same
from formsim.study.conduct import conduct
from formsim.study.folder import LAWS, open_study
from formsim.study.kept import read_study
from formsim.study.plan import plan_study
from formsim.study.surrogate import predict
from formsim.study.surrogate_place import surrounded
from formsim.study.surrogate_text import predict_text
from tests.interface.small import small_cup
from tests.unit.standin import NOSE, StandIn

NOSES = f"{NOSE} = 2:6:0.5"
METALS = 'sheet.material = ["aa6016-t4", "aa5042-h2"]'


def law(case):
    """Invented thinning [%]: smooth in the nose radius, another level for another metal."""
    nose, metal = case["stage"][0]["punch"]["nose_radius"], str(case["sheet"]["material"])
    return {"max_thinning_percent": 12.0 - 3.0 * np.log(nose) + 2.0 * ("5042" in metal)}


def solve(tmp_path, *vary, of=law, **more):
    case = tmp_path / "cup.toml"
    case.write_text(small_cup(), encoding="utf-8")
    design = more.pop("design", {})
    asked = asked_study(case, vary, design, measure=[{"measure": "max_thinning_percent"}], **more)
    plan = plan_study(asked.study, asked.case, asked.name)
    folder = open_study(tmp_path / "study")
    conduct(plan, folder, StandIn(of), asked.seen_from(folder.path))
    return read_study(folder.path)


def test_a_place_between_the_variants(tmp_path):
    told = predict(solve(tmp_path, NOSES), ["nose_radius = 3.3"])
    (answer,) = told.answers
    assert answer.value == pytest.approx(12.0 - 3.0 * np.log(3.3), abs=0.02)
    assert answer.low < 12.0 - 3.0 * np.log(3.3) < answer.high
    assert answer.rows == 9 and answer.explained > 0.95
    assert answer.answered < 0.05
    text = predict_text(told)
    assert "predicted and not solved" in text and "9 rows are few: 10" in text
    assert max(map(len, text.splitlines())) <= 100


def test_a_unit_and_the_whole_path_are_read(tmp_path):
    study = solve(tmp_path, NOSES)
    plain = predict(study, ["nose_radius = 3.3"]).answers[0].value
    for text in (f"{NOSE} = 0.33 cm", f'{NOSE} = "3.3 mm"'):
        assert predict(study, [text]).answers[0].value == pytest.approx(plain, rel=1e-9)


def test_a_metal_has_its_own_level(tmp_path):
    study = solve(tmp_path, NOSES, METALS)
    values = []
    for metal in ("aa6016-t4", "aa5042-h2"):
        told = predict(study, ["nose_radius = 3.3", f"material = {metal}"])
        values.append(told.answers[0].value)
    assert values[1] - values[0] == pytest.approx(2.0, abs=0.1)


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (["nose_radius = 6.5"], "lies outside of the study, 2 to 6 mm"),
        (["nose_radius = 1.9 mm"], "nothing is said beyond"),
        (["nose_radius"], "expected KEY = VALUE"),
        (["nose_radius = wide"], "expected a number in mm"),
        (["nose_radius = nan"], "expected a number in mm"),
        (["nose_radius = 3 kN"], "expected a number in mm"),
        (["die.radius = 3"], f"the study varies {NOSE}"),
        (["nose_radius = 3", f"{NOSE} = 3"], "is given twice"),
        ([], f"no value for {NOSE}"),
    ],
)
def test_a_place_that_cannot_be_read_or_was_not_solved(tmp_path, at, said):
    with pytest.raises(CaseError, match=said):
        predict(solve(tmp_path, NOSES), at)


def test_an_input_with_one_value_need_not_be_named(tmp_path):
    told = predict(solve(tmp_path, NOSES, "mesh.columns = [90]"), ["nose_radius = 3.3"])
    assert told.place["mesh.columns"] == 90 and told.answers[0].rows == 9


def test_a_metal_that_is_not_in_the_study(tmp_path):
    study = solve(tmp_path, NOSES, METALS)
    with pytest.raises(CaseError) as error:
        predict(study, ["nose_radius = 7", "material = copper"])
    told = str(error.value)
    assert "which has aa6016-t4, aa5042-h2" in told and "2 to 6 mm" in told


def test_a_place_in_the_box_but_not_among_the_variants(tmp_path):
    """Both values lie in the ranges; the corner between them holds no variant."""
    noses = f"{NOSE} = [2, 2.5, 3, 3.5, 4, 4.5, 5, 6]"
    sheets = "sheet.thickness = [0.26, 0.27, 0.26, 0.275, 0.28, 0.285, 0.29, 0.3]"
    study = solve(tmp_path, noses, sheets, design={"kind": "list"})
    with pytest.raises(FormsimError, match="would be extrapolated"):
        predict(study, ["nose_radius = 2.2", "thickness = 0.298"])
    assert predict(study, ["nose_radius = 4", "thickness = 0.28"]).answers


def test_too_few_rows(tmp_path):
    with pytest.raises(FormsimError, match="4 of 4 variants give trusted numbers, too few"):
        predict(solve(tmp_path, f"{NOSE} = 2:5:1"), ["nose_radius = 3.3"])


def test_the_command_of_the_hint_extends_the_study_and_solves_nothing_twice(tmp_path):
    study = solve(tmp_path, f"{NOSE} = 2:5:1")
    with pytest.raises(FormsimError) as error:
        predict(study, ["nose_radius = 3.3"])
    _, file, _, folder = shlex.split(error.value.hint.partition("then: formsim ")[2])
    text = Path(file).read_text()
    Path(file).write_text(text.replace("2:5:1", "2:5:0.5"))
    asked = asked_study(Path(file), (), {})
    check_same(open_study(Path(folder)), asked, replace=False)
    engine = StandIn(law)
    plan = plan_study(asked.study, asked.case, asked.name)
    conduct(plan, open_study(Path(folder)), engine, asked.seen_from(Path(folder)))
    assert len(engine.asked) == 3
    assert predict(read_study(Path(folder)), ["nose_radius = 3.3"]).answers[0].rows == 7


def test_variants_that_gave_way_do_not_count_and_are_told(tmp_path):
    def of(case):
        return law(case) if case["stage"][0]["punch"]["nose_radius"] > 2.4 else "torn"

    told = predict(solve(tmp_path, f"{NOSE} = 2:6:0.25", of=of), ["nose_radius = 2.52"])
    assert told.answers[0].rows == 15 and told.nearest[1] == "done"
    with pytest.raises(FormsimError, match="would be extrapolated"):
        predict(solve(tmp_path, f"{NOSE} = 2:6:0.25", of=of), ["nose_radius = 2.2"])


def test_noise_is_called_noise(tmp_path):
    def of(case):
        nose = case["stage"][0]["punch"]["nose_radius"]
        return {"max_thinning_percent": 10.0 + (int(1e4 * nose) * 7919 % 101) / 50.0}

    told = predict(solve(tmp_path, f"{NOSE} = 2:6:0.25", of=of), ["nose_radius = 3.3"])
    assert told.answers[0].explained < 0.5
    assert "hardly determine" in predict_text(told)


def test_a_folder_without_a_study(tmp_path):
    with pytest.raises(StoreError, match="holds no study"):
        read_study(tmp_path)


def test_what_surrounds_a_place():
    triangle = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    for place, inside in (((0.3, 0.3), True), ((0.6, 0.6), False), ((0.0, 1.0), True)):
        assert surrounded(triangle, np.array(place)) is inside


def laws_of(kept):
    return kept.folder.path / LAWS


def test_a_second_call_takes_the_laws_of_the_first(tmp_path):
    study = solve(tmp_path, NOSES, METALS)
    at = ["nose_radius = 3.3", "material = aa5042-h2"]
    first = predict(study, at)
    second = predict(read_study(study.folder.path), at)
    assert first.fitting.count == 1 and second.fitting.count == 0
    assert "1 law fitted in" in predict_text(first) and "kept in laws.json" in predict_text(first)
    assert "laws kept from an earlier call" in predict_text(second)
    for one, other in zip(first.answers, second.answers, strict=True):
        assert (one.value, one.low) == pytest.approx((other.value, other.low), rel=1e-9)
        assert one.high == pytest.approx(other.high, rel=1e-9)


def test_a_changed_table_is_fitted_again(tmp_path):
    study = solve(tmp_path, NOSES)
    predict(study, ["nose_radius = 3.3"])
    more = solve(tmp_path, f"{NOSE} = 2:6:0.25")
    told = predict(more, ["nose_radius = 3.3"])
    assert told.answers[0].rows == 17 and told.fitting.count == 1
    assert "fitted again, since the table has changed" in " ".join(predict_text(told).split())
    assert predict(more, ["nose_radius = 3.3"]).fitting.count == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "laws.json is damaged"),
        ('{"format": 2, "laws": {"draw.max', "laws.json is damaged"),
        ("[]", "laws.json is damaged"),
        ('{"format": 2, "laws": {"a": {"behind": "x"}}}', "laws.json is damaged"),
        ('{"format": 1, "laws": {}}', "laws.json is of another version"),
    ],
)
def test_laws_that_cannot_be_read_are_fitted_again(tmp_path, text, said):
    study = solve(tmp_path, NOSES)
    before = predict(study, ["nose_radius = 3.3"])
    laws_of(study).write_text(text)
    told = predict(study, ["nose_radius = 3.3"])
    assert told.fitting.why == said and f"since {said}" in " ".join(predict_text(told).split())
    assert told.answers[0].value == pytest.approx(before.answers[0].value, rel=1e-9)
    assert predict(study, ["nose_radius = 3.3"]).fitting.count == 0


@pytest.mark.parametrize("size", [-1.0, 0.0, float("inf"), float("nan")])
def test_a_law_with_impossible_sizes_is_damaged(tmp_path, size):
    study = solve(tmp_path, NOSES)
    predict(study, ["nose_radius = 3.3"])
    kept = json.loads(laws_of(study).read_text())
    for row in kept["laws"].values():
        row["lengths"][0][0] = size
    laws_of(study).write_text(json.dumps(kept))
    assert predict(study, ["nose_radius = 3.3"]).fitting.why == "laws.json is damaged"


def test_laws_that_cannot_be_kept_cost_no_answer(tmp_path):
    study = solve(tmp_path, NOSES)
    laws_of(study).mkdir()
    told = predict(study, ["nose_radius = 3.3"])
    assert told.answers and "not kept: " in " ".join(predict_text(told).split())


def test_rows_of_other_sources_are_told(tmp_path, monkeypatch):
    study = solve(tmp_path, NOSES)
    monkeypatch.setattr("formsim.study.surrogate.sources", lambda: "f" * 16)
    told = predict(study, ["nose_radius = 3.3"])
    assert told.others == 9
    assert "9 rows of another version or other sources of formsim" in predict_text(told)
