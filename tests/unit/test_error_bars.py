"""Which numbers get a bar, and what is told of a family that has gaps."""

import math
import re

import pytest

from formsim.report.error_table import bar_lines, error_table
from formsim.report.lines import grid_text
from formsim.results.error_bars import Member, bar_columns, error_bars
from formsim.results.headline import headline


def check(name, computed, *, kind="limit", low=None, high=None, unit=""):
    return {
        "name": name,
        "kind": kind,
        "computed": computed,
        "unit": unit,
        "low": low,
        "high": high,
    }


def summary(thickness, force, *, zone="nose", checks=(), **more):
    stage = {
        "name": "draw",
        "kind": "draw",
        "complete": True,
        "min_thickness": thickness,
        "min_thickness_zone": zone,
        "max_thinning_percent": 100.0 * (1.0 - thickness),
        "height": 10.0,
        "peak_force": {"punch": force, "holder": 100.0},
        "increments": 100,
    }
    return {"stages": [stage | more], "checks": list(checks)}


def family(*runs, halved=None, ended="finished"):
    """Bars of fine, medium, coarse; None for a mesh that gave nothing."""
    members, found = [], {}
    for role, columns, made in zip(("fine", "medium", "coarse"), (40, 20, 10), runs, strict=False):
        failure = "" if made else "no equilibrium"
        members.append(Member(role, columns, 2, 100 if made else None, 1.0, failure))
        if made:
            found[role] = made
    if halved is not None:
        members.append(Member("halved increments", 40, 2, 200, 1.0))
        found["halved increments"] = halved
    return error_bars(members, found, ended)


def row(bars, measure):
    (found,) = [row for row in bars["measures"] if row["measure"] == measure]
    return found


def test_an_extrapolated_number_never_stands_without_its_range():
    runs = [summary(0.9 - 0.001 * h**2, 1000.0, height=10.0 + h) for h in (1.0, 2.0, 4.0)]
    bars = family(*runs, halved=summary(0.8995, 1000.0, height=11.0))
    bars["increment_ratio"] = 2.0
    thin = row(bars, "smallest thickness")
    assert abs(thin["extrapolated"] - thin["value"]) <= thin["uncertainty"]
    for whole in (False, True):
        grid = error_table({"error_bars": bars}, whole=whole)
        cells = {cell[1]: dict(zip(grid.head, cell, strict=True)) for cell in grid.rows}
        told = cells["smallest thickness"]["extrapolated\n(range)"]
        assert re.fullmatch(r"0\.\d+ \(0\.\d+\.\.0\.\d+\)", told)
        assert ("order" in grid.head) == whole
    wild = [summary(0.9 + change, 1000.0) for change in (0.0, 0.01, -0.01)]
    grid = error_table({"error_bars": family(*wild)})
    assert dict(zip(grid.head, grid.rows[0], strict=True))["extrapolated\n(range)"] == "-"


def test_the_terminal_says_how_many_numbers_it_leaves_out():
    bars = family(*[summary(0.9, 1000.0) for _ in range(3)])
    few, whole = (error_table({"error_bars": bars}, whole=one) for one in (False, True))
    assert len(whole.rows) == len(bars["measures"]) > len(few.rows)
    told = f"{len(few.rows)} of {len(whole.rows)} numbers"
    assert any(text.startswith(told) for _, text in few.notes)
    assert not any("of the page" in text or told in text for _, text in whole.notes)


def test_second_order_with_halved_increments():
    runs = [summary(0.9 - 0.001 * h**2, 1000.0) for h in (1.0, 2.0, 4.0)]
    bars = family(*runs, halved=summary(0.8995, 1000.0))
    found = row(bars, "smallest thickness")
    assert (found["kind"], found["order"]) == ("monotone", pytest.approx(2.0))
    assert found["extrapolated"] == pytest.approx(0.9)
    assert found["mesh_uncertainty"] == pytest.approx(1.25 * 0.001)
    assert found["step_uncertainty"] == pytest.approx(3.0 * 2.0 * 0.0005)
    assert found["uncertainty"] == pytest.approx(0.00125 + 0.003)
    assert row(bars, "height") | {"uncertainty": 0.0} == row(bars, "height")
    assert row(bars, "peak force, punch")["kind"] == "equal"


def test_a_minimum_that_changes_its_place_is_told():
    runs = [summary(0.9, 1e3), summary(0.85, 1e3), summary(0.7, 1e3, zone="wall")]
    found = row(family(*runs), "smallest thickness")
    assert (
        "nose on the fine mesh, nose on the medium mesh, wall on the coarse mesh" in found["note"]
    )
    assert (found["kind"], found["order"], found["extrapolated"]) == ("moving", None, None)
    assert found["uncertainty"] == pytest.approx(0.6)
    assert "moving: the zone" in grid_text(error_table({"error_bars": family(*runs)}))


def test_limits_join_the_number_they_bound():
    """The worst zone is a place, so that a risk is compared though its zone changes."""
    checks = [
        check("draw: largest thinning", 10.0, high=12.0, unit="%"),
        check("draw: damage, nose", 0.2, high=0.5),
        check("draw: residual", 1e-8, kind="trust"),
        check("draw: pole_radial_strain", None, kind="expectation"),
    ]
    found = headline(summary(0.9, 1e3, checks=checks))
    assert found["draw", "largest thinning"].high == 12.0
    assert found["draw", "damage"].place == "nose"
    assert ("draw", "residual") not in found and ("draw", "pole_radial_strain") not in found


@pytest.mark.parametrize(("bound", "opened"), [(12.0, True), (60.0, False), (9.0, True)])
def test_a_bound_within_the_bar_leaves_the_check_open(bound, opened):
    checks = [check("draw: largest thinning", 10.0, high=bound, unit="%")]
    runs = [summary(t, 1e3, checks=checks) for t in (0.9, 0.89, 0.92)]
    bars = family(*runs)
    assert row(bars, "largest thinning")["open"] is opened
    told = [text for text in bar_lines({"error_bars": bars}) if "within the bar" in text]
    assert bool(told) is opened


def test_a_mesh_that_failed_leaves_the_others():
    bars = family(summary(0.9, 1e3), None, summary(0.87, 1e3))
    found = row(bars, "smallest thickness")
    assert (found["kind"], found["order"], found["medium"]) == ("not enough", None, None)
    assert found["uncertainty"] == pytest.approx(3.0 * 0.03 / 3.0)
    said = list(bar_lines({"error_bars": bars}))
    assert "error bars: 20 x 2 elements gave no numbers of all stages: no equilibrium" in said
    assert "error bars: 5 of 5 numbers on too few meshes" in said
    columns = bar_columns(bars)
    assert math.isnan(columns["medium"][0])
    assert columns["columns_medium"][0] == 20


def test_a_mesh_too_coarse_for_a_land_is_told():
    members = [Member("fine", 40, 2, 100, 1.0), Member("medium", 28, 2, 90, 1.0, too_coarse=True)]
    bars = error_bars(members, dict.fromkeys(("fine", "medium"), summary(0.9, 1e3)), "finished")
    assert "too long for the lands" in grid_text(error_table({"error_bars": bars}))


def test_increments_alone_make_no_bar():
    bars = family(summary(0.9, 1e3), halved=summary(0.8995, 1e3))
    found = row(bars, "smallest thickness")
    assert found["uncertainty"] is None and found["step_uncertainty"] > 0.0


def test_limits_on_stages_before_the_start_come_first():
    early = check("before: largest thinning", 3.0, high=5.0, unit="%")
    numbers = headline(summary(0.9, 1e3, checks=[early], energy={"external": 12.0}))
    assert next(iter(numbers)) == ("before", "largest thinning")
    assert numbers["draw", "work"].value == 12.0


def test_the_own_mesh_alone_has_no_bar():
    bars = family(summary(0.9, 1e3))
    assert {r["uncertainty"] for r in bars["measures"]} == {None}
    assert "-" in grid_text(error_table({"error_bars": bars}))


def test_increments_that_hardly_changed_tell_nothing():
    bars = family(summary(0.9, 1e3), halved=summary(0.8, 1e3))
    assert row(bars, "smallest thickness")["step_uncertainty"] == pytest.approx(0.6)
    members = [Member("fine", 40, 2, 100, 1.0), Member("halved increments", 40, 2, 110, 1.0)]
    found = {"fine": summary(0.9, 1e3), "halved increments": summary(0.8, 1e3)}
    bars = error_bars(members, found, "finished")
    assert row(bars, "height")["step_uncertainty"] is None
    assert any("no part for increments" in text for text in bar_lines({"error_bars": bars}))


def test_an_erratic_number_is_no_nice_one():
    bars = family(*(summary(t, 1e3) for t in (0.9, 0.89, 0.92)))
    found = row(bars, "smallest thickness")
    assert (found["kind"], found["order"], found["extrapolated"]) == ("oscillatory", None, None)
    assert found["uncertainty"] == pytest.approx(0.09)
    told = next(bar_lines({"error_bars": bars}))
    assert "2 of 5 numbers do not converge" in told and "2 oscillatory" in told


def test_the_table_shows_forces_in_kilonewtons_and_what_matters_first():
    rings = [{"name": "ring", "mean_force": 5000.0, "exit_thickness": 0.2}]
    runs = [summary(0.9, 2500.0 + h, rings=rings) for h in (1.0, 2.0, 4.0)]
    text = grid_text(error_table({"error_bars": family(*runs)}))
    assert max(map(len, text.splitlines())) <= 100
    assert "2.5010" in text and "kN" in text and "holder" not in text
    assert "largest thinning" not in text and "mean force, ring" in text
    whole = grid_text(error_table({"error_bars": family(*runs)}, whole=True))
    assert "holder" in whole and "largest thinning" in whole


def test_a_size_that_is_passed_on_is_told_once():
    first = summary(0.9, 1e3)
    second = {**first["stages"][0], "name": "bake", "height": 12.0}
    both = [{"stages": [first["stages"][0], second], "checks": []} for _ in range(3)]
    rows = error_table({"error_bars": family(*both)}).rows
    assert [row[:2] for row in rows if row[0] == "bake"] == [
        ("bake", "height"),
        ("bake", "peak force, punch"),
    ]


def test_a_run_without_bars_has_no_table():
    for nothing in ({}, {"error_bars": None}):
        assert grid_text(error_table(nothing)) == ""
        assert list(bar_lines(nothing)) == []
