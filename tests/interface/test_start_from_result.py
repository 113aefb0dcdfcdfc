"""A case that starts from a finished result: the same numbers, and what is refused in our words."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from formsim.case.earlier import start_notes
from formsim.case.load import load_case, parse_case
from formsim.errors import CaseError, StoreError
from formsim.layout import sheet_file
from formsim.pipeline.run import Run, run_case
from formsim.report.preflight import stages_text
from formsim.results import store
from formsim.stages.coarse import layer_findings
from formsim.version import VERSION
from tests.interface.small import PLAIN_OUTPUT, small_cup

TRIM = '\n[[stage]]\nkind = "trim"\nheight = 26.0\n'
AGAIN = '\n[[stage]]\nkind = "trim"\nname = "again"\nheight = 25.0\n'
BAKE = '\n[[stage]]\nkind = "bake"\nfactor = 0.93\n'
NECK = '\n[[stage]]\nkind = "neck"\ndie = { diameter = 73.0 }\ndepth = 6.0\n'
FLANGE = '\n[[stage]]\nkind = "flange"\ntool = { diameter = 71.8, radius = 2.0 }\ndepth = 3.0\n'
PROOF = '\n[[stage]]\nkind = "pressurise"\nname = "proof"\nuntil = "2 bar"\n'
LOADS = '\n[[stage]]\nkind = "pressurise"\nservice = "2 bar"\n\n[[stage]]\nkind = "top_load"\n'
REST = AGAIN + NECK + FLANGE + PROOF + LOADS
LIMITS = '\n[limits]\nmax_thinning_percent = 40.0\nforming_limit = { kind = "swift_hill" }\n'


def goes_on(result: str, rest: str, after: str = "") -> str:
    """Text of a case that starts from a result."""
    named = f', after = "{after}"' if after else ""
    start = f'start = {{ kind = "result", result = "{result}"{named} }}'
    return f'title = "Goes on"\nsource = "invented"\n{start}\n{PLAIN_OUTPUT}{rest}'


def made(text: str, folder: Path, name: str) -> Run:
    case = parse_case(text, f"{name}.toml", folder)
    return run_case(case, folder / name, text=text)


def numbers(run: Run, kept: int) -> list[dict]:
    """Rows of the last stages without what is timed."""
    rows = run.summary["stages"][-kept:]
    return [{key: value for key, value in row.items() if key != "seconds"} for row in rows]


@pytest.fixture(scope="module")
def runs(tmp_path_factory) -> dict[str, Run]:
    """The whole line in one case, and in three that each start from the one before."""
    folder = tmp_path_factory.mktemp("line")
    first = small_cup(output=f"layers = 3\n{PLAIN_OUTPUT}", more=f"{TRIM}{BAKE}")
    found = {
        "whole": made(first + REST + LIMITS, folder, "whole"),
        "first": made(first, folder, "first"),
    }
    found["rest"] = made(goes_on("first", REST + LIMITS), folder, "rest")
    found["last"] = made(goes_on("rest", LOADS + LIMITS), folder, "last")
    return found


@pytest.mark.slow
def test_numbers_are_those_of_one_run_to_the_last_bit(runs):
    assert numbers(runs["rest"], 6) == numbers(runs["whole"], 6)
    assert numbers(runs["last"], 2) == numbers(runs["whole"], 2)
    theory = runs["rest"].summary["theory"]
    assert theory == runs["whole"].summary["theory"][-len(theory) :]
    whole, rest = (store.load_thickness(runs[name].folder).columns for name in ("whole", "rest"))
    for name, values in rest.items():
        assert values == whole[name][-len(values) :], name


@pytest.mark.slow
def test_warnings_and_checks_are_those_of_one_run(runs):
    whole, rest = (runs[name].summary for name in ("whole", "rest"))
    wanted = {check["name"]: check for check in whole["checks"]}
    assert rest["checks"] == [wanted[check["name"]] for check in rest["checks"]]
    assert rest["start"] == {
        "result": "first",
        "digest": runs["first"].case.digest,
        "after": "bake",
        "failed": [],
    }
    assert whole["start"] is None


@pytest.mark.slow
def test_what_was_done_before_the_start_is_judged_by_the_limits_of_the_case(runs):
    def sheet(name):
        rows = runs[name].summary["risk"]
        return [row for row in rows if row["risk"] in ("thinning", "limit curve", "damage")]

    assert sheet("rest") == sheet("last") == sheet("whole")
    assert "limit curve" in {row["risk"] for row in sheet("last") if row["value"] is not None}
    folder, name = runs["last"].folder.parent, "tight"
    tight = made(goes_on("rest", LOADS + "[limits]\nmax_thinning_percent = 1.0\n"), folder, name)
    failed = [check["name"] for check in tight.summary["checks"] if not check["passed"]]
    assert failed and all(name.endswith("largest thinning") for name in failed)
    assert not tight.summary["passed"]
    assert [note for note in tight.summary["warnings"] if "does not set" in note]


@pytest.mark.slow
def test_the_kept_case_leads_to_the_result_from_anywhere(runs, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    kept = load_case(runs["last"].folder / "case.toml")
    assert kept.digest == runs["last"].case.digest
    before = [stage.name for stage in kept.before]
    assert before == ["draw", "dome", "trim", "bake", "again", "neck", "flange", "proof"]
    assert "draw, dome, trim, bake, again, neck, flange, proof" in stages_text(kept)


@pytest.mark.slow
def test_a_result_is_not_overwritten_by_what_starts_from_it(runs):
    for name in ("first", "rest"):
        with pytest.raises(StoreError, match="holds the result this case starts from"):
            run_case(runs["last"].case, runs[name].folder, replace=True)


@pytest.mark.slow
def test_a_damaged_sheet_is_said(runs, tmp_path):
    case = runs["last"].case
    kept = case.earlier.file.read_bytes()
    case.earlier.file.write_bytes(kept[:2000])
    with pytest.raises(StoreError, match="the sheet in .* cannot be read"):
        run_case(case)
    case.earlier.file.write_bytes(kept)


@pytest.fixture
def result(tmp_path) -> Path:
    """A folder that looks like a finished result, without any numbers in it."""
    folder = tmp_path / "made"
    text = small_cup(more=f"{TRIM}{LOADS}")
    case = parse_case(text, "cup.toml")
    rows = [{"name": stage.name, "complete": True, "height": 26.0} for stage in case.stages]
    summary = {"format": 1, "version": VERSION, "digest": case.digest, "finished": True}
    (folder / "sheets").mkdir(parents=True)
    (folder / "case.toml").write_text(text)
    (folder / "summary.json").write_text(
        json.dumps(summary | {"ended": "finished", "stages": rows})
    )
    for number, name in enumerate(("draw", "dome", "trim")):
        (folder / sheet_file(number, name)).touch()
    return folder


def faults(text: str, folder: Path) -> list[str]:
    with pytest.raises(CaseError) as caught:
        parse_case(text, "case.toml", folder)
    return [str(fault) for fault in caught.value.faults]


def test_a_start_that_did_not_pass_is_told_and_its_limits_are_named(result):
    case_file = result / "case.toml"
    text = case_file.read_text() + "\n[limits]\nmax_thinning_percent = 3.0\npress_force = 1e6\n"
    case_file.write_text(text)
    check = {"name": "draw: largest thinning", "passed": False}
    fine = {"name": "dome: largest thinning", "passed": True}
    changed(result, digest=parse_case(text, "cup.toml").digest, checks=[fine, check])
    case = parse_case(goes_on("made", NECK + "[limits]\npress_force = 2e6\n"), "c", result.parent)
    failed, left = start_notes(case.earlier, case.limits)
    assert "did not pass: draw: largest thinning; see formsim show" in failed
    assert "does not set" in left and "max_thinning_percent;" in left and "press_force" not in left
    assert "warning: the result" in stages_text(case)


def test_a_body_that_has_given_way_before_is_told(result):
    rows = json.loads((result / "summary.json").read_text())["stages"]
    rows[2]["gave_way"] = "proof, at 0.4 MPa inside"
    changed(result, stages=rows)
    case = parse_case(goes_on("made", LOADS), "c", result.parent)
    assert case.earlier.gave_way == "proof, at 0.4 MPa inside"
    (told,) = start_notes(case.earlier, case.limits)
    assert "has given way (proof, at 0.4 MPa inside): tests of it tell no strength" in told


def changed(folder: Path, **keys) -> None:
    file = folder / "summary.json"
    file.write_text(json.dumps(json.loads(file.read_text()) | keys))


def test_it_goes_on_after_the_last_body_that_is_passed_on(result):
    case = parse_case(goes_on("made", NECK), "case.toml", result.parent)
    assert case.earlier.after == "trim" and case.earlier.file.name == "3-trim.npz"
    assert case.sheet.thickness == 0.28 and case.mesh.columns == 90


def test_a_body_formed_on_fewer_layers_than_its_test_would_have_is_told(result):
    text = small_cup(output=f"layers = 2\n{PLAIN_OUTPUT}", more=f"{TRIM}{LOADS}")
    (result / "case.toml").write_text(text)
    changed(result, digest=parse_case(text, "cup.toml").digest)
    (told,) = layer_findings(parse_case(goes_on("made", LOADS), "case.toml", result.parent))
    assert told.value == 2 and "formed and tested in one run" in told.consequence
    assert not list(layer_findings(parse_case(goes_on("made", NECK), "c.toml", result.parent)))


@pytest.mark.parametrize("first", ["", BAKE])
def test_a_cut_above_the_body_of_the_result_is_refused(result, first):
    """No 5 % of doubt as with nominal sizes: the height was computed."""
    index = 1 if first else 0
    said = faults(goes_on("made", first + AGAIN.replace("25.0", "26.5")), result.parent)
    assert len(said) == 1
    assert f"stage[{index}].height = 26.5: lies above the rim" in said[0]
    assert "the body of the result is 26 mm high" in said[0]
    assert parse_case(goes_on("made", first + AGAIN), "case.toml", result.parent)


def test_the_digest_counts_the_result_and_the_stage(result, tmp_path):
    def digest(text):
        return parse_case(text, "case.toml", tmp_path).digest

    named = digest(goes_on("made", LOADS))
    assert named == digest(goes_on("made", LOADS, "trim")) != digest(goes_on("made", LOADS, "dome"))
    result.rename(tmp_path / "moved")
    assert named == digest(goes_on("moved", LOADS))


@pytest.mark.parametrize(
    ("start", "says"),
    [
        (("none", ""), "there is no such folder; results in .* are made"),
        (("made/case.toml", ""), "this is a file"),
        (("made/sheets", ""), "this folder holds no summary.json"),
        (
            ("made", "bake"),
            "is no stage of the result; its body is passed on after draw, dome, trim",
        ),
        (("made", "top_load"), "tests its body until it gives way and passes none on"),
    ],
)
def test_what_is_no_result_or_stage_is_refused(result, start, says):
    (fault,) = faults(goes_on(start[0], LOADS, start[1]), result.parent)
    assert fault.startswith("line 3: start.") and re.search(says, fault), fault


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ({"format": 99}, "has the format 99, this version reads 1"),
        ({"version": "0.0.1"}, "was made by version 0.0.1"),
        ({"ended": "running"}, "is still being made"),
        ({"digest": "other"}, "is not the one it was made from"),
        ({"finished": False, "stages": []}, "and no stage of it passes a body on"),
        (
            {"finished": False, "stages": [{"name": "draw", "complete": True}]},
            "name the stage with after; its body is passed on after draw",
        ),
    ],
)
def test_a_result_that_cannot_be_used_is_refused(result, keys, says):
    changed(result, **keys)
    (fault,) = faults(goes_on("made", LOADS), result.parent)
    assert says in fault


def test_a_stage_that_was_not_finished_is_refused(result):
    changed(result, finished=False, stages=[{"name": "draw", "complete": True}, {"name": "dome"}])
    (fault,) = faults(goes_on("made", LOADS, "dome"), result.parent)
    assert "start.after" in fault and "was not made to its end" in fault


def test_an_older_result_without_sheets_is_refused(result):
    (result / sheet_file(2, "trim")).unlink()
    (fault,) = faults(goes_on("made", LOADS), result.parent)
    assert 'keeps no sheet of its stage "trim"' in fault and "run its case again" in fault


def test_results_that_lead_round_in_a_circle_are_refused(result):
    (result / "case.toml").write_text(goes_on("../made", LOADS))
    (fault,) = faults(goes_on("made", LOADS), result.parent)
    assert "starts from itself" in fault and len(fault) < 400


def test_all_faults_are_told_at_once(result):
    more = '\n[sheet]\nthickness = 0.3\n\n[[expect]]\nmeasure = "heigth"\nlow = 1.0\nsource = "x"\n'
    found = faults(goes_on("none", NECK.replace("6.0", "-6.0") + more), result.parent)
    assert [fault.split(": ")[1].split(" = ")[0] for fault in found] == [
        "start.result",
        "stage[0].depth",
        "sheet",
        "expect[0].measure",
    ]


def test_stages_have_to_follow_on_those_of_the_result(result):
    draw = small_cup().partition("[[stage]]")[2].partition("[[stage]]")[0]
    (fault,) = faults(goes_on("made", f"\n[[stage]]{draw}"), result.parent)
    assert "a draw starts from the flat blank" in fault
    wide = NECK.replace("73.0", "80.0")
    (fault,) = faults(goes_on("made", wide), result.parent)
    assert "is not smaller than the" in fault
