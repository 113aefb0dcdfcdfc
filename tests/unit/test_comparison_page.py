"""Page and figures of a comparison: escaped, whole, every result to be told from the others."""

from __future__ import annotations

from string import ascii_uppercase

import numpy as np
import pytest

from formsim.report.comparison.compare import compared
from formsim.report.comparison.diagrams import enlarged, farthest_place
from formsim.report.comparison.figures import legend_label, planned
from formsim.report.comparison.letters import FAR, letter_places
from formsim.report.comparison.page import compare_page, comparison_html
from formsim.report.comparison.pens import ink, legend_columns, style
from formsim.report.comparison.side import MOST, Side
from formsim.report.style import save_figure
from formsim.results.tables import Table
from tests.pages import check_page
from tests.unit.test_comparison import check, side, stage, value
from tests.unit.test_page import NASTY


def with_tables(one: Side, shift: float = 0.0, stages=("draw",)) -> Side:
    """A result with tables of a flat disc that gets thinner outwards."""
    radius = np.linspace(0.0, 30.0, 40)
    thick = 0.28 - 0.001 * (1.0 + shift) * radius
    n, k = len(radius), len(stages)
    names = [name for name in stages for _ in range(n)]
    every = {
        "original_radius_mm": radius,
        "arc_length_mm": radius,
        "radius_mm": radius,
        "z_mm": 0.01 * (1.0 + shift) * radius**2,
        "thickness_mm": thick,
    }
    forces = {
        "stroke_mm": radius,
        "force_n": 1e3 * radius * (1.0 + shift),
        "pressure_mpa": np.nan * radius,
    }
    strains = {
        "minor_strain": -0.01 * radius,
        "major_strain": 0.01 * radius * (1.0 + shift),
        "way_mm": 0.0 * radius + 12.0,
    }

    def table(columns, **more):
        return Table({}, {"stage": names, **{c: list(v) * k for c, v in columns.items()}, **more})

    return Side(
        one.mark,
        one.name,
        one.summary,
        one.inputs,
        table(every),
        table(forces, tool=["punch"] * n * k),
        table(strains, zone=["nose"] * n * k),
    )


def page_of(tmp_path, sides):
    one = compared(sides)
    figures = planned(one.sides, one.aligned, one.short)
    files = {
        figure.name: {
            file.suffix: file for file in save_figure(figure.make, tmp_path / figure.name)
        }
        for figure in figures
    }
    page = tmp_path / "compare.html"
    page.write_text(comparison_html(compare_page(one, figures, files)), encoding="utf-8")
    return check_page(page)


def test_the_page_has_everything_in_its_order(tmp_path):
    read = page_of(tmp_path, [with_tables(side("A")), with_tables(side("B"), 0.5)])
    assert read.all_of("h1") == ["Comparison of 2 results"]
    assert read.all_of("h2") == [
        "Who is best at what, and at which price",
        "Numbers",
        "Inputs that differ",
        "Figures",
        "Stage by stage",
        "Cautions",
    ]
    assert read.tags.count("img") == 4, "thickness, section, force and strain path"
    told = read.all_of("main")[0]
    for text in ("--error-bars", "licensed practice", "All 2 results passed", "axisymmetric"):
        assert text in told, text


def test_a_torn_run_is_in_the_figures_of_the_parts_as_it_ended():
    torn = with_tables(side("C", stage(complete=False), finished=False, ended="torn"))
    sides = [with_tables(side("A")), with_tables(side("B")), torn]
    one = compared(sides)
    thin, section = planned(one.sides, one.aligned, one.short)[:2]
    for figure in (thin, section):
        legend = figure.make().legends[0]
        assert [text.get_text() for text in legend.get_texts()][-1] == "C run-c, as it ended"


def test_what_failed_stands_at_the_top(undrawn, tmp_path):
    failed = check("draw: change of volume after springback", 9.0, passed=False)
    bad = side("B", stage(min_thickness=0.27), checks=[failed], passed=False)
    read = page_of(tmp_path, [with_tables(side("A")), with_tables(bad)])
    assert read.all_of("h2")[:2] == ["Failed checks", "To know before numbers are compared"]
    assert "1 of 2 results did not pass: B." in read.all_of("strong")[0]
    assert "verdict bad" in read.values("class")


@pytest.mark.slow
def test_texts_that_would_do_harm(tmp_path):
    inputs = [[value(NASTY + mark, "sheet.material.name", "")] for mark in "AB"]
    sides = [side(mark, inputs=rows, case=NASTY) for mark, rows in zip("AB", inputs, strict=True)]
    sides = [Side(one.mark, NASTY + one.mark, one.summary, one.inputs) for one in sides]
    read = page_of(tmp_path, [with_tables(one) for one in sides])
    assert NASTY in " ".join(read.all_of("bdi")) and "script" not in read.tags


def test_results_without_tables_have_a_page_too(tmp_path):
    other = side("B", stage("dome", "dome"))
    read = page_of(tmp_path, [side("A"), other])
    assert "No number can be compared." in read.all_of("main")[0]


@pytest.mark.slow
def test_twenty_results_can_be_told_apart(tmp_path):
    sides = [with_tables(side(mark), 0.05 * k) for k, mark in enumerate(ascii_uppercase[:MOST])]
    assert len({(ink(one), style(one)) for one in sides}) == MOST
    assert len({style(one) for one in sides[:5]}) == 5, "not by colour alone"
    read = page_of(tmp_path, sides)
    assert "Against A run-a" in read.all_of("caption"), "of many results a table of prices"
    text = (tmp_path / "thickness.svg").read_text(encoding="utf-8")
    assert text.count("stroke-dasharray") >= 16


def test_many_tools_have_several_figures(tmp_path):
    sides = [with_tables(side(mark)) for mark in "AB"]
    for one in sides:
        rows, tools = one.forces.columns, ("punch", "die", "holder", "ring", "sleeve", "idle")
        share = {"idle": 1e-3}
        forces = [f * share.get(tool, 1.0) for tool in tools for f in rows["force_n"]]
        columns = {key: list(rows[key]) * len(tools) for key in rows}
        columns |= {"force_n": forces, "tool": [tool for tool in tools for _ in rows["tool"]]}
        one.forces.columns.update(columns)
    one = compared(sides)
    found = [f for f in planned(one.sides, one.aligned, one.short) if f.name.startswith("forces")]
    assert [f.name for f in found] == ["forces-1-draw", "forces-1-draw-2"]
    assert found[0].caption == "draw: force of punch, die, holder over the stroke"
    assert found[1].caption == "draw: force of ring, sleeve over the stroke"


def test_letters_stand_where_curves_differ_and_not_on_each_other():
    x = np.linspace(0.0, 1.0, 50)
    same, away = np.stack([x, 0.0 * x], axis=1), np.stack([x, np.maximum(x - 0.5, 0.0)], axis=1)
    places = letter_places([same, away, same])
    assert places[1][0] > 0.52, "where the second has left the others"
    gaps = [np.hypot(*(places[i] - places[j])) for i, j in ((0, 1), (0, 2), (1, 2))]
    assert min(gaps) >= 0.9 * FAR
    flat = letter_places([np.stack([x, 0.0 * x], axis=1)])
    assert np.isfinite(flat).all()


def test_the_place_farthest_from_the_first_sheet():
    radius, thick = np.linspace(0.0, 30.0, 61), np.full(61, 0.3)
    bump = np.where(np.abs(radius - 20.0) < 3.0, 3.0 - np.abs(radius - 20.0), 0.0)
    place, far = farthest_place([(radius, bump, thick), (radius, 0.0 * radius, thick)])
    assert place == pytest.approx([20.0, 3.0]) and far == pytest.approx(3.0)
    assert farthest_place([(radius, bump, thick)])[1] == 0.0


def test_only_a_small_place_is_enlarged():
    radius, thick = np.linspace(0.0, 60.0, 601), np.full(601, 0.3)
    near, far = 0.0 * radius, np.full(601, 12.0)
    near[300] = 1.0
    flat = (radius, 0.0 * radius, thick)
    left, bottom, width = enlarged([flat, (radius, near, thick)])
    assert left < 30.0 < left + width and bottom < 0.0 < bottom + width and 3.0 * width < 60.0
    assert enlarged([flat, (radius, far, thick)]) is None
    assert enlarged([flat]) is None


@pytest.mark.parametrize(
    ("name", "shown"),
    [("a$x$b", r"A a\$x\$b"), ("\U0001f600 שלום", "A ? ????"), ("x" * 90, "A " + "x" * 55 + "...")],
)
def test_labels_that_a_figure_cannot_show(name, shown):
    assert legend_label(Side("A", name, {}), "") == shown


def test_long_labels_get_fewer_columns():
    assert legend_columns(7.6, ["A a"]) == 4 and legend_columns(7.6, ["x" * 60]) == 1
