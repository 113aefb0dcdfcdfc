"""One increment: predicted from the last two, solved, booked. A failed one changes nothing."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from formsim.arrays import Floats
from formsim.solver.arc import arc
from formsim.solver.contact import Grip, adapt
from formsim.solver.damage import grown
from formsim.solver.depth import firmer
from formsim.solver.ledger import Ledger, make_increment, open_ledger
from formsim.solver.newton import Newton, Solved, System, solve_increment
from formsim.solver.problem import Press, Problem, Scales
from formsim.solver.stability import loose_shapes
from formsim.solver.state import Increment, State
from formsim.solver.tempo import heated

RAISES = 3
"""How often an increment is solved again at most with tools that are stiffer each time."""


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
    bend = np.zeros(len(rate))
    if second_order and trend.travel > 0:
        bend = (rate - trend.rate) / (0.5 * (travel + trend.travel))
    return Trend(travel, rate, bend, (new.positions - old.positions) / travel)


@dataclass(frozen=True)
class Front:
    """How far a stage has come.

    Attributes
    ----------
    state : last accepted state
    trend : rates there
    ledger : energies and forces so far
    """

    state: State
    trend: Trend
    ledger: Ledger


@dataclass(frozen=True)
class Step:
    """One accepted increment.

    Attributes
    ----------
    front : after it
    begin : state it began from, with the contact settings it was solved with
    increment : what is told of it
    """

    front: Front
    begin: State
    increment: Increment


def open_front(system: System, start: State) -> Front:
    """Front at the begin of a stage."""
    return Front(start, no_trend(start), open_ledger(system, start))


def step(
    system: System,
    front: Front,
    target: float,
    method: Newton,
    *,
    viscosity: float = 0.0,
    second_order: bool = True,
    cuts: int = 0,
) -> Step:
    """Predict, solve and book one increment to the stroke ``target``.

    Parameters
    ----------
    viscosity : resistance of the nodes to the increment, per volume and stroke [N/mm3]
    cuts : failed trials before, for the record

    Raises
    ------
    ConvergenceError : no equilibrium; nothing has changed
    """
    state, trend = front.state, front.trend
    travel = target - state.stroke
    resist = viscosity / travel
    begin = replace(state, grip=_settle(system, state.grip, trend.travel))
    u = state.u + travel * trend.rate + 0.5 * travel * (travel + trend.travel) * trend.bend
    guess = prescribed(system, target, u, state.positions + travel * trend.positions)
    solved = solve_increment(system, begin, target, guess, method, resist)
    begin, solved = _raised(system, begin, target, solved, method, resist)
    new = accepted(system, solved, begin, _end(system.problem, state, solved, target))
    ledger, increment = make_increment(system, front.ledger, begin, new, solved, cuts, resist)
    if system.problem.watched:
        increment = replace(increment, unstable=loose_shapes(system, begin, new))
    return Step(Front(new, next_trend(trend, state, new, second_order), ledger), begin, increment)


def _settle(system: System, grip: Grip, travel: float) -> Grip:
    """Contact settings for the next increment; those of tools go by all of their points."""
    problem, touch = system.problem, system.touch
    if travel <= 0.0 or not problem.tools:
        return grip
    elsewhere = problem.beyond.unseen if problem.beyond else None
    return adapt(grip, touch.weight, touch.face_start, travel, problem.contact, elsewhere)


def _raised(
    system: System, begin: State, target: float, solved: Solved, method: Newton, resist: float
) -> tuple[State, Solved]:
    """Solved once more where points have sunk into a tool the load came onto too fast."""
    scratch, softness = system.scratch, system.problem.contact.softness
    for _ in range(RAISES):
        grip = firmer(begin.grip, system.touch.face_start, scratch.gap, scratch.pressure, softness)
        if grip is None:
            break
        begin, guess = replace(begin, grip=grip), (solved.u, solved.positions)
        again = solve_increment(system, begin, target, guess, method, resist)
        solved = replace(again, residuals=solved.residuals + again.residuals[1:])
    return begin, solved


def _end(problem: Problem, state: State, solved: Solved, target: float) -> float:
    """Stroke an increment has come to: less than its target where a load is reached before."""
    travel, length, first = target - state.stroke, problem.scales.length, len(problem.tools)
    for k, load in enumerate(problem.pressures, start=first):
        if load.unit is not None and math.isfinite(load.most):
            moved = float(solved.positions[k] - state.positions[k])
            travel = min(travel, arc(solved.u - state.u, moved, load.unit, length).way)
    return state.stroke + travel


def prescribed(
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


def accepted(system: System, solved: Solved, begin: State, stroke: float) -> State:
    """State of a solved increment."""
    scratch = system.scratch
    memory = replace(
        begin.grip,
        drag=scratch.drag.copy(),
        pressure=scratch.pressure.copy(),
        gap=scratch.gap.copy(),
    )
    new = State(
        stroke=stroke,
        u=solved.u,
        plastic=solved.balance.plastic,
        positions=solved.positions,
        grip=memory,
        peak=max(begin.peak, solved.balance.size),
    )
    problem = system.problem
    new = heated(problem, begin, new)
    return replace(new, damage=grown(problem.body, problem.material.constants, begin, new))
