"""Minimum thickness against the mesh: a smooth case with its order, a cup with its spread."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from formsim.case.load import load_case
from formsim.results.thickness import thickness_profile
from formsim.stages.run import form, set_up
from formsim.stages.sheet import make_sheet

CASES = Path(__file__).parents[2] / "cases"


def _thinnest(name: str, columns: int, within: float, **stage_changes: float) -> float:
    """Smallest volume-true thickness inside an original radius, under load [mm]."""
    case = load_case(CASES / name)
    mesh = case.mesh.model_copy(update={"columns": columns})
    stage = case.stages[0].model_copy(update=stage_changes)
    case = case.model_copy(update={"mesh": mesh, "stage": (stage,)})
    sheet = make_sheet(case)
    body, setup = sheet.body, set_up(stage, case.sheet.thickness, sheet)
    *_, (state, _) = form(setup, exact=True)
    profile = thickness_profile(body, state)
    return float(profile.volume_thickness[profile.column_radius < within].min())


@pytest.mark.slow
def test_stretched_sheet_converges_with_an_order() -> None:
    coarse, middle, fine = (
        _thinnest("hemispherical_stretch.toml", columns, 99.0, depth=20.0)
        for columns in (30, 60, 120)
    )
    order = math.log2(abs(coarse - middle) / abs(middle - fine))
    print(f"minimum {coarse:.6f} {middle:.6f} {fine:.6f} mm, observed order {order:.2f}")
    assert order > 1.0
    assert abs(middle - fine) < 1e-3 * fine


@pytest.mark.slow
def test_canister_nose_hardly_depends_on_the_mesh() -> None:
    """Below 0.1 % the minimum follows where column ends lie on the nose: no order is claimed."""
    found = [
        _thinnest("canister_cup.toml", columns, 37.0, stroke=12.0) for columns in (90, 180, 360)
    ]
    print("minimum at the nose", [f"{t:.5f}" for t in found])
    assert max(found) - min(found) < 1e-3 * min(found)
