"""The warning of a mesh that is too coarse for the lands of its rings."""

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.geometry.blank import column_lengths
from formsim.results.findings import findings
from formsim.stages.coarse import LEAST, longest_behind, mesh_findings
from formsim.stages.grading import grade, with_columns
from formsim.stages.sheet import make_sheet
from tests.physics.support import CASES, named_case, with_mesh

LINE = named_case("canister_line")
CUP = """
title = "Ironed cup"
source = "invented"
start = { kind = "cup", diameter = 40.0, corner_radius = 3.0, height = 16.0 }
[sheet]
material = "can-body-demo"
thickness = 0.5
[mesh]
columns = 100
[[stage]]
kind = "iron"
punch = { diameter = 39.0, nose_radius = 2.5 }
rings = [{ bore = 39.8, land = 0.6 }]
"""


@pytest.mark.parametrize("columns", [60, 200])
def test_lengths_are_those_of_the_mesh(columns):
    case = with_mesh(LINE, columns)
    grading, body = grade(case), make_sheet(case).body
    found = column_lengths(grading.inner, grading.outer, columns, grading.even_to, grading.finer)
    np.testing.assert_allclose(found, np.diff(body.nodes[body.columns.lines, 0]), rtol=1e-6)


def test_a_coarse_mesh_is_told_with_the_columns_it_takes():
    """200 columns took 40 000 iterations in the third ring and left a wall 1 % too thin."""
    told = {one.rule: one for one in mesh_findings(with_mesh(LINE, 200))}
    verdicts = [told[f"iron-{k}: ring land in columns of the mesh"].verdict for k in (1, 2, 3)]
    assert verdicts == ["good", "watch", "watch"]
    worst = told["iron-3: ring land in columns of the mesh"]
    assert worst.value == pytest.approx(0.648, abs=2e-3)
    assert "take 410 columns" in worst.consequence
    assert all(one.verdict == "good" for one in mesh_findings(with_mesh(LINE, 410)))


@pytest.mark.parametrize("file", sorted(CASES.glob("*.toml")), ids=lambda file: file.stem)
def test_shipped_cases_are_fine_enough(file):
    case = named_case(file.stem)
    assert all(one.value >= LEAST for one in mesh_findings(case))
    assert len(findings(case)) >= len(list(mesh_findings(case)))


def test_what_is_necked_of_an_ironed_wall_has_finer_columns():
    """Some 25 mm of wall and what is trimmed, by volume; columns of 1.3 thicknesses there."""
    grading = grade(LINE)
    wall = longest_behind(LINE, grading, LINE.stages[4].punch, 0.115)
    lengths = grading.lengths
    radius = np.cumsum(lengths) - 0.5 * lengths
    behind = (lengths * radius)[radius > grading.rim.begin]
    metal = grading.outer**2 - grading.rim.begin**2
    assert 24.5 < metal * 0.28 / (56.115 * 0.115) < 24.5 + 8.0
    stretched = behind.max() / 28.0 * 0.28 / 0.115
    assert stretched == pytest.approx(1.3 * 0.115, rel=0.15)
    assert wall > 1.7 * stretched
    plain = LINE.model_copy(update={"stage": LINE.stage[:7]})
    assert grade(plain).rim is None and grade(with_mesh(LINE, 400)).rim is None
    mesh = LINE.mesh.model_copy(update={"columns": 400, "rim_finer": 2.0})
    assert grade(LINE.model_copy(update={"mesh": mesh})).rim.finer == 2.0
    finer = mesh.model_copy(update={"rim_finer": 5.0})
    assert grade(LINE.model_copy(update={"mesh": finer})).rim.finer == 5.0


def test_an_ironed_body_that_is_tested_on_two_layers_is_told():
    told = [one.rule for one in findings(with_mesh(LINE, 410))]
    assert told[-1] == "layers of the mesh of a body that is tested"
    assert not [one for one in findings(LINE) if one.rule == told[-1]]


def test_a_given_cup_is_only_stretched_by_its_rings():
    case = parse_case(CUP, "cup")
    (found,) = mesh_findings(case)
    length = grade(case).outer / 100
    assert found.value == pytest.approx(0.6 / (length * 40.0 / 39.0 * 0.5 / 0.4))


def test_fewer_columns_keep_the_proportions_of_the_mesh():
    """Also where the rim of a mesh that was worked out is finer, as a neck will need it."""
    own = grade(LINE)
    half = grade(with_columns(LINE, own.columns // 2))
    assert own.rim is not None
    assert (half.rim, half.columns) == (own.rim, own.columns // 2)
    for place in (0.2, 0.5, 0.9):
        index = int(place * half.columns)
        assert half.lengths[index] == pytest.approx(2.0 * own.lengths[2 * index], rel=0.05)
    plain = named_case("small_cup_steel")
    assert grade(with_columns(plain, 30)).rim is None
