"""What differs between results, who is best, what cannot be told apart: invented summaries."""

from __future__ import annotations

import math

import pytest

from formsim.case.describe import Row
from formsim.report.comparison.bars import error_bar, has_error_bars, noise
from formsim.report.comparison.compare import compared
from formsim.report.comparison.headlines import headlines
from formsim.report.comparison.inputs import differences, short_names
from formsim.report.comparison.judge import trade, wins
from formsim.report.comparison.numbers import (
    LESS,
    MORE,
    POINTS,
    Compared,
    Measure,
    Number,
    of_stages,
)
from formsim.report.comparison.side import Side, names_of
from formsim.report.comparison.stages import align, marks
from formsim.report.comparison.tables import (
    comparison_columns,
    inputs_table,
    numbers_table,
    sides_table,
)
from formsim.report.comparison.text import comparison_text
from formsim.report.comparison.words import how_known, trade_told, verdict, win_text

SAME_VOLUME = "change of volume after springback"
TWO_FORCES = "tool force by contact against internal forces"


def stage(name="draw", kind="draw", **values):
    """One stage of an invented summary."""
    base = {
        "name": name,
        "kind": kind,
        "complete": True,
        "min_thickness": 0.25,
        "min_thickness_zone": "nose",
        "min_thickness_radius": 38.0,
        "max_thinning_percent": 10.0,
        "height": 30.0,
        "peak_force": {"punch": 20e3, "die": 25e3},
        "work": {"punch": 300.0, "die": 0.0},
        "energy": {"external": 300.0},
    }
    return base | values


def check(name, computed=0.0, kind="trust", *, passed=True):
    return {
        "name": name,
        "kind": kind,
        "computed": computed,
        "low": -1.0,
        "high": 1.0,
        "unit": "",
        "passed": passed,
        "place": "",
    }


def side(mark="A", *stages, inputs=(), checks=(), bars=None, **summary):
    """A result with invented numbers; finished and passed unless its summary says otherwise."""
    whole = {
        "case": f"Demo {mark}",
        "digest": f"digest-{mark}",
        "version": "0.1.0",
        "finished": True,
        "ended": "finished",
        "passed": True,
        "mass_g": 8.0,
        "risk": [],
        "checks": list(checks) or [check("draw: something")],
        "stages": list(stages) or [stage()],
        "error_bars": bars and {"measures": bars},
    }
    return Side(mark, f"run-{mark.lower()}", whole | summary, tuple(inputs))


def bar(measure, uncertainty, at="draw", **more):
    return {"stage": at, "measure": measure, "uncertainty": uncertainty, **more}


def row(*values, better=LESS, bars=0.0):
    numbers = [None if value is None else Number(value, bars) for value in values]
    return Compared(Measure("thing", "mm", 2, better), tuple(numbers))


def value(text, key, unit="mm"):
    return Row(key, text, unit, "given")


def case_rows(*stages):
    """Rows of a case: name and nose radius of every stage."""
    found = [value("Demo", "title", ""), value(0.28, "sheet.thickness")]
    for k, (name, radius) in enumerate(stages):
        found += [value(name, f"stage[{k}].name", ""), value(radius, f"stage[{k}].punch.nose")]
    return found


# Stages beside each other


def test_lines_of_different_length_are_aligned_by_name():
    long = side("A", stage(), stage("dome", "dome"), stage("trim", "trim"))
    aligned = align([long, side("B"), side("C", stage(), stage("dome", "dome"))])
    assert aligned.common == (("draw", "draw"),) and aligned.part == ("draw", "draw")
    assert aligned.shared == (("draw", "draw"), ("dome", "dome")) and not aligned.alike
    assert 'B has no finished stage "dome".' in aligned.told
    assert 'Only A has finished stage "trim".' in aligned.told
    assert any('compared after "draw"' in text for text in aligned.told)


def test_the_same_lines_have_nothing_to_tell():
    aligned = align([side("A"), side("B")])
    assert aligned.alike and aligned.told == ()


def test_a_stage_of_the_same_name_that_does_something_else_is_not_compared():
    aligned = align([side("A", stage("x", "draw")), side("B", stage("x", "dome"))])
    assert aligned.common == () and aligned.part is None
    assert 'Stage "x" is not the same everywhere: draw in A, dome in B.' in aligned.told
    assert aligned.told[0].startswith("No stage was made by all")


def test_stages_in_another_order_are_told():
    first = side("A", stage(), stage("trim", "trim"), stage("bake", "bake"))
    other = side("B", stage(), stage("bake", "bake"), stage("trim", "trim"))
    assert any("same order" in text for text in align([first, other]).told)


def test_a_torn_run_does_not_take_the_part_from_the_others():
    torn = side("C", stage(complete=False), finished=False, passed=False, ended="torn",
                failure='stage "draw": the sheet has torn')  # fmt: skip
    aligned = align([side("A"), side("B"), torn])
    assert aligned.common == (("draw", "draw"),)
    told = [text for text in aligned.told if "run-c" in text]
    assert "TORN" in told[0] and "is shown as it ended" in told[0]
    rows = headlines([side("A"), side("B"), torn], aligned)
    assert all(one.numbers[2] is None for one in rows)


def test_the_part_is_not_a_body_tested_until_it_gave_way():
    tested = stage("crush", "top_load", top_load={"crush_load": 900.0, "highest": 900.0})
    sides = [side("A", stage(), tested), side("B", stage(), tested)]
    aligned = align(sides)
    assert aligned.part == ("draw", "draw") and len(aligned.common) == 2
    crush = next(one for one in headlines(sides, aligned) if one.measure.label == "crush load")
    assert crush.numbers[0].value == pytest.approx(0.9) and crush.measure.better == MORE


def test_letters_in_a_row_are_told_from_to():
    sides = [side(mark) for mark in "ABCDFGIJK"]
    assert marks(sides) == "A to D, F, G and I to K"
    assert marks(sides[:2]) == "A and B" and marks(sides[:1]) == "A"


# Inputs


def test_only_inputs_that_differ_are_listed():
    sides = [side("A", inputs=case_rows(("draw", 3.0))), side("B", inputs=case_rows(("draw", 5.0)))]
    (one,) = differences(sides)
    assert one == ("stage[0].punch.nose", "mm", ("3", "5"), "given")
    assert short_names([one], 2) == ("nose 3 mm", "nose 5 mm")


def test_keys_follow_the_name_of_a_stage_and_not_its_number():
    first = side("A", inputs=case_rows(("draw", 3.0), ("dome", 4.0)))
    second = side("B", inputs=case_rows(("dome", 6.0)))
    (one,) = differences([first, second])
    assert one == ("stage[dome].punch.nose", "mm", ("4", "6"), "given")


def test_what_follows_from_other_values_names_no_result():
    follows = [Row("stage[0].die.land", value, "mm", "default") for value in (2.8, 3.0)]
    sides = [
        side(mark, inputs=[value(t, "sheet.thickness"), value("draw", "stage[0].name", ""), land])
        for mark, t, land in zip("AB", (0.28, 0.3), follows, strict=True)
    ]
    found = differences(sides)
    assert [one.origin for one in found] == ["given", "default"]
    assert short_names(found, 2) == ("thickness 0.28 mm", "thickness 0.3 mm")


def test_last_digits_titles_and_sources_are_no_difference():
    rows = case_rows(("draw", 3.0))
    other = [value("Other", "title", ""), value(0.28 + 1e-16, "sheet.thickness"), *rows[2:]]
    assert differences([side("A", inputs=rows), side("B", inputs=other)]) == ()


def test_a_missing_key_and_an_unread_case_are_told_apart():
    rows = case_rows(("draw", 3.0))
    more = [*rows, value(1.5, "limits.cut_edge.hoop", "")]
    sides = [side("A", inputs=rows), side("B", inputs=more), side("C")]
    (one,) = differences(sides)
    assert one.values == ("-", "1.5", "unknown")
    grid = inputs_table(sides, [one])
    assert grid.rows == (("limits.cut_edge.hoop", "", "-", "1.5", "unknown", "given"),)
    assert grid.notes


def test_of_many_results_those_with_the_same_value_stand_together():
    radii = (3.0, 3.0, 5.0, 3.0, 5.0)
    sides = [
        side(mark, inputs=case_rows(("draw", radius)))
        for mark, radius in zip("ABCDE", radii, strict=True)
    ]
    grid = inputs_table(sides, differences(sides))
    key = "stage[0].punch.nose"
    assert grid.rows == (
        (key, "mm", "3", "A, B and D", "given"),
        (key, "mm", "5", "C and E", "given"),
    )


def test_names_are_as_long_as_they_have_to_be(tmp_path):
    assert names_of([tmp_path / "a", tmp_path / "b"]) == ["a", "b"]
    assert names_of([tmp_path / "x" / "a", tmp_path / "y" / "a"]) == ["x/a", "y/a"]


# Error bars and noise


def test_a_result_that_starts_from_a_failed_one_is_never_best():
    failed = {"result": "lim", "digest": "d", "after": "dome", "failed": ["draw: largest thinning"]}
    sides = [side("A", stage(min_thickness=0.27), start=failed), side("B", stage())]
    assert verdict(sides[0]) == "STARTS FROM A RESULT THAT DID NOT PASS"
    found = compared(sides)
    assert "A run-a starts from a result that did not pass" in comparison_text(found)
    assert not any(0 in (win.best, *win.equal) for win in found.wins)


def test_the_nearest_limit_has_the_bar_of_its_number():
    risk = {"stage": "draw", "risk": "limit curve", "margin": 0.16, "limit": 1.0, "value": 0.84}
    sides = [side(mark, risk=[risk], bars=[bar("limit curve", 0.16)]) for mark in "AB"]
    rows = {row.measure.label: row for row in headlines(sides, align(sides))}
    assert rows["left to the nearest limit"].numbers[0].bar == pytest.approx(16.0)


def test_differences_and_per_cent():
    one = row(4.0, 5.0, None, 0.0)
    assert one.difference(1, 0) == 1.0 and one.percent(1, 0) == pytest.approx(25.0)
    assert one.difference(2, 0) is None and one.percent(2, 0) is None
    share = Compared(Measure("thing", "% of t0", 2), one.numbers)
    assert share.percent(1, 0) is None and share.measure.difference_unit == POINTS
    assert one.measure.difference_unit == one.measure.unit and not one.equal(1, 0)
    assert one.equal(1, 1) and not one.equal(2, 2)
    assert one.percent(0, 3) is None and row(-4.0, -5.0).percent(1, 0) == pytest.approx(-25.0)


@pytest.mark.parametrize(("other", "apart"), [(10.4, False), (10.6, True), (9.4, True)])
def test_intervals_that_touch_are_not_told_apart(other, apart):
    """[9.7, 10.3] and [other - 0.2, other + 0.2]: interval subtraction, Moore 1966 (memory)."""
    numbers = Number(10.0, 0.3), Number(other, 0.2)
    one = Compared(Measure("thing", "mm", 2), numbers)
    low, high = other - 0.2 - 10.3, other + 0.2 - 9.7
    assert apart == (not low <= 0.0 <= high)
    assert one.apart(1, 0) is apart and one.apart(0, 1) is apart


def test_the_noise_of_the_solver_is_the_least_a_number_may_be_off():
    checks = [
        check(f"draw: {SAME_VOLUME}", -0.002),
        check(f"draw: {TWO_FORCES}", 0.03),
        check(f"dome: {TWO_FORCES}", 0.5),
        check("draw: largest thinning", 9.0, "limit"),
    ]
    one = side("A", checks=checks)
    assert noise(one.summary, "draw", "thickness") == 0.002
    assert noise(one.summary, "draw", "force") == 0.03
    assert noise(one.summary, "draw", "") == 0.0
    sides = [one, side("B", stage(min_thickness=0.2504))]
    thin = headlines(sides, align(sides))[0]
    assert thin.numbers[0].floor == pytest.approx(0.0005) and not thin.apart(1, 0)
    assert Number(1.0, bar=0.1, floor=0.3).width == 0.3


def test_noise_of_thinning_is_that_of_the_thickness_that_is_left():
    sides = [side("A", checks=[check(f"draw: {SAME_VOLUME}", 0.002)]), side("B")]
    thinning = headlines(sides, align(sides))[1]
    assert thinning.numbers[0].value == 10.0
    assert thinning.numbers[0].floor == pytest.approx(0.18)


def test_error_bars_are_read_by_stage_and_measure():
    bars = [bar("smallest thickness", 0.003), bar("peak force, die", 500.0), "odd"]
    one = side("A", bars=bars)
    assert error_bar(one.summary, "draw", "smallest thickness") == 0.003
    assert error_bar(one.summary, "dome", "smallest thickness") is None
    sides = [one, side("B")]
    found = {r.measure.label: r.numbers[0] for r in headlines(sides, align(sides))}
    assert found["smallest thickness"].bar == 0.003
    assert found["largest press force"] == Number(25.0, 0.5)


@pytest.mark.parametrize(
    "entry",
    [
        bar("height", None),
        bar("height", math.nan),
        bar("height", "wide"),
        bar("height", 0.1, mesh_uncertainty=None),
    ],
)
def test_a_bar_that_says_nothing_of_the_mesh_is_none(entry):
    assert error_bar(side("A", bars=[entry]).summary, "draw", "height") is None


@pytest.mark.parametrize("bars", [None, {}, {"measures": None}, [], "x"])
def test_odd_error_bars_are_none(bars):
    summary = {"error_bars": bars}
    assert error_bar(summary, "draw", "height") is None and not has_error_bars(summary)


def test_without_error_bars_the_command_is_named():
    known = side("B", bars=[bar("height", 0.1)])
    assert "--error-bars" in how_known([side("A"), side("C")])
    assert "known for A;" in how_known([side("A"), known])
    assert "--error-bars" not in how_known([known])


# Numbers


def test_numbers_are_taken_over_the_common_stages_only():
    dome = stage("dome", "dome", max_thinning_percent=30.0, peak_force={"dome": 90e3, "lid": 1e6},
                 energy={"external": 50.0})  # fmt: skip
    long, short = side("A", stage(), dome), side("B", stage(max_thinning_percent=8.0))
    sides = [long, short]
    found = {r.measure.label: r.numbers[0].value for r in headlines(sides, align(sides))}
    assert found["largest thinning"] == 10.0 and found["work of the press"] == 300.0
    assert "mass of the sheet" not in found and "left to the nearest limit" not in found
    both = [long, side("B", stage(), dome)]
    found = {r.measure.label: r.numbers[0].value for r in headlines(both, align(both))}
    assert found["largest thinning"] == 30.0 and found["largest press force"] == 90.0
    assert found["work of the press"] == 350.0 and found["mass of the sheet"] == 8.0


def test_advice_is_no_limit_to_be_near_to():
    near = [{"risk": "wrinkle index", "margin": 0.1}, {"risk": "thinning", "margin": 0.4}]
    rows = [r | {"stage": "draw", "verdict": "safe", "own": False, "reason": ""} for r in near]
    sides = [side("A", risk=rows), side("B", risk=rows)]
    left = headlines(sides, align(sides))[-1]
    assert left.measure.label == "left to the nearest limit"
    assert left.numbers[0].value == pytest.approx(40.0)


def test_results_with_other_limits_are_not_compared_by_what_is_left():
    def risky(mark, *risks, **more):
        rows = [{"risk": risk, "margin": 0.4, "verdict": "safe", "stage": "draw", "own": False,
                 "reason": ""} for risk in risks]  # fmt: skip
        return side(mark, risk=rows, **more)

    def compares(*sides):
        one = compared(sides)
        told = any("limits differ" in text for text in one.told)
        shown = any(row.measure.label.startswith("left") for row in one.numbers)
        assert told is not shown
        return shown

    assert compares(risky("A", "thinning"), risky("B", "thinning"))
    assert not compares(risky("A", "thinning"), risky("B", "thinning", "damage"))
    given = [[value(limit, "limits.max_thinning_percent", "%")] for limit in (5.0, 10.0)]
    assert not compares(
        risky("A", "thinning", inputs=given[0]), risky("B", "thinning", inputs=given[1])
    )


def test_every_stage_of_two_has_its_numbers():
    rings = [{"name": "ring 1", "mean_force": 7e3, "exit_thickness": 0.2}]
    ironed = stage("iron", "iron", rings=rings)
    sides = [side("A", stage(), ironed), side("B", ironed), side("C")]
    rows = of_stages(sides, align(sides))
    mean = next(r for r in rows if r.measure.label == "mean force, ring 1")
    assert mean.measure.stage == "iron" and mean.numbers[0].value == 7.0
    assert mean.numbers[2] is None
    assert not [r for r in rows if r.measure.label == "work, die"], "a tool at rest does no work"


# Who is best


def test_the_best_is_told_with_its_lead():
    sides = [side(mark) for mark in "ABC"]
    (win,) = wins(sides, [row(4.0, 5.0, 6.0, bars=0.1)])
    assert win.clear and (win.best, win.second) == (0, 1)
    assert win_text(sides, win) == "thing: A run-a, 4.00 mm is best, 1.00 mm below B run-b."


def test_a_lead_of_which_nothing_is_known_is_told_with_its_doubt():
    sides = [side("A"), side("B", mass_g=9.0)]
    (win,) = wins(sides, [row(4.0, 5.0)])
    assert win_text(sides, win).endswith(
        "but nothing is known of how far these numbers may be off."
    )
    mass = next(w for w in compared(sides).wins if w.row.measure.exact)
    assert win_text(sides, mass) == (
        "mass of the sheet: A run-a, 8.000 g is best, 1.000 g below B run-b."
    )


def test_what_another_mesh_may_change_makes_no_best():
    """1 % of a thickness is less than the mesh may change; error bars tell it nevertheless."""
    sides = [side("A"), side("B")]
    rows = [row(4.0, 4.04), row(4.0, 4.04, bars=None), row(4.0, 4.04, bars=0.01), row(4.0, 4.2)]
    rows[0] = Compared(rows[0].measure, (Number(4.0, None, 0.001), Number(4.04, None, 0.001)))
    near, bare, known, far = wins(sides, rows)
    assert (
        win_text(sides, near)
        == win_text(sides, bare)
        == (
            "thing: A run-a, 4.00 mm is ahead, 0.04 mm below B run-b: less than another mesh may"
            " change, and no error bars tell."
        )
    )
    assert "is best, 0.04 mm below B" in win_text(sides, known)
    assert "is best, 0.20 mm below B" in win_text(sides, far)
    told = dict(trade_told(sides, trade(rows, 1, 0), 0).parts)
    assert told["less than another mesh may change"] == "thing 0.04 mm higher, thing 0.04 mm higher"
    assert told["at the price of"] == "thing 0.04 mm higher, thing 0.20 mm higher"


def test_what_is_told_alike_is_equal():
    """44.2 and 43.9 % are both 44 %: no result is above the other by 0 points."""
    margin = Measure("left to the nearest limit", "% of it", 0, MORE)
    sides, rows = [side("A"), side("B")], [Compared(margin, (Number(44.2), Number(43.9)))]
    (win,) = wins(sides, rows)
    assert win_text(sides, win) == "left to the nearest limit: the same everywhere."
    told = dict(trade_told(sides, trade(rows, 1, 0), 0).parts)
    assert told["at the price of"] == "nothing that can be told"
    assert told["equal"] == "left to the nearest limit"
    assert [cells[5] for cells in numbers_table(sides, rows, 0, "Numbers").rows] == ["", "same"]


def test_many_inputs_are_counted_where_no_words_are_short_enough():
    sides = [side("A"), side("B")]
    shown = sides_table(sides, ("", ""), 0, 3)
    assert [cells[3] for cells in shown.rows] == ["3 inputs, see below"] * 2
    assert [cells[3] for cells in sides_table(sides, ("", ""), 0).rows] == ["-"] * 2


def test_within_the_error_bars_nobody_wins():
    sides = [side(mark) for mark in "ABC"]
    (all_same,) = wins(sides, [row(4.0, 4.1, 4.2, bars=0.2)])
    assert not all_same.clear and "A to C cannot be told apart" in win_text(sides, all_same)
    (two,) = wins(sides, [row(4.0, 4.1, 6.0, bars=0.2)])
    assert "is best, but B cannot be told from it" in win_text(sides, two)
    (pair,) = wins(sides, [row(4.0, 4.0, 6.0, bars=0.2)])
    assert "is best, and B has the same" in win_text(sides, pair)
    (equal,) = wins(sides, [row(4.0, 4.0, 4.0)])
    assert win_text(sides, equal) == "thing: the same everywhere."


def test_a_result_that_did_not_pass_does_not_win():
    failed = check("draw: deepest penetration of a loaded contact point", 9.0, passed=False)
    bad = side("B", checks=[failed], passed=False)
    sides = [side("A"), bad, side("C")]
    (win,) = wins(sides, [row(4.0, 3.0, 5.0)])
    assert win.best == 0 and win.unfit == (1,)
    assert "BETTER BUT DID NOT PASS: B run-b with 3.00 mm" in win_text(sides, win)
    assert verdict(bad) == "NOT PASSED: 1 trust check"
    text = comparison_text(compared([side("A"), bad]))
    assert "FAILED: B run-b, trust check: draw: deepest penetration" in text
    assert "1 of 2 results did not pass: B." in text


def test_where_one_or_none_passed_nothing_is_won():
    bad = side("B", passed=False, checks=[check("draw: height", 3.0, "limit", passed=False)])
    (win,) = wins([side("A"), bad], [row(4.0, 3.0)])
    assert not win.clear and "only A run-a, 4.00 mm passed" in win_text([side("A"), bad], win)
    sides = [bad, bad]
    (win,) = wins(sides, [row(4.0, 3.0)])
    assert win.best is None and "no result passed" in win_text(sides, win)


def test_gains_and_their_price():
    lighter = stage(max_thinning_percent=7.9, peak_force={"die": 28e3}, height=31.0)
    sides = [side("A"), side("B", lighter, mass_g=8.4)]
    rows = headlines(sides, align(sides))
    told = dict(trade_told(sides, trade(rows, 1, 0), 0).parts)
    assert told["better"] == "largest thinning 2.10 percentage points lower"
    assert told["at the price of"] == (
        "largest press force 3.00 kN higher, mass of the sheet 0.400 g higher"
    )
    assert told["other changes"] == "height (draw) 1.00 mm higher"
    back = dict(trade_told(sides, trade(rows, 0, 1), 1).parts)
    assert "largest thinning 2.10 percentage points higher" in back["at the price of"]


def test_what_is_worth_knowing_first_is_told():
    rows = [value(400, "mesh.columns", "")]
    other = [value(200, "mesh.columns", ""), value(5.0, "limits.thinning", "%")]
    sides = [
        side("A", inputs=rows, digest="same"),
        side("B", inputs=other, digest="same", version="0.0.9", exact=True),
    ]
    told = " ".join(compared(sides).told)
    for text in ("different versions", "B by 0.0.9", "same case by its numbers", "--exact",
                 "meshes differ", "limits differ"):  # fmt: skip
        assert text in told, text


def test_the_table_of_numbers_and_its_file_agree():
    sides = [side("A", bars=[bar("height", 0.5)]), side("B", stage(height=33.0))]
    one = compared(sides)
    grid = numbers_table(sides, one.numbers, 0, "Numbers", one.wins)
    height = [cells for cells in grid.rows if cells[3] in ("30.00", "33.00")]
    assert [cells[3:7] for cells in height] == [
        ("30.00", "0.50", "", ""),
        ("33.00", "-", "+3.00", "+10.00"),
    ]
    columns = comparison_columns(sides, one.inputs, {"headline": one.numbers}, 0)
    k = [i for i, name in enumerate(columns["quantity"]) if name == "height"][1]
    assert columns["difference"][k] == 3.0 and columns["told_apart"][k] == "yes"
    assert len({len(column) for column in columns.values()}) == 1
