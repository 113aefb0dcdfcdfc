"""Size of the increments: cut after a failure, growing after success; help where it jumps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from formsim.errors import ConvergenceError, StepFloorError
from formsim.solver.newton import Newton, System
from formsim.solver.problem import Scales
from formsim.solver.state import State
from formsim.solver.stepping import Front, Snap, Step, Steps, step

NARROW = 1.0 / 64.0
"""Increment over the longest one in which a watched body is followed to where it stops being
stable."""


class Pace:
    """Size of the increments: cuts after a failure, growth after success, help where it jumps."""

    def __init__(self, steps: Steps, method: Newton, scales: Scales) -> None:
        self.steps, self.method, self.scales, self.snap = steps, method, scales, Snap()
        self.strict = replace(method, loose_tolerance=0.0)
        self.size, self.cap = steps.first, np.inf
        self.cuts, self.viscosity, self.stable = 0, 0.0, True

    def step(self, system: System, front: Front, mark: float) -> Step:
        """Next accepted increment towards a mark.

        Raises
        ------
        StepFloorError : an increment at the floor does not converge
        """
        while True:
            try:
                return self._trial(system, front, mark)
            except ConvergenceError as error:
                if self.size < self.steps.floor:
                    raise _give_up(front.state, 2.0 * self.size, self.cuts, error) from error

    def try_step(self, part: System, front: Front, mark: float, least: float) -> Step | None:
        """Next accepted increment of a part, None where it would be shorter than ``least``."""
        while True:
            try:
                return self._trial(part, front, mark)
            except ConvergenceError:
                if self.size < least:
                    return None

    def _trial(self, system: System, front: Front, mark: float) -> Step:
        """One increment, accepted or not; the next one is longer or shorter."""
        self.size = min(self.size, self.steps.longest, self.cap)
        target, travel = _target(front.state.stroke, self.size, mark)
        short = travel <= self.snap.below * self.scales.length
        method = self.method if short else self.strict
        try:
            taken = step(
                system,
                front,
                target,
                method,
                viscosity=self.viscosity,
                second_order=self.steps.second_order,
                cuts=self.cuts,
            )
        except ConvergenceError:
            self._fail(travel)
            raise
        if self._leapt(taken, travel):
            self.size, self.viscosity = 0.5 * travel, 0.0
            return self._trial(system, front, mark)
        self._succeed(travel, taken.increment.iterations)
        return taken

    def _leapt(self, taken: Step, travel: float) -> bool:
        """Whether a body that was stable no longer is, behind an increment that may be shorter."""
        leapt = self.stable and taken.increment.unstable > 0
        if leapt and travel > NARROW * self.steps.longest:
            return True
        self.stable = taken.increment.unstable == 0
        return False

    def _fail(self, travel: float) -> None:
        self.cuts += 1
        self.size, self.cap = 0.5 * travel, 0.75 * travel
        self.viscosity = self.snap.stronger(self.viscosity, travel, self.scales)

    def _succeed(self, travel: float, iterations: int) -> None:
        self.viscosity = self.snap.weaker(self.viscosity, self.scales)
        self.cuts, self.cap = 0, self.cap * 1.1
        if iterations <= self.steps.easy and travel > 0.999 * self.size:
            self.size *= 1.3
        elif iterations > self.steps.hard:
            self.size = 0.7 * travel


def _target(stroke: float, size: float, mark: float) -> tuple[float, float]:
    """Next stroke; the last two increments before a mark share what is left."""
    left = mark - stroke
    if size >= left:
        return mark, left
    travel = 0.5 * left if size > 0.6 * left else size
    return stroke + travel, travel


def _give_up(state: State, travel: float, cuts: int, error: ConvergenceError) -> StepFloorError:
    plural = "" if cuts == 1 else "s"
    message = (
        f"gave up at stroke {state.stroke:.4f} mm after {cuts} step halving{plural}"
        f" (last try to {state.stroke + travel:.5f} mm): {error}"
    )
    facts = {**error.facts, "stroke": state.stroke, "cuts": cuts}
    hint = "see the last accepted state; a tool gap or radius may be too tight for the sheet there"
    return StepFloorError(
        message, reason=error.reason, history=error.history, facts=facts, hint=hint
    )
