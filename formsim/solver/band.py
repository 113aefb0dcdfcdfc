"""Linear solver for any mesh: LAPACK band elimination with pivoting."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from scipy.linalg.lapack import dgbtrf, dgbtrs

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel
from formsim.solver.body import Body
from formsim.solver.columns import column_solver


class LinearSolver(Protocol):
    """Solves the assembled system of element blocks."""

    def solve(self, block: Floats, rhs: Floats) -> Floats | None:
        """Solution (n, n_unknowns), or None when the system is singular."""


@kernel
def _scatter(half: int, unknowns: Ints, block: Floats, band: Floats) -> None:
    for e in range(unknowns.shape[0]):
        for i in range(16):
            row = unknowns[e, i]
            for j in range(16):
                col = unknowns[e, j]
                band[col, 2 * half + row - col] += block[e, i, j]


@dataclass(frozen=True)
class BandSolver:
    """Elimination in LAPACK's general band storage.

    Attributes
    ----------
    half : half bandwidth
    unknowns : unknown numbers of the elements, (n_el, 16)
    """

    half: int
    unknowns: Ints
    _band: Floats = field(repr=False)

    def solve(self, block: Floats, rhs: Floats) -> Floats | None:
        """Solution of the assembled system, or None when it is singular."""
        self._band[:] = 0.0
        _scatter(self.half, self.unknowns, block, self._band)
        factors, pivots, info = dgbtrf(self._band.T, self.half, self.half, overwrite_ab=1)
        if info != 0:
            return None
        solution, _ = dgbtrs(factors, self.half, self.half, rhs.T, pivots)
        x = np.asarray(solution).T
        return x if np.isfinite(x).all() else None


def band_solver(body: Body) -> BandSolver:
    """Solver for a body of any mesh."""
    spread = body.unknowns.max(axis=1) - body.unknowns.min(axis=1)
    half = int(spread.max())
    return BandSolver(half, body.unknowns, np.zeros((body.n_unknowns, 3 * half + 1)))


def best_solver(body: Body) -> LinearSolver:
    """Column elimination for strips, band elimination otherwise."""
    return band_solver(body) if body.columns is None else column_solver(body)
