"""Watches a stage for the increment in which damage passes its critical value."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats
from formsim.results.curve import strip
from formsim.results.damage import DamageLaw
from formsim.solver.body import Body
from formsim.solver.damage import MEAN, TENSION
from formsim.solver.state import State


class Passing:
    """Strokes at which the columns of a stage came to their critical damage.

    Attributes
    ----------
    strokes : of every column that of the state before, that of the first state beyond, and between
        them as if damage grew evenly, (n_columns, 3) [mm]; not a number where it did not come to it
    """

    def __init__(self, law: DamageLaw, body: Body, start: State) -> None:
        """Damage that is there before the stage is passed nowhere in it."""
        columns = strip(body)
        self._law, self._shape = law, (columns.count, columns.layers)
        self._worst, self._stroke = self._damage(start), start.stroke
        self.strokes: Floats = np.full((len(self._worst), 3), np.nan)

    def see(self, state: State) -> None:
        """The next state in which all columns are in equilibrium."""
        critical = np.inf if self._law.critical is None else self._law.critical
        worst = self._damage(state)
        new = (worst > critical) & (self._worst <= critical)
        if new.any():
            share = (critical - self._worst[new]) / (worst[new] - self._worst[new])
            way = state.stroke - self._stroke
            self.strokes[new, 0], self.strokes[new, 1] = self._stroke, state.stroke
            self.strokes[new, 2] = self._stroke + share * way
        self._worst, self._stroke = worst, state.stroke

    def _damage(self, state: State) -> Floats:
        # As the law reads the integrals of a history, at a tenth of the cost.
        taken = state.damage
        points = self._law.combined(taken[..., TENSION], taken[..., MEAN], state.strain)
        means = points @ np.full(points.shape[1], 1.0 / points.shape[1])
        worst: Floats = means.reshape(self._shape).max(axis=1)
        return worst
