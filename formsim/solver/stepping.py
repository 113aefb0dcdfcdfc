"""Stepping through a stage: predict, solve, accept; cut, retry and grow the increment.

A failed trial changes nothing. Growth and cuts follow the iteration count; scheduled strokes are
hit exactly, so that what is reported there does not depend on the path of the increments.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from formsim.arrays import Floats
from formsim.errors import ConvergenceError, StepFloorError
from formsim.solver.contact import Grip, adapt
from formsim.solver.ledger import make_increment, open_ledger
from formsim.solver.newton import Newton, Solved, System, solve_increment
from formsim.solver.problem import Press, Scales
from formsim.solver.state import Increment, State


@dataclass(frozen=True)
class Steps:
    """Sizes of the increments.

    Attributes
    ----------
    first, longest, floor : first, longest and shortest increment [mm]
    easy : iterations up to which the increment grows
    hard : iterations beyond which it shrinks
    second_order : predict with the last two increments instead of one
    """

    first: float
    longest: float
    floor: float
    easy: int = 6
    hard: int = 10
    second_order: bool = True


@dataclass(frozen=True)
class Snap:
    """Help where the sheet jumps, such as a rim that slips from under the holder.

    Once increments have been cut to ``below``, the nodes get a viscosity that grows tenfold with
    every further cut and fades after it has helped. Its work is booked and shown.

    Attributes
    ----------
    below : length of an increment that calls for help, in sheet thicknesses
    weakest, strongest : viscosity by yield stress over thickness
    """

    below: float = 0.015
    weakest: float = 1e-5
    strongest: float = 0.1

    def stronger(self, viscosity: float, travel: float, scales: Scales) -> float:
        """Viscosity after a cut of an increment of length ``travel`` [N/mm3]."""
        if travel > self.below * scales.length:
            return viscosity
        unit = scales.stress / scales.length
        return min(max(10.0 * viscosity, self.weakest * unit), self.strongest * unit)

    def weaker(self, viscosity: float, scales: Scales) -> float:
        """Viscosity after an accepted increment [N/mm3]."""
        least = 1e-3 * self.weakest * scales.stress / scales.length
        return 0.5 * viscosity if viscosity > least else 0.0


@dataclass(frozen=True)
class Trend:
    """Rates of the last accepted increments, for the next guess.

    Attributes
    ----------
    travel : length of the last increment, 0 before the first [mm]
    rate, bend : first and second derivative of displacement by stroke
    positions : rate of tool positions and pressures
    """

    travel: float
    rate: Floats
    bend: Floats
    positions: Floats


def no_trend(state: State) -> Trend:
    """Trend of a body at rest."""
    return Trend(
        0.0, np.zeros_like(state.u), np.zeros_like(state.u), np.zeros_like(state.positions)
    )


def next_trend(trend: Trend, old: State, new: State, second_order: bool) -> Trend:
    """Trend after an accepted increment."""
    travel = new.stroke - old.stroke
    rate = (new.u - old.u) / travel
    bend = np.zeros_like(rate)
    if second_order and trend.travel > 0:
        bend = (rate - trend.rate) / (0.5 * (travel + trend.travel))
    return Trend(travel, rate, bend, (new.positions - old.positions) / travel)


def march(
    system: System,
    start: State,
    end: float,
    steps: Steps,
    *,
    method: Newton | None = None,
    scheduled: tuple[float, ...] = (),
    done: Callable[[State, Increment], bool] | None = None,
) -> Iterator[tuple[State, Increment]]:
    """Accepted states from the stroke of ``start`` to ``end``.

    Parameters
    ----------
    scheduled : strokes to be hit exactly [mm]
    done : ends the march early when true

    Raises
    ------
    StepFloorError : an increment at the floor does not converge
    """
    method, snap, scales = method or Newton(), Snap(), system.problem.scales
    strict = replace(method, loose_tolerance=0.0)
    state, trend, ledger = start, no_trend(start), open_ledger(system, start)
    marks = sorted({*(s for s in scheduled if start.stroke < s < end), end})
    size, cap, cuts, viscosity = steps.first, np.inf, 0, 0.0
    while marks:
        size = min(size, steps.longest, cap)
        target, travel = _target(state.stroke, size, marks[0])
        short = travel <= snap.below * scales.length
        try:
            solved, grip = _attempt(
                system, state, target, trend, method if short else strict, viscosity / travel
            )
        except ConvergenceError as error:
            cuts += 1
            size, cap = 0.5 * travel, 0.75 * travel
            viscosity = snap.stronger(viscosity, travel, scales)
            if size < steps.floor:
                raise _give_up(system, state, target, cuts, error) from error
            continue
        new = _accept(system, solved, grip, target, state.peak)
        ledger, increment = make_increment(
            system, ledger, state, new, solved, cuts, viscosity / travel
        )
        viscosity = snap.weaker(viscosity, scales)
        trend, state = next_trend(trend, state, new, steps.second_order), new
        yield state, increment
        if done is not None and done(state, increment):
            return
        if state.stroke >= marks[0] - 1e-12:
            marks.pop(0)
        iterations, cuts, cap = increment.iterations, 0, cap * 1.1
        if iterations <= steps.easy and travel > 0.999 * size:
            size *= 1.3
        elif iterations > steps.hard:
            size = 0.7 * travel


def _target(stroke: float, size: float, mark: float) -> tuple[float, float]:
    """Next stroke; the last two increments before a mark share what is left."""
    left = mark - stroke
    if size >= left:
        return mark, left
    travel = 0.5 * left if size > 0.6 * left else size
    return stroke + travel, travel


def _attempt(
    system: System,
    state: State,
    target: float,
    trend: Trend,
    method: Newton,
    viscosity: float,
) -> tuple[Solved, Grip]:
    """Solve to a stroke from the predicted state."""
    problem, travel = system.problem, target - state.stroke
    grip = state.grip
    if trend.travel > 0 and problem.tools:
        touch = system.touch
        grip = adapt(state.grip, touch.weight, touch.face_start, trend.travel, problem.contact)
    begin = replace(state, grip=grip)
    u = state.u + travel * trend.rate + 0.5 * travel * (travel + trend.travel) * trend.bend
    guess = _prescribed(system, target, u, state.positions + travel * trend.positions)
    return solve_increment(system, begin, target, guess, method, viscosity), grip


def _prescribed(
    system: System, stroke: float, u: Floats, positions: Floats
) -> tuple[Floats, Floats]:
    """Guess with prescribed displacements, tool positions and pressures put in."""
    problem = system.problem
    u, positions = u.copy(), positions.copy()
    for support in problem.supports:
        if support.value is not None:
            u[support.unknowns] = support.value(stroke)
    for k, tool in enumerate(problem.tools):
        if not isinstance(tool.motion, Press):
            positions[k] = tool.motion(stroke)
    for k, load in enumerate(problem.pressures, start=len(problem.tools)):
        if load.given is not None:
            positions[k] = load.given(stroke)
    return u, positions


def _accept(system: System, solved: Solved, grip: Grip, stroke: float, peak: float) -> State:
    scratch = system.scratch
    memory = replace(
        grip,
        drag=scratch.drag.copy(),
        pressure=scratch.pressure.copy(),
        gap=scratch.gap.copy(),
    )
    return State(
        stroke=stroke,
        u=solved.u,
        plastic=solved.balance.plastic,
        positions=solved.positions,
        grip=memory,
        peak=max(peak, solved.balance.size),
    )


def _give_up(
    system: System, state: State, target: float, cuts: int, error: ConvergenceError
) -> StepFloorError:
    plural = "" if cuts == 1 else "s"
    message = (
        f"gave up at stroke {state.stroke:.4f} mm after {cuts} step halving{plural}"
        f" (last try to {target:.5f} mm): {error}"
    )
    facts = {**error.facts, "stroke": state.stroke, "cuts": cuts}
    hint = "see the last accepted state; a tool gap or radius may be too tight for the sheet there"
    return StepFloorError(
        message, reason=error.reason, history=error.history, facts=facts, hint=hint
    )
