"""Tables of rings, trims, necks, flanges and the press, from a summary."""

from formsim.report.line_tables import (
    flange_table,
    line_tables,
    neck_table,
    press_table,
    ring_table,
    trim_table,
)
from formsim.report.lines import grid_text
from formsim.report.risk_table import risk_table
from formsim.report.rule_text import doomed_text
from formsim.report.verdict import verdict_text

RING = {
    "name": "ring-1",
    "gap": 0.17,
    "entry_thickness": 0.2501,
    "exit_thickness": 0.1706,
    "reduction": 0.3179,
    "mean_force": 9876.0,
    "peak_force": 12345.0,
    "stress_ratio": 0.512,
    "speed_ratio": 1.466,
}
TRIM = {"height": 110.0, "most": 4.1, "least": 3.9, "mass": 0.512, "blank_percent": 2.31}
NECK = {"load": 1200.0, "crush_load": 6000.0, "buckling_load": 8000.0, "load_ratio": 0.2}
NECK |= {"diameter": 54.1, "thickness": 0.1201, "length": 9.3}
FLANGE = {"diameter": 52.4, "width": 2.1, "short_of_flat": 3.2, "thickness": 0.11}
FLANGE |= {"edge_hoop_strain": 0.0834, "total_edge_hoop_strain": -0.01}
PRESS = {"start": -0.07, "end": 0.0, "contact_speed": 4500.0, "peak_speed": 5200.0}
PRESS |= {"ring_strain_rate": {"ring-1": 2345.6}, "wall_temperature_rise": None}


def one(**row):
    return {"stages": [{"name": "one", **row}]}


def test_rings_with_the_mark_at_their_peak():
    lines = grid_text(ring_table(one(rings=[RING, {**RING, "name": "ring-2"}]))).splitlines()
    words = "one ring-1 0.1700 0.2501 0.1706 31.8 % 9.876 12.345 0.512 1.466"
    assert " ".join(lines[3].split()) == words
    assert lines[4].split()[1] == "ring-2"
    assert "peak force*" in lines[0] and lines[5].startswith("* mesh-dependent at the exit")


def test_a_trim_that_clears_and_one_that_does_not():
    assert grid_text(trim_table(one(trim={**TRIM, "clears": True}))).endswith(
        "2.31 %  clears the rim"
    )
    none = {**TRIM, "least": -0.1, "clears": False}
    assert grid_text(trim_table(one(trim=none))).endswith("LEAVES UNCUT RIM")


def test_a_trim_above_the_valleys_of_the_ears():
    text = grid_text(trim_table(one(trim={**TRIM, "valley": 4.2, "clears": False})))
    assert "4.200" in text and "CUTS ABOVE VALLEYS OF THE EARS" in text
    assert "constant volume" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 100


def test_a_neck_and_one_that_has_no_cylinder_yet():
    row = grid_text(neck_table(one(neck=NECK))).splitlines()[-1].split()
    assert row == ["one", "1.200", "6.000", "8.000", "0.200", "54.100", "0.1201", "9.30"]
    none = NECK | {"diameter": None, "thickness": None, "length": None}
    assert grid_text(neck_table(one(neck=none))).splitlines()[-1].split()[-3:] == ["-", "-", "-"]


def test_a_flange():
    row = grid_text(flange_table(one(flange=FLANGE))).splitlines()[-1].split()
    assert row == ["one", "52.400", "2.100", "0.1100", "3.2", "0.0834", "-0.0100"]


def test_a_press_in_metres_per_second():
    row = grid_text(press_table(one(press=PRESS))).splitlines()[-1].split()
    assert row == ["one", "-0.0700", "0.0000", "4.500", "5.200", "2346", "-"]


def test_tables_fit_the_page_and_only_those_with_rows_are_there():
    assert line_tables(one()) == []
    every = one(rings=[RING], trim=TRIM, neck=NECK, flange=FLANGE, press=PRESS)
    every["stages"][0]["name"] = "a name of twenty-odd"
    texts = [grid_text(grid) for grid in line_tables(every)]
    assert len(texts) == 5
    assert max(len(line) for text in texts for line in text.splitlines()) <= 100


def finding(verdict):
    row = {"rule": "r", "value": 1.0, "limit": "up to 0.5", "source": "s", "consequence": "c"}
    return row | {"verdict": verdict}


def risk(verdict, *, own):
    names = {"risk": f"{verdict} {own}", "zone": "wall", "stage": "draw", "unit": "", "source": "s"}
    numbers = {"value": 1.0, "limit": 1.0, "margin": 0.0}
    return names | numbers | {"verdict": verdict, "own": own, "reason": f"{verdict} because"}


def test_what_is_over_a_limit_of_physics_is_told_once():
    summary = {"risk": [risk("over", own=False), risk("over", own=True), risk("watch", own=False)]}
    below, above = grid_text(risk_table(summary)), verdict_text(summary)
    assert below.count("over, draw: over because") == 1
    assert above.count("over, draw: over because") == 1
    assert "watch, draw: watch because" in below


def test_the_first_line_names_rules_that_say_it_will_fail():
    check = {"name": "x", "passed": True, "kind": "trust"}
    said = verdict_text({"checks": [check] * 14, "findings": [finding("will fail")]})
    assert said.splitlines()[0] == (
        "all 14 checks ok; 1 handbook rule says it will fail, see below"
    )
    said = verdict_text({"checks": [check] * 2, "findings": [finding("watch")]})
    assert said.splitlines()[0] == "all 2 checks ok; 1 to watch, see below"
    assert verdict_text({"checks": [check] * 2}).splitlines()[0] == "all 2 checks ok"
    rows = [risk("watch", own=True), risk("watch", own=False), risk("over", own=False)]
    said = verdict_text({"checks": [check] * 2, "risk": rows, "findings": [finding("watch")]})
    assert said.splitlines()[0] == (
        "all 2 checks ok; 1 over a limit of physics, 3 to watch, see below"
    )


def test_rules_are_counted_by_what_they_say():
    rules = [finding(v) for v in ("will fail", "will wrinkle", "will fail", "watch", "good")]
    assert doomed_text(rules) == (
        "2 handbook rules say it will fail and 1 handbook rule says it will wrinkle"
    )
    assert doomed_text([]) == ""
