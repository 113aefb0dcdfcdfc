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
def _eliminator(n: int, n_out: int, width: int) -> Callable[..., None]:
    """Compiled elimination for blocks of ``n`` unknowns, ``n_out`` of them eliminated in each.

    Sizes are constants of the compiled code and rows are worked on as a whole, which takes half
    the time of the exact triangle. A block lives in the nearest cache; eliminated rows are kept.
    What is carried on from column to column comes in and goes out as ``carry``.
    """
    n_line = n - n_out

    @kernel
    def eliminate(place: Ints, block: Floats, rhs: Floats, columns: Floats, carry: Floats) -> None:
        n_rhs = rhs.shape[0]
        a = np.empty((n, width))
        for c in range(columns.shape[0]):
            _load(c, n, n_out, place, block, rhs, a)
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

    return eliminate


@kernel
def _substitute_all(columns: Floats, n: int, n_out: int, x: Floats) -> None:
    """Solution from the values of the last line, which stand at the end of ``x``."""
    for c in range(columns.shape[0] - 1, -1, -1):
        _substitute(columns[c], n, n_out, x[:, c * n_out : c * n_out + n])


@dataclass(frozen=True)
class Eliminated:
    """A strip of which nothing is left but the equations of its last node line.

    Attributes
    ----------
    columns : eliminated rows of each column
    n, n_out : see ``ColumnSolver``
    stiffness, force : equations of the line, (n_line, n_line) and (n_rhs, n_line)
    """

    columns: Floats
    n: int
    n_out: int
    stiffness: Floats
    force: Floats

    def expand(self, line: Floats) -> Floats:
        """All unknowns from those of the last line, (n_rhs, n_line) to (n_rhs, n_unknowns)."""
        eliminated = len(self.columns) * self.n_out
        x = np.empty((len(line), eliminated + line.shape[1]))
        x[:, eliminated:] = line
        _substitute_all(self.columns, self.n, self.n_out, x)
        return x


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

    def order(self, first: int, *, mirrored: bool = False) -> Ints:
        """Unknowns of columns whose first is ``first``, in the order of their elimination."""
        n_line = self.n - self.n_out
        if not mirrored:
            return first + np.arange(self.count * self.n_out + n_line)
        column = np.concatenate([self.n_out + np.arange(n_line), np.arange(n_line, self.n_out)])
        starts = first + self.n_out * np.arange(self.count)[::-1, None]
        return np.append((starts + column).ravel(), first + np.arange(n_line))

    def eliminate(self, block: Floats, rhs: Floats, before: Floats | None = None) -> Eliminated:
        """Eliminate all columns; the rows kept are overwritten by the next elimination.

        Parameters
        ----------
        block : element matrices with supports built in, (n_el, 16, 16) [N/mm]
        rhs : right-hand sides, (n_rhs, n_unknowns)
        before : stiffness of what the first line hangs on, (n_line, n_line) [N/mm]
        """
        n_line, n_rhs = self.n - self.n_out, len(rhs)
        width = -(-(self.n + n_rhs) // LANES) * LANES
        if width not in self._storage:
            self._storage[width] = np.zeros((self.count, self.n_out, width))
        carry = np.zeros((n_line, n_line + n_rhs))
        if before is not None:
            carry[:, :n_line] = before
        columns = self._storage[width]
        _eliminator(self.n, self.n_out, width)(self.place, block, rhs, columns, carry)
        force = carry[:, n_line:].T + rhs[:, self.count * self.n_out :]
        return Eliminated(columns, self.n, self.n_out, carry[:, :n_line], force)

    def solve(
        self,
        block: Floats,
        rhs: Floats,
        before: Floats | None = None,
        behind: Floats | None = None,
    ) -> Floats | None:
        """Solution of the assembled system, or None when it is singular.

        Parameters
        ----------
        block, rhs, before : see ``eliminate``
        behind : stiffness of what the last line hangs on, (n_line, n_line) [N/mm]
        """
        strip = self.eliminate(block, rhs, before)
        stiffness = strip.stiffness if behind is None else strip.stiffness + behind
        try:
            line = np.asarray(np.linalg.solve(stiffness, strip.force.T).T, dtype=float)
        except np.linalg.LinAlgError:
            return None
        x = strip.expand(line)
        return x if np.isfinite(x).all() else None


def column_solver(body: Body, count: int | None = None, *, mirrored: bool = False) -> ColumnSolver:
    """Solver for a body with columns, or for ``count`` of them.

    Parameters
    ----------
    mirrored : for columns that are eliminated from the rim towards the centre
    """
    columns = body.columns
    if columns is None:
        message = "the body has no columns"
        raise ValueError(message)
    n_out = 2 * columns.stride
    n_line = 2 * columns.line_nodes
    place = np.ascontiguousarray(body.unknowns[: columns.layers])
    if mirrored:
        first, last = place < n_line, place >= n_out
        place = np.where(first, place + n_out, np.where(last, place - n_out, place))
    n = columns.count if count is None else count
    return ColumnSolver(count=n, n=n_out + n_line, n_out=n_out, place=place)
