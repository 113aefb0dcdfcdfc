"""Linear solver for strips: one dense block per element column, eliminated from one end.

No pivoting: the blocks of a strip that some tool or support holds are dominated by their diagonal
part. Each block couples a node line, the mid-side nodes behind it and the next node line; the first
two are eliminated, the rest is carried on. Right-hand sides stand behind the matrix of each block.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel
from formsim.solver.body import Body

LANES = 4
"""Rows are padded to a multiple of this, so that the inner loops fill the vector registers."""


@kernel
def _load(c: int, n: int, n_out: int, place: Ints, block: Floats, rhs: Floats, a: Floats) -> None:
    """Block of column ``c`` with its right-hand sides behind the matrix."""
    layers = place.shape[0]
    for i in range(a.shape[0]):
        for j in range(a.shape[1]):
            a[i, j] = 0.0
    for layer in range(layers):
        k = block[c * layers + layer]
        for i in range(16):
            row = place[layer, i]
            for j in range(16):
                a[row, place[layer, j]] += k[i, j]
    for m in range(rhs.shape[0]):
        for i in range(n_out):
            a[i, n + m] = rhs[m, c * n_out + i]


@kernel
def _close(n: int, n_line: int, rhs: Floats, a: Floats) -> None:
    """Block behind the last column: its node line, and unknowns that are nothing but zero."""
    for i in range(a.shape[0]):
        for j in range(a.shape[1]):
            a[i, j] = 0.0
        if i >= n_line:
            a[i, i] = 1.0
    for m in range(rhs.shape[0]):
        for i in range(n_line):
            a[i, n + m] = rhs[m, i]


@kernel
def _keep(a: Floats, n: int, kept: Floats, carry: Floats) -> None:
    """Keep the eliminated rows of a block and carry the rest on to the next one."""
    n_out = kept.shape[0]
    n_line = n - n_out
    for i in range(n_out):
        for j in range(a.shape[1]):
            kept[i, j] = a[i, j]
    for i in range(n_line):
        for j in range(n_line):
            carry[i, j] = a[n_out + i, n_out + j]
        for m in range(carry.shape[1] - n_line):
            carry[i, n_line + m] = a[n_out + i, n + m]


@kernel
def _substitute(a: Floats, n: int, n_out: int, y: Floats) -> None:
    """Values of the first ``n_out`` unknowns of an eliminated block from the rest of ``y``."""
    for m in range(y.shape[0]):
        x = y[m]
        for k in range(n_out - 1, -1, -1):
            v = a[k, n + m]
            for j in range(k + 1, n):
                v -= a[k, j] * x[j]
            x[k] = v / a[k, k]


@cache
def _solver(n: int, n_out: int, width: int) -> Callable[..., None]:
    """Compiled solution for blocks of ``n`` unknowns, ``n_out`` of them eliminated in each.

    Sizes are constants of the compiled code and rows are worked on as a whole, which takes half
    the time of the exact triangle. A block lives in the nearest cache; eliminated rows are kept.
    """
    n_line = n - n_out

    @kernel
    def solve(place: Ints, block: Floats, columns: Floats, rhs: Floats, x: Floats) -> None:
        last, n_rhs = columns.shape[0] - 1, rhs.shape[0]
        carry = np.zeros((n_line, n_line + n_rhs))
        a = np.empty((n, width))
        for c in range(last + 1):
            if c < last:
                _load(c, n, n_out, place, block, rhs, a)
            else:
                _close(n, n_line, rhs[:, c * n_out :], a)
            for i in range(n_line):
                for j in range(n_line):
                    a[i, j] += carry[i, j]
                for m in range(n_rhs):
                    a[i, n + m] += carry[i, n_line + m]
            for k in range(0, n_out - 3, 4):
                for p in range(k, k + 4):
                    pivot = 1.0 / a[p, p]
                    for i in range(p + 1, k + 4):
                        factor = a[i, p] * pivot
                        for j in range(width):
                            a[i, j] -= factor * a[p, j]
                p0, p1, p2, p3 = a[k], a[k + 1], a[k + 2], a[k + 3]
                u01, u02, u03 = p0[k + 1], p0[k + 2], p0[k + 3]
                u12, u13, u23 = p1[k + 2], p1[k + 3], p2[k + 3]
                d0, d1, d2, d3 = 1.0 / p0[k], 1.0 / p1[k + 1], 1.0 / p2[k + 2], 1.0 / p3[k + 3]
                for i in range(k + 4, n):
                    r = a[i]
                    f0 = r[k] * d0
                    f1 = (r[k + 1] - f0 * u01) * d1
                    f2 = (r[k + 2] - f0 * u02 - f1 * u12) * d2
                    f3 = (r[k + 3] - f0 * u03 - f1 * u13 - f2 * u23) * d3
                    for j in range(width):
                        r[j] -= f0 * p0[j] + f1 * p1[j] + f2 * p2[j] + f3 * p3[j]
            for k in range(n_out - n_out % 4, n_out):
                pivot = 1.0 / a[k, k]
                for i in range(k + 1, n):
                    factor = a[i, k] * pivot
                    for j in range(width):
                        a[i, j] -= factor * a[k, j]
            _keep(a, n, columns[c], carry)
        for c in range(last, -1, -1):
            _substitute(columns[c], n, n_out, x[:, c * n_out : c * n_out + n])

    return solve


@dataclass(frozen=True)
class ColumnSolver:
    """Block elimination along a strip.

    Attributes
    ----------
    count : number of columns
    n, n_out : unknowns of a column's block, and how many of them are eliminated in it
    place : position of an element's unknowns in its column's block, (layers, 16)
    """

    count: int
    n: int
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
        width = -(-(self.n + len(rhs)) // LANES) * LANES
        if width not in self._storage:
            self._storage[width] = np.zeros((self.count + 1, self.n_out, width))
        size = rhs.shape[1]
        x = np.zeros((len(rhs), size + self.n_out))
        run = _solver(self.n, self.n_out, width)
        run(self.place, block, self._storage[width], rhs, x)
        return x[:, :size] if np.isfinite(x).all() else None


def column_solver(body: Body) -> ColumnSolver:
    """Solver for a body with columns."""
    columns = body.columns
    if columns is None:
        message = "the body has no columns"
        raise ValueError(message)
    n_out = 2 * columns.stride
    return ColumnSolver(
        count=columns.count,
        n=n_out + 2 * columns.line_nodes,
        n_out=n_out,
        place=np.ascontiguousarray(body.unknowns[: columns.layers]),
    )
