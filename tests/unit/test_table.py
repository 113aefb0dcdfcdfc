"""Text tables of a summary."""

from __future__ import annotations

from formsim.report.table import check_table, result_text, stage_table, table, tool_table

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
            "increments": 448,
            "iterations": 1830,
            "cuts": 2,
            "loose_increments": 1,
            "seconds": 2.58,
        },
        {
            "name": "second",
            "kind": "bulge",
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
            "passed": True,
            "source": "constant volume",
        },
        {
            "name": "height",
            "computed": 28.685,
            "expected": [33.5, 34.8],
            "tolerance": None,
            "passed": False,
            "source": "a book",
        },
    ],
    "passed": False,
}


def test_stage_rows_show_what_matters():
    lines = stage_table(SUMMARY).splitlines()
    assert len(lines) == 4
    for text in ("0.2723", "wall", "38.45", "2.74 %", "28.68", "448", "1830", "2.6"):
        assert text in lines[2], text
    assert "dome crown" in lines[3] and lines[3].startswith("second (bulge)")


def test_columns_are_aligned():
    lines = table(("a", "number"), [("x", "1.0"), ("long name", "22.0")], left=(0,)).splitlines()
    assert lines == [
        "a          number",
        "-----------------",
        "x             1.0",
        "long name    22.0",
    ]


def test_tools_in_kilonewton_and_joule():
    lines = tool_table(SUMMARY).splitlines()
    assert lines[3].split() == ["draw", "punch", "13.284", "320.70"]
    assert lines[4].split() == ["second", "fluid", "-", "8.00"]


def test_failed_checks_come_first():
    lines = check_table(SUMMARY).splitlines()
    assert lines[2].startswith("failed  height")
    assert "33.5 to 34.8" in lines[2] and "a book" in lines[2]
    assert lines[3].startswith("ok      volume")


def test_whole_text():
    text = result_text(SUMMARY)
    assert text.startswith("Demo cup  (digest 0123456789ab, version 0.1.0)\n")
    assert text.endswith("1 of 2 checks failed\nthinning: no limit given\n")
    good = {**SUMMARY, "checks": SUMMARY["checks"][:1], "limits": {"max_thinning_percent": 10.0}}
    assert result_text(good).endswith("the check is ok\n")


def test_unfinished_run_says_why():
    text = result_text({"case": "Demo", "failure": "stage one gave up", "limits": {}})
    assert "not finished: stage one gave up" in text


def test_empty_summary():
    assert (
        result_text({"case": "Demo"}) == "Demo\n\nno checks were made\nthinning: no limit given\n"
    )
