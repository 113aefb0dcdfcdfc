"""Necking: nosing of a tube against the work it takes, and what may go wrong at the press."""

from functools import cache

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.errors import ConvergenceError
from formsim.results.necking import rim_ring
from formsim.results.theory.necking import buckling_load
from formsim.results.thickness import thickness_profile
from formsim.stages.run import form, set_up, spring_back
from formsim.stages.sheet import make_sheet
from tests.physics.support import Formed, metal_volume
from tests.references.cone import bending_load, cone_load

OUTER, THICKNESS = 56.0, 0.5
MIDDLE = 0.5 * (OUTER - THICKNESS)
CASE = """
title = "tube"
source = "invented"
start = {{ kind = "tube", diameter = {outer}, length = {length} }}
[sheet]
thickness = {thickness}
[sheet.material]
name = "m"
source = "invented"
invented = true
young = 69000.0
poisson = 0.33
density = 2720.0
flow = {{ kind = "voce", saturation = 405.0, drop = 105.0, rate = 18.0 }}
r_values = {{ r_bar = {r_bar} }}
sources = {{ flow = "invented", r_values = "invented" }}
[[stage]]
{stage}
friction = {friction}
"""
DIE = (
    'kind = "neck"\ndie = {{ diameter = {0}, angle = {1}, entry_radius = {2},'
    " throat_radius = {2}, land = {3} }}\n"
)


def flow(strain):
    """Flow curve of the test [MPa]."""
    return 405.0 - 105.0 * np.exp(-18.0 * strain)


@cache
def pushed(stage, friction=0.0, r_bar=1.0, thickness=THICKNESS, length=60.0, free=False) -> Formed:
    """A tube whose end is worked by one stage."""
    text = CASE.format(
        outer=OUTER,
        length=length,
        thickness=thickness,
        r_bar=r_bar,
        stage=stage,
        friction=friction,
    )
    case = parse_case(text, "tube.toml")
    sheet = make_sheet(case)
    setup = set_up(case.stages[0], thickness, sheet)
    rows = []
    states = [setup.start]
    for state, new in form(setup):
        rows.extend(new)
        states.append(state)
    last = states[-1]
    released = [state for state, _ in spring_back(setup, last)] if free else []
    return Formed(sheet.body, setup, tuple(rows), last, {}, [last, *released][-1])


def nosed(arc=10.0, **tube) -> Formed:
    return pushed(DIE.format(48.0, 30.0, arc, 6.0) + "depth = 30.0", **tube)


def load(formed: Formed) -> float:
    """Axial load at the end [N]."""
    return abs(float(formed.increments[-1].forces.sum()))


@pytest.mark.slow
@pytest.mark.parametrize("arc", [10.0, 20.0])
@pytest.mark.parametrize("r_bar", [1.0, 0.6])
def test_load_without_friction_lies_between_the_cone_and_the_cone_with_bending(arc, r_bar):
    """Work balance, see ``references/cone.py``: hoop work alone is the least, bending on the radius
    of the tool the most; the wall bends on a larger one."""
    formed = nosed(arc, r_bar=r_bar)
    rim = 0.5 * rim_ring(formed.body, formed.last).diameter
    least = cone_load(flow, MIDDLE, rim, THICKNESS, 30.0, 0.0)
    bends = bending_load(flow, MIDDLE, rim, THICKNESS, (arc, arc))
    assert least < load(formed) < least + bends


@pytest.mark.slow
def test_friction_raises_the_load_as_the_work_balance_says():
    """Rim still on the cone, mu = 0.1: friction adds ``mu/tan(a)`` of the hoop work at least; the
    pressure along the wall that it builds up raises the hoop stress by 2/sqrt3 at most (Mises)."""
    stage = DIE.format(44.0, 30.0, 10.0, 6.0) + "depth = 11.0"
    plain, rubbing = (pushed(stage, friction=mu) for mu in (0.0, 0.1))
    rim = float(plain.last.places(plain.body)[plain.body.edge_nodes("rim"), 0].mean())
    smooth, rough = (cone_load(flow, MIDDLE, rim, THICKNESS, 30.0, mu) for mu in (0.0, 0.1))
    rise = load(rubbing) - load(plain)
    assert rough - smooth < rise < 2.0 / np.sqrt(3.0) * rough - smooth


@pytest.mark.slow
@pytest.mark.parametrize("r_bar", [1.0, 0.6])
def test_rim_thickens_as_in_hoop_compression(r_bar):
    """Free edge, uniaxial hoop stress: ``t/t0 = (r/r0)^(-1/(1 + r))`` (Hill 1948, memory); bending
    in the throat adds less than 1 %."""
    formed = nosed(20.0, r_bar=r_bar)
    ring = rim_ring(formed.body, formed.last)
    ratio = (0.5 * ring.diameter / MIDDLE) ** (-1.0 / (1.0 + r_bar))
    assert ring.thickness / THICKNESS == pytest.approx(ratio, rel=0.01)


@pytest.mark.slow
def test_volume_is_kept_and_so_is_the_mean_wall_thickness():
    formed = nosed(free=True)
    first = float(formed.body.volume.sum())
    assert metal_volume(formed.body, formed.free) == pytest.approx(first, rel=1e-5)
    profile = thickness_profile(formed.body, formed.free)
    mid = 0.5 * (profile.radius[1:] + profile.radius[:-1])
    swept = 2.0 * np.pi * (mid * np.diff(profile.arc_length)).sum()
    mean = np.average(
        0.5 * (profile.thickness[1:] + profile.thickness[:-1]),
        weights=mid * np.diff(profile.arc_length),
    )
    assert mean == pytest.approx(first / swept, rel=2e-3)


@pytest.mark.slow
def test_support_carries_the_load():
    formed = nosed()
    row = formed.increments[-1]
    assert row.reaction == pytest.approx(float(row.forces.sum()), rel=1e-6)


def given_up(stage, **tube) -> ConvergenceError:
    with pytest.raises(ConvergenceError) as error:
        pushed(stage, **tube)
    return error.value


def test_a_rim_that_turns_over_before_the_throat_is_said():
    """Steep cone, sharp entry: the free edge of a thin wall rolls in instead of going through."""
    stage = DIE.format(48.0, 60.0, 0.5, 3.0) + "pilot = { clearance = 0.14 }\ndepth = 10.0"
    error = given_up(stage, friction=0.1, thickness=0.115, length=30.0)
    assert error.reason == "curled"
    assert "turns over" in str(error)
    assert error.facts["stroke"] < 5.0


def test_a_step_beyond_what_the_wall_bears_is_said():
    stage = DIE.format(36.0, 30.0, 12.0, 6.0) + "depth = 30.0"
    error = given_up(stage, friction=0.4, thickness=1.0)
    assert error.reason == "crushed"
    assert 1.0 < error.facts["stress ratio"] < 1.1
    assert f"{error.facts['stress ratio']:.2f} times its flow stress" in str(error)


@pytest.mark.slow
def test_a_thin_wall_folds_at_the_classical_load():
    """Elastic buckling in rings of the free wall below a short bore (Timoshenko and Gere 1961,
    memory); a bore that guides most of the wall makes it bear a quarter more."""
    stage = (
        'kind = "neck"\ndie = { diameter = 36.0, angle = 30.0, entry_radius = 4.0,'
        " throat_radius = 12.0, land = 6.0 }\ndepth = 40.0"
    )
    error = given_up(stage, friction=0.3, thickness=0.115, length=80.0)
    assert error.reason == "folded"
    assert error.facts["load"] == pytest.approx(buckling_load(69e3, 0.33, 0.115), rel=0.02)
