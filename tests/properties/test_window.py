"""Working on the busy columns alone: what holds for any window, whatever its size."""

import hashlib
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.geometry.blank import strip_mesh
from formsim.pipeline.run import run_case
from formsim.solver.beyond import pull_lines
from formsim.solver.body import build_body
from formsim.solver.columns import column_solver
from formsim.solver.condense import condense
from formsim.solver.ledger import jump_share
from formsim.solver.march import march
from formsim.solver.newton import Newton, System
from formsim.solver.pace import Pace
from formsim.solver.part import narrowed, span_of, widened
from formsim.solver.settle import Settling
from formsim.solver.stepping import Steps, open_front, step
from formsim.solver.stint import work_window
from formsim.solver.synchronise import narrowed_front
from formsim.solver.window import Windows, busy_columns, choose_span, crowded, moving_tools
from formsim.stages.run import set_up
from formsim.stages.sheet import make_sheet
from tests.benchmarks.windows import differences, variant

CUP = """
title = "a cup for windows"
source = "invented"
[sheet]
material = "can-body-demo"
thickness = 0.28
blank_diameter = 60.0
[mesh]
columns = {columns}
layers = {layers}
[[stage]]
kind = "draw"
punch = {{ diameter = 36.0, nose_radius = 3.0 }}
die = {{ radius = 2.5, clearance = 0.32, land = 20.0 }}
holder = {{ force = "2 kN" }}
friction = {{ punch = 0.10, die = 0.05, holder = 0.05 }}
stroke = 8.0
"""
STEPS = Steps(0.002, 0.1, 1e-5)


def fresh(columns=90, layers=2):
    """The set-up of the draw and a system for it."""
    case = parse_case(CUP.format(columns=columns, layers=layers), "cup.toml")
    setup = set_up(case.stages[0], 0.28, make_sheet(case))
    return System(setup.problem), setup.start


@pytest.fixture(scope="module")
def drawn():
    """A cup half drawn, in equilibrium: system, state and the state before."""
    system, start = fresh()
    states = (state for state, _ in march(system, start, 8.0, STEPS))
    for before, state in pairwise(states):
        if state.stroke > 2.0:
            return system, state, before
    raise AssertionError


def test_blocks_of_elements_at_rest_are_copied_anew_where_they_were_altered(drawn):
    """Contact and supports alter blocks; the next evaluation has them as if all were copied."""
    system, state, _ = drawn
    scratch, skipped = system.scratch, 0
    trial = (state, state.stroke, state.u, state.positions, True)
    for viscosity in (0.0, 0.0, 1.0, 0.0):
        system.evaluate(*trial, viscosity)
        found, kept = scratch.block.copy(), scratch.copied.copy()
        skipped += int((kept >= 0).sum())
        scratch.copied[:] = -1
        system.evaluate(*trial, viscosity)
        np.testing.assert_array_equal(found, scratch.block)
        np.testing.assert_array_equal(kept, scratch.copied)
        system.hold()
    assert skipped > 0


def prints(state):
    """Hash of every array of a state."""
    arrays = [state.u, state.plastic, state.positions]
    arrays += [getattr(state.grip, name) for name in ("drag", "pressure", "gap", "offset")]
    return [hashlib.sha256(np.ascontiguousarray(x).tobytes()).hexdigest() for x in arrays]


@pytest.mark.parametrize("mirrored", [False, True])
def test_elimination_towards_a_line_equals_the_full_solve(drawn, mirrored):
    """All unknowns from those of the last line, whichever end the elimination begins at."""
    system, state, _ = drawn
    balance = system.evaluate(state, state.stroke, state.u, state.positions, True)
    assert balance is not None
    system.hold()
    body, block = system.problem.body, system.scratch.block
    load = np.random.default_rng(2).standard_normal(body.n_unknowns)
    load[system.problem.fixed] = 0.0
    full = column_solver(body).solve(block, load[None])
    solver = column_solver(body, mirrored=mirrored)
    order = solver.order(0, mirrored=mirrored)
    turned = block.reshape(-1, 2, 16, 16)[::-1].reshape(-1, 16, 16) if mirrored else block
    strip = solver.eliminate(turned, load[order][None])
    n_line = len(strip.stiffness)
    line = np.linalg.solve(strip.stiffness, strip.force[0])
    assert full is not None
    scale = np.abs(full).max()
    np.testing.assert_allclose(line, full[0, order[-n_line:]], atol=1e-10 * scale)
    np.testing.assert_allclose(strip.expand(line[None])[0], full[0, order], atol=1e-10 * scale)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("layers", [1, 2, 3, 4])
def test_elimination_of_any_number_of_layers(layers, mirrored):
    body = build_body(strip_mesh(0.0, 9.0, 0.5, columns=9, layers=layers, even_to=9.0))
    rng = np.random.default_rng(layers)
    block = rng.standard_normal((len(body.elements), 16, 16)) + 40.0 * np.eye(16)
    load = rng.standard_normal((2, body.n_unknowns))
    matrix = np.zeros((body.n_unknowns, body.n_unknowns))
    for unknowns, element in zip(body.unknowns, block, strict=True):
        matrix[np.ix_(unknowns, unknowns)] += element
    wanted = np.linalg.solve(matrix, load.T).T
    solver = column_solver(body, mirrored=mirrored)
    order = solver.order(0, mirrored=mirrored)
    turned = block.reshape(-1, layers, 16, 16)[::-1] if mirrored else block
    turned = np.ascontiguousarray(turned).reshape(-1, 16, 16)
    strip = solver.eliminate(turned, load[:, order])
    line = np.linalg.solve(strip.stiffness, strip.force.T).T
    np.testing.assert_allclose(strip.expand(line), wanted[:, order], atol=1e-12)


@pytest.mark.parametrize("span", [(0, 50), (30, 90), (35, 60)])
def test_a_part_with_its_ends_solves_like_the_whole(drawn, span, monkeypatch):
    """Newton's correction of a part, and of the columns that follow it, is that of the whole."""
    monkeypatch.setattr("formsim.solver.condense.FIRM", 1.0)
    system, state, _ = drawn
    none = np.zeros(len(system.problem.tools), dtype=bool)
    shake = 1e-6 * np.random.default_rng(3).standard_normal(len(state.u))
    shake[system.problem.fixed] = 0.0
    moved = replace(state, u=state.u + shake)
    system = System(replace(system.problem, tools=without_press(system.problem.tools)))
    work = condense(system, moved, span_of(system, *span), none, 0.0)
    assert work is not None
    whole = system.evaluate(moved, moved.stroke, moved.u, moved.positions, True)
    part = work.part.evaluate(work.start, moved.stroke, work.start.u, moved.positions, True)
    assert whole is not None
    assert part is not None
    wanted, _ = system.correction(whole)
    found, _ = work.part.correction(part)
    scale = np.abs(wanted).max()
    np.testing.assert_allclose(found, wanted[work.span.unknowns], atol=1e-10 * scale)
    followed = work.follow(work.start.u + found) - moved.u
    np.testing.assert_allclose(followed, wanted, atol=1e-10 * scale)


def without_press(tools):
    """The same tools standing where they are: no unknown positions beside the nodes."""
    return tuple(
        tool if callable(tool.motion) else replace(tool, motion=lambda _: 0.28) for tool in tools
    )


def test_a_window_of_all_columns_is_the_whole(drawn):
    system, state, before = drawn
    whole = open_front(system, state)
    span = span_of(system, 0, 90)
    work = condense(system, state, span, moving_tools(system, before, state), 0.0)
    assert work is not None
    assert work.part.problem.beyond.ends == ()
    target = state.stroke + 0.001
    wanted = step(system, whole, target, Newton())
    found = step(work.part, narrowed_front(work, whole), target, Newton())
    assert found.increment.residuals == pytest.approx(
        wanted.increment.residuals, rel=1e-6, abs=1e-10
    )
    np.testing.assert_allclose(found.front.state.u, wanted.front.state.u, atol=1e-12)
    np.testing.assert_allclose(found.increment.forces, wanted.increment.forces, rtol=1e-10)
    ours, theirs = found.increment.energy, wanted.increment.energy
    for name in ("external", "elastic", "plastic", "friction", "sinking"):
        assert getattr(ours, name) == pytest.approx(getattr(theirs, name), rel=1e-8, abs=1e-6)


def test_what_is_cut_out_is_put_back(drawn):
    system, state, before = drawn
    span = span_of(system, 20, 70)
    assert prints(widened(before, span, narrowed(state, span)))[2:] != prints(before)[2:]
    again = widened(state, span, narrowed(state, span))
    assert prints(again) == prints(state)
    mixed = widened(before, span, narrowed(state, span))
    assert np.array_equal(mixed.u[span.unknowns], state.u[span.unknowns])
    outside = np.ones(len(state.u), dtype=bool)
    outside[span.unknowns] = False
    assert np.array_equal(mixed.u[outside], before.u[outside])


def test_an_undone_window_leaves_everything_as_it_was(drawn):
    """Bit for bit: the state, and what comes of the next increment."""
    system, state, before = drawn
    front = open_front(system, state)
    strict = Windows(worst_drift=-1.0, quiet=0)
    moving = moving_tools(system, before, state)
    first = prints(state)
    target = state.stroke + 0.001
    system.scratch.rest.restful[:] = 0
    wanted = step(system, front, target, Newton())
    work = condense(system, state, span_of(system, 40, 90), moving, 0.0)
    assert work is not None
    pace = Pace(STEPS, Newton(), system.problem.scales)
    pace.size = 0.001
    stint = work_window(system, front, work, pace, 8.0, moving, strict, 5, None, None)
    assert stint.synced is None
    assert stint.lost > 1
    assert prints(state) == first
    system.scratch.rest.restful[:] = 0
    again = step(system, front, target, Newton())
    assert prints(again.front.state) == prints(wanted.front.state)


def test_windows_change_nothing_that_matters():
    """Thickness within 0.3 %, forces within 0.5 % of the peak; and twice the same bits."""
    runs = []
    for windows in (None, Windows(), Windows()):
        system, start = fresh()
        took = list(march(system, start, 8.0, STEPS, scheduled=(4.0,), windows=windows))
        runs.append((took[-1][0], [row for _, rows in took for row in rows]))
    (exact, plain), (fast, busy), (again, _) = runs
    assert prints(fast) == prints(again)
    assert not any(row.sync for row in plain)
    alone = sum(row.sync.increments for row in busy if row.sync)
    assert alone > 0.2 * len(busy)
    np.testing.assert_allclose(fast.u, exact.u, atol=0.003 * 0.28)
    strokes = np.linspace(0.5, 8.0, 100)
    curves = [
        np.array([np.interp(strokes, [r.stroke for r in rows], [r.forces[k] for r in rows])])
        for rows in (plain, busy)
        for k in range(3)
    ]
    peak = max(np.abs(curve).max() for curve in curves)
    for wanted, found in zip(curves[:3], curves[3:], strict=True):
        np.testing.assert_allclose(found, wanted, atol=0.005 * peak)
    assert busy[-1].energy.external == pytest.approx(plain[-1].energy.external, rel=0.003)
    assert busy[-1].energy.plastic == pytest.approx(plain[-1].energy.plastic, rel=0.003)


@pytest.mark.slow
@pytest.mark.parametrize("number", [1, 18, 19])
def test_a_base_that_flows_slowly_springs_back_alike(number):
    """Draws whose base is stretched while the punch force grows: windows then left it too high."""
    case = variant(number, 150)
    case = case.model_copy(update={"stage": case.stage[:1]})
    found, exact = (run_case(case, exact=way).line.stages[0] for way in (False, True))
    assert any(row.sync for row in found.increments)
    thickness, tall, force = differences(found, exact)
    assert thickness < 0.3
    assert tall < 0.05
    assert force < 0.5


def test_an_end_is_an_elastic_spring():
    """Force and energy of an end against its own derivative."""
    rng = np.random.default_rng(5)
    at, force = rng.standard_normal((2, 6))
    half = rng.standard_normal((6, 6))
    stiffness, way = half + half.T, 1e-3 * rng.standard_normal(6)
    residual = np.zeros(6)
    line = np.array([0]), at[None], force[None], stiffness[None]
    energy, axial = pull_lines(at + way, *line, residual)
    np.testing.assert_allclose(residual, force + stiffness @ way)
    assert energy == pytest.approx(way @ force + 0.5 * way @ stiffness @ way)
    assert axial == pytest.approx((stiffness @ way)[1::2].sum())


def test_the_rim_of_a_window_is_left_where_something_begins():
    """Only at ends beyond which the strip goes on."""
    system, _ = fresh()
    windows = Windows(quiet=3)
    busy = np.zeros(30, dtype=bool)
    assert not crowded(span_of(system, 20, 50), 90, busy, windows)
    for place, first, inside in ((1, True, True), (28, True, True), (15, False, False)):
        busy[:] = False
        busy[place] = True
        assert crowded(span_of(system, 20, 50), 90, busy, windows) == inside
        assert crowded(span_of(system, 60, 90), 90, busy, windows) == (first and place < 3)


def test_a_window_goes_around_what_flows():
    system, _ = fresh()
    windows, busy = Windows(margin_before=8, margin_behind=10, near=8), np.zeros(90)
    busy[40:45] = 1.0
    span = choose_span(system, busy.astype(bool), windows, 0.85)
    assert span is not None
    assert (span.first, span.last) == (32, 55)
    busy[14] = busy[74] = 1.0
    assert choose_span(system, busy.astype(bool), windows, 0.85) is None
    assert choose_span(system, np.zeros(90, dtype=bool), windows, 0.85) is None


def test_nothing_is_busy_where_nothing_flows(drawn):
    """However many columns a moving tool touches: an elastic sheet has no window."""
    system, state, before = drawn
    moving = moving_tools(system, before, state)
    still = replace(state, plastic=before.plastic)
    assert moving.any()
    assert busy_columns(system, before, state, moving, Windows(), 0.01).any()
    assert not busy_columns(system, before, still, moving, Windows(), 0.01).any()


def test_a_stage_has_settled_when_the_force_stops_growing_fast():
    """By hand: a force of s / (1 + s) grows by 1 / s2 of itself in the last unit, 4 % at s = 5."""
    system, start = fresh()
    settling, thickness, driven = Settling(system, 0.04), 0.28, 0
    where = start
    for s in np.arange(0.1, 8.0, 0.1):
        positions = where.positions.copy()
        positions[driven] -= 0.1 * thickness
        new = replace(where, stroke=s * thickness, positions=positions)
        forces = np.full(len(system.problem.tools), 1e4)
        forces[driven] = 1e5 * s / (1.0 + s)
        settling.see(where, new, forces)
        if settling.done:
            break
        where = new
    assert s == pytest.approx(5.0, abs=0.11)


def test_jumps_count_by_the_tool_that_jumps():
    """A small holder beside a large punch; a tool that hardly bears counts by a twentieth."""
    assert jump_share(np.array([15.0, 30.0]), np.array([1000.0, 30000.0])) == pytest.approx(0.01)
    assert jump_share(np.array([3.0, 0.0]), np.array([1.0, 1000.0])) == pytest.approx(0.06)
    assert jump_share(np.zeros(0), np.zeros(0)) == 0.0


@pytest.mark.parametrize("layers", [1, 3])
def test_windows_work_with_any_number_of_layers(layers):
    system, start = fresh(70, layers)
    took = list(march(system, start, 7.0, STEPS, windows=Windows()))
    rows = [row for _, new in took for row in new]
    assert sum(row.sync.increments for row in rows if row.sync) > 0.1 * len(rows)
    assert max(row.residuals[-1] for row in rows) < 1e-7
