"""What `check` tells of the limits a case gives."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from formsim.case.load import parse_case
from formsim.report.given_limits import given_limits_text

CUP = (Path(__file__).parents[2] / "cases" / "canister_cup.toml").read_text(encoding="utf-8")


def told(text: str) -> str:
    return " ".join(given_limits_text(parse_case(text, "cup.toml")).split())


def test_the_curve_is_told_on_the_usual_paths() -> None:
    text = told(CUP)
    assert "imperfection 0.995" in text
    strains = [text.split(f" {path}")[0].split()[-1] for path in ("in simple tension", "in plane")]
    assert 0.0 < float(strains[1]) < float(strains[0]) < 0.2
    assert "critical at 0.709" in text


def test_simple_tension_is_that_of_the_sheet() -> None:
    """Hill 1952, e1 + e2 = n on the left: major n (1 + r) in simple tension (memory).

    Less the yield strain, (500 / 69000) to the power of 1 / 0.9, that the law begins with.
    """
    flow = 'flow = { kind = "hollomon", strength = 500.0, exponent = 0.1 }'
    text = re.sub("(?m)^flow = .*", flow, CUP)
    text = re.sub("(?m)^forming_limit = .*", 'forming_limit = { kind = "swift_hill" }', text)
    found = []
    for r_bar in (1.0, 2.0):
        said = told(text.replace("r_bar = 1.0", f"r_bar = {r_bar}"))
        found.append(float(said.split(" in simple tension")[0].split()[-1]))
    begin = (500.0 / 69e3) ** (1.0 / 0.9)
    assert found == pytest.approx([0.2 - begin, 0.3 - begin], abs=6e-4)


def test_a_curve_that_cannot_be_worked_out_is_told_before_the_run() -> None:
    text = told(CUP.replace("drop = 105.0", "drop = 5.0"))
    assert text.count("warning") == 2
    assert "hardens too little" in text


def test_nothing_is_told_without_limits() -> None:
    lines = [one for one in CUP.splitlines() if not one.startswith(("forming_limit", "damage"))]
    assert not told("\n".join(lines))


def test_an_edge_limit_without_a_flange_is_told_to_be_idle() -> None:
    text = CUP + '\n[limits]\ncut_edge = { hole_expansion = 45, source = "invented" }\n'
    said = told(text)
    assert "cut edge: up to a log hoop strain of 0.372" in said
    assert "warning: limits.cut_edge is compared with nothing" in said
    flange = '\n[[stage]]\nkind = "flange"\ntool = { diameter = 73.0, radius = 2.0 }\ndepth = 3.0\n'
    assert "compared with nothing" not in told(CUP + flange + text[len(CUP) :])


def test_what_a_table_does_not_reach_is_told() -> None:
    lines = [one for one in CUP.splitlines() if not one.startswith("forming_limit")]
    table = (
        '[limits]\nforming_limit = { kind = "table", strain = "true", unit = "fraction",'
        ' source = "invented", minor = [0.0, 0.1], major = [0.2, 0.25] }\n'
    )
    said = told("\n".join(lines) + "\n" + table)
    assert "it ends at 0.40 of minor over major strain" in said
    assert "warning: the given limit curve ends at 0.00" in said
