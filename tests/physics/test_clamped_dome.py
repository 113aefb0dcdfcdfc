"""A strong clamp closing on a sprung-in steel cup: work and gaps stay booked, whatever its force.

Why: the wall springs in on the punch, which presses it out softly before the clamp closes. A punch
still soft when the clamp comes would sink in and give back work that nobody put in.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from formsim.case.load import parse_case
from formsim.case.stage import Dome
from formsim.solver.state import Increment
from formsim.stages.run import form, set_up, spring_back
from formsim.stages.sheet import Sheet, make_sheet

PUNCH = """{ diameter = 52.0, nose_radius = 4.0,
  cavity = { diameter = 36.0, radius = 2.5, depth = 10.0 } }""".replace("\n", "")
CASE = """
title = "Steel cup"
source = "invented"
[sheet]
thickness = 0.5
blank_diameter = 95.0
[sheet.material]
name = "steel-demo"
source = "invented"
invented = true
young = 207000.0
poisson = 0.3
density = 7850.0
flow = { kind = "swift", strength = 530.0, prestrain = 0.007, exponent = 0.22 }
r_values = { r0 = 1.7, r45 = 1.2, r90 = 2.0 }
sources = { flow = "invented", r_values = "invented" }
[[stage]]
kind = "draw"
punch = PUNCH
die = { radius = 5.0, clearance = 0.62 }
holder = { force = "15 kN" }
friction = { punch = 0.10, die = 0.05, holder = 0.05 }
[[stage]]
kind = "dome"
punch = PUNCH
dome = { crown_radius = 45.0, shoulder_radius = 4.0, diameter = 32.0 }
depth = 5.0
clamp = { force = "12 kN" }
friction = { punch = 0.10, dome = 0.05, clamp = 0.05 }
""".replace("PUNCH", PUNCH)


@cache
def cup() -> tuple[Sheet, Dome]:
    """The drawn cup after springback and the dome stage to come."""
    case = parse_case(CASE, "steel")
    sheet = make_sheet(case)
    draw, dome = case.stages
    setup = set_up(draw, case.sheet.thickness, sheet)
    *_, (formed, _) = form(setup)
    *_, (state, _) = spring_back(setup, formed)
    if not isinstance(dome, Dome):
        raise TypeError(dome)
    return replace(sheet, state=state), dome


@pytest.mark.slow
@pytest.mark.parametrize("force", [1000.0, 12000.0, 60000.0])
def test_closing_clamp_leaves_no_work_unbooked(force: float) -> None:
    sheet, dome = cup()
    clamp = dome.clamp
    if clamp is None:
        raise TypeError(dome)
    stage = dome.model_copy(update={"clamp": clamp.model_copy(update={"force": force})})
    rows: list[Increment] = [row for _, new in form(set_up(stage, 0.5, sheet)) for row in new]
    energy = rows[-1].energy
    found = energy.elastic + energy.plastic + energy.friction + energy.viscous + energy.sinking
    assert found == pytest.approx(energy.external, rel=0.01)
    assert min(row.deepest.min() for row in rows if row.stroke >= 0.0) > -0.02 * 0.5
    assert not any(row.loose for row in rows)
