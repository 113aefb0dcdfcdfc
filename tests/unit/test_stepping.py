"""Stepping: marks are hit, failed trials leave no trace, giving up says where."""

import hashlib

import numpy as np
import pytest

from formsim.errors import ConvergenceError, StepFloorError
from formsim.geometry.outline import Outline, line
from formsim.solver.march import march
from formsim.solver.newton import Newton, System, solve_increment, worst_node
from formsim.solver.problem import Scales, Support, Tool
from formsim.solver.stepping import Snap, Steps
from tests.unit.solid import at_rest, block, problem

STEPS = Steps(0.02, 0.1, 1e-4)


def pulled(sign=-1.0, held_rim=False):
    """A ring whose inner edge is moved, on a flat tool."""
    body = block(columns=6, layers=1, height=0.5)
    edge = body.edge_nodes("centre")
    plate = Outline(np.array([line((5.0, 0.0), (25.0, 0.0))]))
    tool = Tool("plate", plate, "bottom", 0.1, lambda _: -0.003)
    held = Support(2 * body.edge_nodes("top") + 1)
    supports = (Support(2 * edge, lambda s: sign * s), held)
    if held_rim:
        supports += (Support(2 * body.edge_nodes("rim")),)
    system = System(problem(body, length=0.5, supports=supports, tools=(tool,)))
    return system, at_rest(system, [-0.003])


def prints(state):
    """Hash of every array of a state."""
    arrays = [state.u, state.plastic, state.positions]
    arrays += [getattr(state.grip, name) for name in ("drag", "pressure", "gap", "offset")]
    return [hashlib.sha256(np.ascontiguousarray(x).tobytes()).hexdigest() for x in arrays]


def test_scheduled_strokes_are_hit_exactly():
    system, start = pulled()
    marks = (0.05, 0.1234567, 1.0 / 3.0, 0.5)
    strokes = [state.stroke for state, _ in march(system, start, 0.7, STEPS, scheduled=marks)]
    assert set(marks) < set(strokes)
    assert strokes[-1] == 0.7
    assert np.diff([0.0, *strokes]).max() <= STEPS.longest * (1 + 1e-12)
    assert (np.diff(strokes) > 0).all()


def test_marks_outside_the_march_are_ignored():
    system, start = pulled()
    strokes = [s.stroke for s, _ in march(system, start, 0.1, STEPS, scheduled=(-1.0, 0.0, 5.0))]
    assert strokes[-1] == 0.1
    assert min(strokes) > 0.0


def test_march_ends_early_when_done():
    system, start = pulled()
    states = [s for s, _ in march(system, start, 1.0, STEPS, done=lambda s, _: s.stroke > 0.2)]
    assert 0.2 < states[-1].stroke <= 0.2 + STEPS.longest


def test_accepted_states_are_in_equilibrium_and_never_changed():
    system, start = pulled()
    first = prints(start)
    kept = []
    for state, rows in march(system, start, 0.3, STEPS):
        kept.append((state, prints(state)))
        assert rows[-1].residuals[-1] < 1e-7
    assert prints(start) == first
    assert all(prints(state) == before for state, before in kept)


def test_failed_trial_leaves_the_state_bit_identical():
    system, start = pulled()
    *_, (state, _) = march(system, start, 0.2, STEPS)
    before = prints(state)
    guess = (state.u + 0.05 * np.sin(np.arange(len(state.u))), state.positions.copy())
    with pytest.raises(ConvergenceError) as caught:
        solve_increment(system, state, 3.0, guess, Newton(most=2))
    assert prints(state) == before
    assert caught.value.reason in {"iterations", "material", "singular"}
    *_, (after, _) = march(system, state, 0.3, STEPS)
    other, begin = pulled()
    *_, (again, _) = march(other, begin, 0.2, STEPS)
    *_, (straight, _) = march(other, again, 0.3, STEPS)
    assert prints(after) == prints(straight)


def test_cuts_are_counted_and_the_march_goes_on():
    """The first trial is three columns long and fails; shorter ones do not."""
    system, start = pulled()
    rows = [i for _, new in march(system, start, 3.0, Steps(3.0, 3.0, 1e-6)) for i in new]
    assert rows[0].cuts >= 1
    assert rows[-1].stroke == 3.0
    assert not any(row.loose for row in rows)


def run_into_the_rim(steps, reached):
    system, start = pulled(1.0, held_rim=True)
    for state, _ in march(system, start, 50.0, steps):
        reached.append(state.stroke)


def test_giving_up_says_where_and_how():
    """The inner edge cannot be moved through the rim, 6 mm away."""
    reached = []
    with pytest.raises(StepFloorError) as caught:
        run_into_the_rim(Steps(0.001, 0.2, 1e-3), reached)
    error = caught.value
    assert 0.1 < reached[-1] < 6.0
    assert f"{reached[-1]:.4f}" in str(error)
    assert error.exit_code == 2
    assert error.hint
    assert error.reason in {"iterations", "material", "singular"}
    assert {"node", "column", "r", "z", "force"} <= set(error.facts)
    assert len(error.history) >= 1


def test_same_march_gives_the_same_bits():
    ends = []
    for _ in range(2):
        system, start = pulled()
        *_, (state, _) = march(system, start, 0.3, STEPS)
        ends.append(prints(state))
    assert ends[0] == ends[1]


def test_help_grows_with_cuts_and_fades():
    snap, scales = Snap(), Scales(length=2.0, stress=100.0)
    short, long = 0.5 * snap.below * scales.length, 2.0 * snap.below * scales.length
    assert snap.stronger(0.0, long, scales) == 0.0
    first = snap.stronger(0.0, short, scales)
    assert first == pytest.approx(snap.weakest * 100.0 / 2.0)
    assert snap.stronger(first, short, scales) == pytest.approx(10.0 * first)
    strongest = snap.strongest * 100.0 / 2.0
    assert snap.stronger(strongest, short, scales) == strongest
    assert snap.weaker(first, scales) == 0.5 * first
    assert snap.weaker(1e-6 * first, scales) == 0.0


def test_the_worst_node_names_the_tool_it_is_at():
    """A plate far above another edge is not the tool at a gap of 0."""
    body = block(columns=6, layers=1, height=0.5)
    tools = tuple(
        Tool(name, Outline(np.array([line((5.0, z), (25.0, z))])), edge, 0.1, lambda _: 0.0)
        for name, edge, z in (("base", "bottom", -0.004), ("lid", "top", 3.0))
    )
    system = System(problem(body, length=0.5, tools=tools))
    start = at_rest(system, [0.0, 0.0])
    u = start.u.copy()
    u[1::2] -= 0.004
    balance = system.evaluate(start, 0.1, u, start.positions, want=False)
    facts = worst_node(system, u, balance)
    assert facts["tool"] == "base"
    assert facts["gap"] == pytest.approx(0.0, abs=1e-12)
