"""Whether a stage has settled; until then no part of the strip is worked on by itself.

While the force that drives the tools grows fast they still bend the sheet to their shape, and
columns beyond flow along: too slowly to be busy, yet by more than their stiffness knows.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.solver.newton import System
from formsim.solver.problem import Press
from formsim.solver.state import State


class Settling:
    """Follows the force that drives the tools over the last thickness of travel.

    It is their work per travel, so that a holder that is carried along does not count.

    Parameters
    ----------
    growth : growth of that force in it, over the force, at which a stage has settled [-]
    """

    def __init__(self, system: System, growth: float) -> None:
        self._problem, self._growth = system.problem, growth
        tools = system.problem.tools
        self._driven: Bools = np.array([not isinstance(t.motion, Press) for t in tools], dtype=bool)
        self._passed: deque[tuple[float, float]] = deque()
        self.done = not self._driven.any()

    def see(self, old: State, new: State, forces: Floats) -> None:
        """Two states in equilibrium, one after the other, and the tool forces at the second [N]."""
        if self.done:
            return
        n = len(self._driven)
        moved = new.positions[:n] - old.positions[:n]
        force = 0.0
        if moved[self._driven].any():
            force = abs(float(forces @ moved)) / (new.stroke - old.stroke)
        since = new.stroke - self._problem.scales.length
        while len(self._passed) > 1 and self._passed[1][0] <= since:
            self._passed.popleft()
        bears = force > self._problem.contact.least_force
        if bears and self._passed and self._passed[0][0] <= since:
            strokes, passed = zip(*self._passed, strict=True)
            grown = force - float(np.interp(since, strokes, passed))
            self.done = grown <= self._growth * force
        self._passed.append((new.stroke, force))
