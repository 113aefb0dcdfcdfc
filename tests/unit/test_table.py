"""Text tables of a summary."""

from __future__ import annotations

import pytest

from formsim.report.advice import UNKNOWN, advice_on
from formsim.report.lines import grid_text, table
from formsim.report.table import (
    check_table,
    result_text,
    solver_table,
    stage_table,
    theory_table,
    tool_table,
)
from formsim.report.verdict import verdict_text
from formsim.report.words import counted, number, wanted

SUMMARY = {
    "case": "Demo cup",
    "digest": "0123456789ab",
    "version": "0.1.0",
    "stages": [
        {
            "name": "draw",
            "kind": "draw",
            "min_thickness": 0.27234,
            "min_thickness_zone": "wall",
            "min_thickness_radius": 38.447,
            "max_thinning_percent": 2.736,
            "peak_force": {"die": 18283.8, "punch": 13283.8},
            "work": {"die": 0.0, "punch": 320.7},
            "height": 28.685,
            "stroke": 33.561,
            "increments": 448,
            "iterations": 1830,
            "cuts": 2,
            "loose_increments": 1,
            "seconds": 2.58,
        },
        {
            "name": "second",
            "kind": "bulge",
            "stroke": 12.0,
            "min_thickness": 0.2,
            "min_thickness_zone": "dome crown",
            "min_thickness_radius": 0.0,
            "max_thinning_percent": 28.6,
            "peak_force": {},
            "work": {"fluid": 8.0},
            "height": 12.0,
            "increments": 10,
            "iterations": 30,
            "cuts": 0,
            "loose_increments": 0,
            "seconds": 0.4,
        },
    ],
    "checks": [
        {
            "name": "volume",
            "computed": 1.0,
            "expected": 1.0,
            "tolerance": 0.002,
            "kind": "trust",
            "low": 0.998,
            "high": 1.002,
            "unit": "",
            "passed": True,
            "source": "constant volume",
        },
        {
            "name": "height",
            "computed": 28.685,
            "expected": 34.15,
            "tolerance": 0.65,
            "kind": "expectation",
            "low": 33.5,
            "high": 34.8,
            "unit": "mm",
            "passed": False,
            "source": "a book",
        },
    ],
    "passed": False,
}


def test_stage_rows_show_what_matters():
    lines = grid_text(stage_table(SUMMARY)).splitlines()
    assert len(lines) == 5
    for text in ("0.2723", "wall", "38.45", "2.74 %", "28.68"):
        assert text in lines[3], text
    assert "dome crown" in lines[4] and lines[4].startswith("second (bulge)")


def test_dome_depth_and_stand_are_in_the_table():
    dome = {**SUMMARY["stages"][0], "kind": "dome", "dome_depth": 9.123, "stand_diameter": 66.6}
    row = grid_text(stage_table({"stages": [dome]})).splitlines()[3]
    assert row.split()[-2:] == ["9.12", "66.60"]


def test_solver_rows():
    lines = grid_text(solver_table(SUMMARY)).splitlines()
    assert "step halvings" in lines[0] and "larger residual" in lines[0]
    assert lines[2].split() == ["draw", "33.561", "448", "1830", "2", "1", "2.6"]


def test_long_texts_are_broken_into_lines():
    lines = table(("a", "b"), [("one two three", "1")], left=(0,), widest={0: 8}).splitlines()
    assert lines == ["a        b", "----------", "one two  1", "three"]


def test_columns_are_aligned():
    lines = table(("a", "number"), [("x", "1.0"), ("long name", "22.0")], left=(0,)).splitlines()
    assert lines == [
        "a          number",
        "-----------------",
        "x             1.0",
        "long name    22.0",
    ]


def test_tools_in_kilonewton_and_joule():
    lines = grid_text(tool_table(SUMMARY)).splitlines()
    assert lines[3].split() == ["draw", "punch", "13.284", "320.70"]
    assert lines[4].split() == ["second", "fluid", "-", "8.00"]


def test_failed_checks_come_first():
    lines = grid_text(check_table(SUMMARY)).splitlines()
    assert lines[2].startswith("failed  height")
    assert "33.5 to 34.8 mm" in lines[2] and "a book" in lines[2]
    assert lines[3].startswith("ok      volume")


def test_whole_text():
    text = result_text(SUMMARY)
    assert text.startswith("Demo cup  (digest 0123456789ab, version 0.1.0)\n")
    verdict = text.split("\n\n")[1]
    assert verdict.startswith("NOT PASSED: 1 of 2 checks failed\n1 expectation of the case missed")
    assert "  height: 28.68, wanted 33.5 to 34.8 mm" in verdict
    assert verdict.endswith("thinning: no limit given")
    good = {**SUMMARY, "checks": SUMMARY["checks"][:1], "limits": {"max_thinning_percent": 10.0}}
    assert result_text(good).split("\n\n")[1] == "the check is ok"
    assert max(map(len, text.splitlines())) <= 100


def check(name, kind, **more):
    row = {"name": name, "kind": kind, "computed": 3.0, "low": None, "high": 2.0, "unit": "% of t"}
    return row | {"passed": False, "place": "", "source": "own limit"} | more


@pytest.mark.parametrize(
    ("low", "high", "name", "text"),
    [
        (None, 2.0, "x", "at most 2 % of t"),
        (1.5, None, "x", "at least 1.5 % of t"),
        (1.0, 2.0, "x", "1 to 2 % of t"),
        (-2.0, 2.0, "draw: deepest penetration", "at most 2 % of t"),
        (-2.0, 2.0, "draw: change of volume under load", "-2 to 2 % of t"),
        (None, None, "x", "-"),
    ],
)
def test_bounds_in_words(low, high, name, text):
    assert wanted(check(name, "trust", low=low, high=high)) == text


def test_bounds_of_an_older_result():
    older = {"name": "x", "expected": 2.0, "tolerance": 0.5, "unit": "mm"}
    assert wanted(older) == "1.5 to 2.5 mm"


def test_a_failed_trust_check_says_cause_place_consequence_and_cure():
    name = "draw: deepest penetration of a loaded contact point during the stroke"
    text = verdict_text({"checks": [check(name, "trust", place="at the die, at stroke 3 mm")]})
    assert "1 trust check failed" in text and "at most 2 % of t" in text.replace("\n    ", " ")
    for word in ("cause: ", "place: at the die", "consequence: ", "try: "):
        assert word in text
    assert "set by formsim" in grid_text(check_table({"checks": [check(name, "trust")]}))


def test_limits_are_told_apart():
    text = verdict_text({"checks": [check("draw: largest thinning", "limit", unit="%")]})
    assert "1 limit of the case not kept:\n  draw: largest thinning: 3, wanted at most 2 %" in text


def test_an_unknown_check_is_told_all_the_same():
    assert advice_on("draw: something new") is UNKNOWN


def test_findings_and_warnings_are_in_the_verdict():
    finding = {"verdict": "will fail", "rule": "draw: draw ratio", "value": 2.5}
    finding |= {"limit": "up to 1.8, limit 2.12", "consequence": "the base tears", "source": "s"}
    text = verdict_text({"findings": [finding], "warnings": ["no picture: no library"]})
    assert "will fail: draw: draw ratio 2.5 (usual up to 1.8, limit 2.12): the base tears" in text
    assert "warning: no picture: no library" in text


def test_numbers_and_counts():
    assert [number(x) for x in (None, 1234.56, -0.00012345, 0, "x")] == [
        "-",
        "1235",
        "-0.0001234",
        "0",
        "x",
    ]
    assert [counted(n, "limit") for n in (0, 1, 2)] == ["0 limits", "1 limit", "2 limits"]


def test_theory_fits_the_page():
    row = {"name": "n" * 20 + " long" * 12, "theory": None, "simulated": 1.0, "unit": "mm"}
    text = grid_text(theory_table({"theory": [row | {"source": "word " * 20, "note": ""}]}))
    assert max(map(len, text.splitlines())) <= 100


def test_remarks_of_theory_rows_stand_below_once():
    row = {"theory": 1.0, "simulated": 2.0, "unit": "N", "source": "a book", "note": ""}
    rows = [row | {"name": "one", "remark": "a limit"}, row | {"name": "two", "remark": ""}]
    rows += [row | {"name": "three", "remark": "it leaves out " + "bending " * 15}]
    rows += [row | {"name": "four", "remark": "a limit"}]
    lines = grid_text(theory_table({"theory": rows})).splitlines()
    ends = [line.split("a book")[1].strip() for line in lines[2:6]]
    assert ends == ["[1]", "", "[2]", "[1]"]
    assert lines[6] == "[1] a limit"
    assert lines[7].startswith("[2] it leaves out") and lines[8].startswith("    bending")
    assert max(map(len, lines)) <= 100


def test_a_run_of_all_columns_says_so_in_its_head():
    assert "run with --exact" not in result_text(SUMMARY).splitlines()[0]
    head = result_text(SUMMARY | {"exact": True}).splitlines()[0]
    assert head == "Demo cup  (digest 0123456789ab, version 0.1.0, run with --exact)"


def test_unfinished_run_says_why():
    text = result_text({"case": "Demo", "failure": "stage one gave up", "limits": {}})
    assert "NOT FINISHED: stage one gave up" in text
    text = result_text({"case": "D", "failure": "f", "ended": "interrupted", "hint": "again"})
    assert "INTERRUPTED: f\n  try: again\n" in text


def test_empty_summary():
    assert (
        result_text({"case": "Demo"}) == "Demo\n\nno checks were made\nthinning: no limit given\n"
    )
