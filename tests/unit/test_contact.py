"""Contact: gaps against brute force, exact tangents, border of a pressed tool, adaption."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from formsim.geometry.distance import gaps
from formsim.geometry.outline import CONCAVE, CONVEX, Outline, arc, line
from formsim.solver.contact import (
    REACH,
    Grip,
    adapt,
    contact_law,
    contact_values,
    no_grip,
    same_pressure,
    tuning,
)
from formsim.solver.newton import System
from formsim.solver.problem import Press, Tool
from formsim.stages import shapes
from tests.unit.solid import SHEET, at_rest, block, dense, problem, rough, slopes

OUTLINES = {
    "punch": shapes.flat_punch(20.0, 4.0),
    "ball": shapes.round_punch(15.0),
    "cavity": shapes.cavity_punch(20.0, 3.0, 14.0, 2.0, 6.0),
    "ring": shapes.ring_punch(20.0, 3.0, 15.0, 1.5, 4.0, 5.0),
    "die": shapes.die(21.0, 3.0, 3.0, 0.6),
    "holder": shapes.holder(22.0, 1.5),
    "dome": shapes.dome_tool(30.0, 3.0, 15.0),
}


def dots(outline, count=20_001):
    """Dense points of the part of an outline within 40 mm, the free side there, chain ends.

    At 4 um from each other they are at most 4e-5 mm too far where the gap is 0.05 mm or more.
    """
    places, normals = [], []
    for piece in outline.pieces:
        if piece[0] == 0.0:
            whole = np.linspace(piece[1:3], piece[3:5], count)
            seen = whole[(np.abs(whole) < 40.0).all(axis=1)]
            if not len(seen):
                continue
            places.append(np.linspace(seen[0], seen[-1], count))
            normals.append(np.tile([-piece[6], piece[5]], (count, 1)))
            continue
        middle, half = np.arctan2(piece[6], piece[5]), np.arccos(min(1.0, piece[7]))
        angles = np.linspace(middle - half, middle + half, count)
        away = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        places.append(piece[1:3] + piece[3] * away)
        normals.append(piece[4] * away)
    tips = np.concatenate([part[[0, -1]] for part in places])
    alone = [(np.hypot(*(tips - tip).T) < 1e-6).sum() == 1 for tip in tips]
    places, normals = np.concatenate(places), np.concatenate(normals)
    near = (np.abs(places) < 40.0).all(axis=1)
    return places[near], normals[near], tips[alone]


@pytest.mark.parametrize("name", OUTLINES)
def test_gap_is_the_distance_to_the_closest_of_many_dots(name):
    """On both sides, wherever the closest point is not an open end of the outline."""
    outline = OUTLINES[name]
    places, normals, tips = dots(outline)
    rng = np.random.default_rng(5)
    points = places[rng.integers(0, len(places), 500)] + rng.uniform(-2.0, 2.0, (500, 2))
    distance, nearest = cKDTree(places).query(points)
    at_tip = (np.hypot(*(places[nearest][:, None] - tips).T) < 1e-2).any(axis=0)
    cut = (np.abs(places[nearest]) > 39.9).any(axis=1)
    inside = ~(at_tip | cut) & (distance > 0.05)
    assert inside.sum() > 300
    side = np.sign(((points - places[nearest]) * normals[nearest]).sum(axis=1))
    found = gaps(outline, points)[inside]
    np.testing.assert_allclose(found, (side * distance)[inside], atol=1e-4)


@given(st.floats(-6.0, 6.0))
def test_contact_law_has_its_slope(y):
    value, slope = contact_law(y)
    step = 1e-4
    found = (contact_law(y + step)[0] - contact_law(y - step)[0]) / (2 * step)
    assert slope == pytest.approx(found, abs=2e-5)
    assert value >= max(0.0, y) - 1e-12


def test_contact_law_ends():
    assert contact_law(-REACH) == (0.0, 0.0)
    assert contact_law(REACH)[0] == pytest.approx(REACH)
    assert contact_law(REACH + 1.0) == (REACH + 1.0, 1.0)


CONTACT = tuning(1.0, 300.0)
ARCS = {
    "convex": Outline(np.array([arc((13.0, -60.0), 60.0, CONVEX, 1.2, np.pi - 1.2)])),
    "concave": Outline(np.array([arc((13.0, 30.0), 30.0, CONCAVE, -np.pi + 0.4, -0.4)])),
    "flat": Outline(np.array([line((8.0, 0.0), (18.0, 0.5))])),
}


def touching(shape, friction, motion=None, slid=0.0):
    """A body pressed on a tool from above, at a rough trial after an accepted rough state.

    The accepted state carries friction anywhere between its limits; ``slid`` [mm] is a shift of
    the trial along the tool.
    """
    body = block(columns=4, layers=1, height=1.0)
    height = {"convex": 0.02, "concave": 0.001, "flat": -0.25}[shape]
    tool = Tool("tool", ARCS[shape], "bottom", friction, motion or (lambda _: height))
    system = System(problem(body, tools=(tool,), contact=CONTACT))
    start = replace(at_rest(system, [height]), u=rough(body, 0.002))
    balance = system.evaluate(start, 0.0, start.u, start.positions, False)
    pressure = system.scratch.pressure.copy()
    share = np.random.default_rng(2).uniform(-1.0, 1.0, pressure.shape)
    grip = replace(start.grip, drag=friction * pressure * share)
    start = replace(start, plastic=balance.plastic, grip=grip)
    shift = np.tile([slid, 0.0], len(body.nodes))
    return system, start, start.u + rough(body, 0.002, seed=8) + shift


def shares(system, friction):
    """Points in contact and the share of them that slides."""
    pressure, drag = system.scratch.pressure[0], np.abs(system.scratch.drag[0])
    held = pressure > 0
    return held.sum(), float((drag[held] >= 0.999999 * friction * pressure[held]).mean())


STATES = {"smooth": (0.0, 0.0, 1.0), "stuck": (0.5, 0.0, 0.0), "sliding": (0.001, 0.2, 1.0)}


@pytest.mark.parametrize("shape", ARCS)
@pytest.mark.parametrize("state", [*STATES, "mixed"])
def test_contact_tangent_is_the_derivative_of_the_force(shape, state):
    friction, slid, expected = STATES.get(state, (0.002, 0.0, None))
    system, start, u = touching(shape, friction, slid=slid)
    system.evaluate(start, 0.0, u, start.positions, True)
    points, share = shares(system, friction)
    assert points >= 6
    assert share == expected if expected is not None else 0.0 < share < 1.0
    stiff = dense(system.problem.body, system.scratch.block)
    found = slopes(
        lambda x: system.evaluate(start, 0.0, x, start.positions, False).residual, u, 1e-7
    )
    assert np.abs(stiff - found).max() < 1e-6 * np.abs(stiff).max()


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("force", [-500.0, -5.0], ids=["spring", "full"])
def test_border_of_a_pressed_tool(state, force):
    """Column, row and own slope of an unknown tool position, by differences."""
    friction, slid, _ = STATES[state]
    press = Press(force, lambda _: 0.5, 100.0)
    system, start, u = touching("convex", friction, press, slid)
    here = start.positions
    balance = system.evaluate(start, 0.0, u, here, True)
    column, row = system.scratch.column[0].copy(), system.scratch.row[0].copy()

    def at(places, position):
        return system.evaluate(start, 0.0, places, position, False)

    by_position = slopes(lambda z: at(u, z).residual, here, 1e-7)[:, 0]
    assert np.abs(column - by_position).max() < 1e-6 * np.abs(column).max()
    by_place = slopes(lambda x: at(x, here).border_residual, u, 1e-7)[0]
    assert np.abs(row - by_place).max() < 1e-6 * np.abs(row).max()
    own = slopes(lambda z: at(u, z).border_residual, here, 1e-7)[0, 0]
    assert balance.border_slope[0] == pytest.approx(own, rel=1e-5)


def test_force_on_the_tool_is_that_on_the_body():
    """Totals over the points equal what the nodes receive."""
    system, start, u = touching("convex", 0.02)
    bare = System(replace(system.problem, tools=()))
    rest = at_rest(bare)
    rest = replace(rest, u=start.u, plastic=start.plastic)
    with_tool = system.evaluate(start, 0.0, u, start.positions, False).residual
    without = bare.evaluate(rest, 0.0, u, rest.positions, False).residual
    totals = system.scratch.totals[0]
    given_to_nodes = (with_tool - without).reshape(-1, 2).sum(axis=0)
    np.testing.assert_allclose(given_to_nodes, totals[:2], rtol=1e-9)


def test_deep_points_count_as_passed():
    """A point deeper than the limit belongs to the other side of the tool."""
    system, start, u = touching("convex", 0.0)
    system.evaluate(start, 0.0, u, start.positions + 2.0, False)
    assert (system.scratch.gap[0][system.scratch.pressure[0] > 0] > -0.5).all()


def test_adaption_leaves_idle_tools_alone_and_is_bounded():
    settings = tuning(1.0, SHEET.yield_stress)
    weight = np.ones((5, 3))
    spans = np.array([[0, 5]])
    idle = no_grip(1, 5, 3)
    assert adapt(idle, weight, spans, 0.1, settings).log_stiffness[0] == 0.0
    deep = replace(idle, pressure=np.full((1, 5, 3), 200.0), gap=np.full((1, 5, 3), -0.02))
    for _ in range(200):
        deep = replace(adapt(deep, weight, spans, 0.2, settings), gap=deep.gap)
    assert 0.0 < deep.log_stiffness[0] <= 4.0
    assert np.abs(deep.offset).max() <= 4.0 * settings.softness * (1 + 1e-12)


def test_values_of_many_arguments_are_those_of_the_law():
    y = np.linspace(-6.0, 6.0, 121)
    wanted = [contact_law(value)[0] for value in y]
    np.testing.assert_allclose(contact_values(y), wanted, rtol=1e-13, atol=1e-13)


@pytest.mark.parametrize("change", [-0.3, -0.05, 0.05, 0.3])
def test_a_stiffer_tool_keeps_its_pressures(change):
    """Pressures and gaps as they were, except where an offset is at its limit."""
    softness, gap = 1e-3, np.linspace(-3e-3, 3e-3, 31).reshape(1, -1, 1)
    nothing = np.zeros_like(gap)
    old = Grip(nothing, nothing, gap, nothing + 5e-4, np.zeros(1))
    new = same_pressure(old, np.array([change]), softness)
    before = contact_values((old.offset - gap) / softness)
    after = np.exp(change) * contact_values((new.offset - gap) / softness)
    free = np.abs(new.offset) < 4.0 * softness - 1e-9
    np.testing.assert_allclose(after[free], before[free], rtol=1e-4, atol=1e-6)
    assert free.sum() > 20
