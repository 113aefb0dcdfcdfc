"""Linear solver for strips: one dense block per element column, eliminated from one end.

No pivoting: the blocks of a strip that some tool or support holds are dominated by their diagonal
part. Each block couples a node line, the mid-side nodes behind it and the next node line; the first
two are eliminated, the rest is carried on.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numba import njit

from formsim.arrays import Floats, Ints
from formsim.solver.body import Body
from formsim.solver.stress import FAST


@njit(cache=True, fastmath=FAST)
def _load(
    c: int, layers: int, n_out: int, place: Ints, block: Floats, rhs: Floats, a: Floats
) -> None:
    """Block of one column with its right-hand sides behind the matrix."""
    n = a.shape[0]
    for i in range(n):
        for j in range(n):
            a[i, j] = 0.0
    for layer in range(layers):
        k = block[c * layers + layer]
        for i in range(16):
            row = place[layer, i]
            for j in range(16):
                a[row, place[layer, j]] += k[i, j]
    for i in range(n):
        for m in range(rhs.shape[0]):
            a[i, n + m] = rhs[m, c * n_out + i] if i < n_out else 0.0


@njit(cache=True, fastmath=FAST)
def _eliminate(a: Floats, n_out: int) -> bool:
    """Eliminate the first ``n_out`` unknowns of one block in place, four at a time."""
    n, width = a.shape
    for first in range(0, n_out, 4):
        last = min(first + 4, n_out)
        for k in range(first, last):
            if a[k, k] == 0.0:
                return False
            pivot = 1.0 / a[k, k]
            for i in range(k + 1, last):
                factor = a[i, k] * pivot
                for j in range(k + 1, width):
                    a[i, j] -= factor * a[k, j]
        if last - first == 4:
            _update_four(a, first)
        else:
            for k in range(first, last):
                pivot = 1.0 / a[k, k]
                for i in range(last, n):
                    factor = a[i, k] * pivot
                    for j in range(k + 1, width):
                        a[i, j] -= factor * a[k, j]
    return True


@njit(cache=True, fastmath=FAST)
def _update_four(a: Floats, k: int) -> None:
    """Take four eliminated rows ``k .. k + 3`` from all rows below them."""
    n, width = a.shape
    p0 = a[k]
    p1 = a[k + 1]
    p2 = a[k + 2]
    p3 = a[k + 3]
    u01, u02, u03 = p0[k + 1], p0[k + 2], p0[k + 3]
    u12, u13, u23 = p1[k + 2], p1[k + 3], p2[k + 3]
    d0, d1, d2, d3 = 1 / p0[k], 1 / p1[k + 1], 1 / p2[k + 2], 1 / p3[k + 3]
    for i in range(k + 4, n):
        r = a[i]
        f0 = r[k] * d0
        f1 = (r[k + 1] - f0 * u01) * d1
        f2 = (r[k + 2] - f0 * u02 - f1 * u12) * d2
        f3 = (r[k + 3] - f0 * u03 - f1 * u13 - f2 * u23) * d3
        for j in range(k + 4, width):
            r[j] -= f0 * p0[j] + f1 * p1[j] + f2 * p2[j] + f3 * p3[j]


@njit(cache=True, fastmath=FAST)
def _forward(
    first: int,
    last: int,
    layers: int,
    n_out: int,
    place: Ints,
    block: Floats,
    rhs: Floats,
    columns: Floats,
    carry: Floats,
) -> bool:
    """Eliminate columns ``first .. last - 1``; ``carry`` is what the last node line receives."""
    n, width = columns.shape[1], columns.shape[2]
    carry[:] = 0.0
    for c in range(first, last):
        a = columns[c]
        _load(c, layers, n_out, place, block, rhs, a)
        for i in range(n - n_out):
            for j in range(n - n_out):
                a[i, j] += carry[i, j]
            for j in range(n, width):
                a[i, j] += carry[i, j - n_out]
        if not _eliminate(a, n_out):
            return False
        for i in range(n - n_out):
            for j in range(width - n_out):
                carry[i, j] = a[n_out + i, n_out + j]
    return True


@njit(cache=True, fastmath=FAST)
def _substitute(a: Floats, n_out: int, y: Floats) -> None:
    """Values of the first ``n_out`` unknowns of an eliminated block from the rest of ``y``."""
    n = a.shape[0]
    for m in range(y.shape[0]):
        x = y[m]
        for k in range(n_out - 1, -1, -1):
            v = a[k, n + m]
            for j in range(k + 1, n):
                v -= a[k, j] * x[j]
            x[k] = v / a[k, k]


@njit(cache=True)
def _backward(first: int, last: int, n_out: int, columns: Floats, x: Floats) -> None:
    """Back-substitution from the node line ``last``, whose values are in ``x``."""
    n = columns.shape[1]
    for c in range(last - 1, first - 1, -1):
        _substitute(columns[c], n_out, x[:, c * n_out : c * n_out + n])


@njit(cache=True)
def _solve(
    layers: int, n_out: int, place: Ints, block: Floats, columns: Floats, rhs: Floats, x: Floats
) -> bool:
    count, n, width = columns.shape
    n_line = n - n_out
    carry = np.zeros((n_line, width - n_out))
    if not _forward(0, count, layers, n_out, place, block, rhs, columns, carry):
        return False
    end = count * n_out
    for i in range(n_line):
        for j in range(width - n):
            carry[i, n_line + j] += rhs[j, end + i]
    if not _eliminate(carry, n_line):
        return False
    _substitute(carry, n_line, x[:, end:])
    _backward(0, count, n_out, columns, x)
    return True


@dataclass(frozen=True)
class ColumnSolver:
    """Block elimination along a strip.

    Attributes
    ----------
    layers : elements through the thickness
    n_out : unknowns eliminated per column
    place : position of an element's unknowns in its column's block, (layers, 16)
    """

    layers: int
    n_out: int
    place: Ints
    _storage: dict[int, Floats] = field(default_factory=dict, repr=False)

    def solve(self, block: Floats, rhs: Floats) -> Floats | None:
        """Solution of the assembled system, or None when it is singular.

        Parameters
        ----------
        block : element matrices with supports built in, (n_el, 16, 16) [N/mm]
        rhs : right-hand sides, (n, n_unknowns)
        """
        x = np.empty_like(rhs)
        size = self.n_out + 2 * (2 * self.layers + 1)
        columns = self._storage.setdefault(
            rhs.shape[0], np.zeros((len(block) // self.layers, size, size + rhs.shape[0]))
        )
        done = _solve(self.layers, self.n_out, self.place, block, columns, rhs, x)
        return x if done and np.isfinite(x).all() else None


def column_solver(body: Body) -> ColumnSolver:
    """Solver for a body with columns."""
    columns = body.columns
    if columns is None:
        message = "the body has no columns"
        raise ValueError(message)
    return ColumnSolver(
        layers=columns.layers,
        n_out=2 * columns.stride,
        place=np.ascontiguousarray(body.unknowns[: columns.layers]),
    )
