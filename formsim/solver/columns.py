"""Linear solver for strips: one dense block per element column, eliminated from one end.

No pivoting: the blocks of a strip that some tool or support holds are dominated by their diagonal
part. Each block couples a node line, the mid-side nodes behind it and the next node line. The first
two are eliminated from all equations of the block (Gauss and Jordan), so that what is kept gives
them straight from the next line; the rest is carried on.

Blocks are stored by unknowns, ``a[row * unknown + equation]``, right-hand sides behind the last
unknown: the same operation goes along all equations, and distances are known when compiling.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.kernels import inlined, kernel
from formsim.solver.body import Body

LANES = 4
"""Rows are padded to a multiple of this, so that the inner loops fill the vector registers."""

PIVOTS = 4
"""Unknowns that are eliminated at a time, for fewer loads and stores."""


def _row(n: int) -> int:
    """Length of a row of ``n`` equations."""
    return -(-n // LANES) * LANES


@inlined
def _factor(a: Floats, row: int, k: int, v: int) -> None:
    """Triangular factors of the four pivots from ``k`` on, put into ``a[v:]``; inverse diagonal."""
    p0 = row * k + k
    p1, p2, p3 = p0 + row, p0 + 2 * row, p0 + 3 * row
    u01, u02, u03 = a[p1], a[p2], a[p3]
    d0 = 1.0 / a[p0]
    l1, l2, l3 = a[p0 + 1] * d0, a[p0 + 2] * d0, a[p0 + 3] * d0
    d1 = 1.0 / (a[p1 + 1] - l1 * u01)
    u12, u13 = a[p2 + 1] - l1 * u02, a[p3 + 1] - l1 * u03
    m2, m3 = (a[p1 + 2] - l2 * u01) * d1, (a[p1 + 3] - l3 * u01) * d1
    d2 = 1.0 / (a[p2 + 2] - l2 * u02 - m2 * u12)
    u23 = a[p3 + 2] - l2 * u03 - m2 * u13
    n3 = (a[p2 + 3] - l3 * u02 - m3 * u12) * d2
    d3 = 1.0 / (a[p3 + 3] - l3 * u03 - m3 * u13 - n3 * u23)
    a[v], a[v + 1], a[v + 2], a[v + 3] = d0, u01, u02, u03
    a[v + 4], a[v + 5], a[v + 6], a[v + 7] = l1, d1, u12, u13
    a[v + 8], a[v + 9], a[v + 10], a[v + 11] = l2, m2, d2, u23
    a[v + 12], a[v + 13], a[v + 14], a[v + 15] = l3, m3, n3, d3


@inlined
def _share(a: Floats, r: int, v: int, t: int) -> None:
    """How much of each pivot equation to take out of an unknown's coefficients, into ``a[t:]``."""
    x0 = a[r]
    x1 = a[r + 1] - a[v + 4] * x0
    x2 = a[r + 2] - a[v + 8] * x0 - a[v + 9] * x1
    x3 = a[r + 3] - a[v + 12] * x0 - a[v + 13] * x1 - a[v + 14] * x2
    f3 = x3 * a[v + 15]
    f2 = (x2 - a[v + 11] * f3) * a[v + 10]
    f1 = (x1 - a[v + 6] * f2 - a[v + 7] * f3) * a[v + 5]
    f0 = (x0 - a[v + 1] * f1 - a[v + 2] * f2 - a[v + 3] * f3) * a[v]
    a[t], a[t + 1], a[t + 2], a[t + 3] = f0, f1, f2, f3


@inlined
def _all_zero(f0: float, f1: float, f2: float, f3: float) -> bool:
    """Whether nothing is to be taken out."""
    return abs(f0) + abs(f1) + abs(f2) + abs(f3) == 0.0


@kernel
def _places(place: Ints, row: int) -> Ints:
    """Where each number of an element's matrix goes in the block of its column, (layers, 256)."""
    where = np.empty((place.shape[0], 256), np.int64)
    for layer in range(place.shape[0]):
        for i in range(256):
            where[layer, i] = row * place[layer, i % 16] + place[layer, i // 16]
    return where


@kernel
def _load(c: int, where: Ints, block: Floats, a: Floats) -> None:
    """Block of column ``c``; nothing is there yet where its first element goes."""
    layers = where.shape[0]
    for i in range(len(a)):
        a[i] = 0.0
    element, to = block[c * layers].reshape(256), where[0]
    for i in range(256):
        a[to[i]] = element[i]
    for layer in range(1, layers):
        element, to = block[c * layers + layer].reshape(256), where[layer]
        for i in range(256):
            a[to[i]] += element[i]


@kernel
def _carry_on(before: Floats, n: int, n_out: int, n_rhs: int, row: int, a: Floats) -> None:
    """Add what is left of the block before to the node line it shares with this one."""
    n_line = n - n_out
    for j in range(n_line):
        for i in range(n_line):
            a[row * j + i] += before[row * j + n_out + i]
    for m in range(n_rhs):
        for i in range(n_line):
            a[row * (n + m) + i] += before[row * (n_line + m) + n_out + i]


@kernel
def _eliminate_pair(a: Floats, row: int, rows: int, k: int) -> int:
    """Take two pivots out of all other equations; how many of them are negative."""
    p = row * k
    d0, u01 = 1.0 / a[p + k], a[p + row + k]
    l1 = a[p + k + 1] * d0
    d1 = 1.0 / (a[p + row + k + 1] - l1 * u01)
    for j in range(k + 2, rows):
        r = row * j
        f1 = (a[r + k + 1] - l1 * a[r + k]) * d1
        f0 = (a[r + k] - u01 * f1) * d0
        for i in range(row):
            a[r + i] -= f0 * a[p + i] + f1 * a[p + row + i]
        a[r + k], a[r + k + 1] = f0, f1
    return int(d0 < 0.0) + int(d1 < 0.0)


@cache
def _elimination(n: int, n_out: int, n_rhs: int) -> Callable[..., int]:
    """Compiled elimination of ``n_out`` of ``n`` unknowns of each block; sizes are constants.

    A block lives in the nearest cache. What gives the eliminated unknowns is kept, and with it what
    is carried on; ``first`` is what comes to the first block. Returns how many pivots are negative.
    """
    row = _row(n)
    rows = n + n_rhs + n_rhs % 2
    used = rows * row
    shares = used + PIVOTS * PIVOTS

    @kernel
    def eliminate(place: Ints, block: Floats, rhs: Floats, first: Floats, kept: Floats) -> int:
        where, negative = _places(place, row), 0
        a = np.zeros(shares + PIVOTS * rows)
        for c in range(len(kept)):
            _load(c, where, block, a)
            for m in range(n_rhs):
                for i in range(n_out):
                    a[row * (n + m) + i] = rhs[m, c * n_out + i]
            _carry_on(kept[c - 1] if c > 0 else first, n, n_out, n_rhs, row, a)
            for k in range(0, n_out - PIVOTS + 1, PIVOTS):
                _factor(a, row, k, used)
                for d in range(used, used + PIVOTS * PIVOTS, PIVOTS + 1):
                    negative += int(a[d] < 0.0)
                p = row * k
                for j in range(k + PIVOTS, rows):
                    _share(a, row * j + k, used, shares + PIVOTS * j)
                for j in range(k + PIVOTS, rows, 2):
                    r, s, t = row * j, row * j + row, shares + PIVOTS * j
                    f0, f1, f2, f3 = a[t], a[t + 1], a[t + 2], a[t + 3]
                    g0, g1, g2, g3 = a[t + 4], a[t + 5], a[t + 6], a[t + 7]
                    # Elements share no equation with mid-sides of layers that are not their own.
                    if _all_zero(f0, f1, f2, f3) and _all_zero(g0, g1, g2, g3):
                        continue
                    for i in range(row):
                        p0, p1, p2 = a[p + i], a[p + row + i], a[p + 2 * row + i]
                        p3 = a[p + 3 * row + i]
                        a[r + i] -= f0 * p0 + f1 * p1 + f2 * p2 + f3 * p3
                        a[r + row + i] -= g0 * p0 + g1 * p1 + g2 * p2 + g3 * p3
                    a[r + k], a[r + k + 1], a[r + k + 2], a[r + k + 3] = f0, f1, f2, f3
                    a[s + k], a[s + k + 1], a[s + k + 2], a[s + k + 3] = g0, g1, g2, g3
            if n_out % PIVOTS:
                negative += _eliminate_pair(a, row, rows, n_out - 2)
            now = kept[c]
            for i in range(len(now)):
                now[i] = a[row * n_out + i]
        return negative

    return eliminate


@cache
def _substitution(n: int, n_out: int, n_rhs: int) -> Callable[..., bool]:
    """Compiled way back: the unknowns of each block from those of the next node line.

    What it returns says whether all of them are finite.
    """
    n_line = n - n_out
    row = _row(n)

    @kernel
    def substitute(kept: Floats, line: Floats, x: Floats) -> bool:
        checked = 0.0
        for m in range(n_rhs):
            for i in range(n_line):
                x[m, len(kept) * n_out + i] = line[m, i]
                checked += 0.0 * line[m, i]
        for c in range(len(kept) - 1, -1, -1):
            now, begin = kept[c], c * n_out
            for m in range(n_rhs):
                y = x[m]
                for i in range(n_out):
                    value = now[row * (n_line + m) + i]
                    for j in range(n_line):
                        value -= now[row * j + i] * y[begin + n_out + j]
                    y[begin + i] = value
                    checked += 0.0 * value
        return checked == 0.0

    return substitute


@kernel
def _close(a: Floats, b: Floats) -> bool:
    """Solve for the last node line, row pivots; ``b`` is set; false when it is singular.

    Parameters
    ----------
    a : (n, n), overwritten
    b : right-hand sides, (n_rhs, n)
    """
    n = a.shape[0]
    for k in range(n):
        p = k
        for i in range(k + 1, n):
            if abs(a[i, k]) > abs(a[p, k]):
                p = i
        if a[p, k] == 0.0:
            return False
        for j in range(k, n):
            a[k, j], a[p, j] = a[p, j], a[k, j]
        for m in range(b.shape[0]):
            b[m, k], b[m, p] = b[m, p], b[m, k]
        for i in range(k + 1, n):
            factor = a[i, k] / a[k, k]
            for j in range(k + 1, n):
                a[i, j] -= factor * a[k, j]
            for m in range(b.shape[0]):
                b[m, i] -= factor * b[m, k]
    for k in range(n - 1, -1, -1):
        for m in range(b.shape[0]):
            value = b[m, k]
            for j in range(k + 1, n):
                value -= a[k, j] * b[m, j]
            b[m, k] = value / a[k, k]
    return True


class Eliminated(NamedTuple):
    """A strip of which nothing is left but the equations of its last node line.

    Attributes
    ----------
    kept : what gives the unknowns of each column, see ``_elimination``
    n, n_out : see ``ColumnSolver``
    stiffness, force : equations of the line, (n_line, n_line) and (n_rhs, n_line)
    negative : negative pivots met on the way
    """

    kept: Floats
    n: int
    n_out: int
    stiffness: Floats
    force: Floats
    negative: int = 0

    def expand(self, line: Floats) -> Floats:
        """All unknowns from those of the last line, (n_rhs, n_line) to (n_rhs, n_unknowns)."""
        return self.way_back(line)[0]

    def way_back(self, line: Floats) -> tuple[Floats, bool]:
        """The same, and whether all of them are finite."""
        x = np.empty((len(line), len(self.kept) * self.n_out + line.shape[1]))
        return x, _substitution(self.n, self.n_out, len(line))(self.kept, line, x)


class _Storage(NamedTuple):
    """What eliminations with the same number of right-hand sides share.

    Attributes
    ----------
    run : see ``_elimination``, with what it reads first and keeps
    hung : view of what the first line hangs on, (n_line, n_line)
    stiffness, force : views of what is left at the last line
    """

    run: Callable[..., int]
    first: Floats
    kept: Floats
    hung: Floats
    stiffness: Floats
    force: Floats


def _storage(count: int, n: int, n_out: int, n_rhs: int) -> _Storage:
    n_line, row = n - n_out, _row(n)
    size = (n_line + n_rhs) * row
    first, kept = np.zeros(size), np.empty((count, size))
    hung = first.reshape(-1, row)[:n_line, n_out:n].T
    left = kept[-1].reshape(-1, row)[:, n_out:n]
    run = _elimination(n, n_out, n_rhs)
    return _Storage(run, first, kept, hung, left[:n_line].T, left[n_line:])


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
    _storage: dict[int, _Storage] = field(default_factory=dict, repr=False)

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
        n_rhs = len(rhs)
        storage = self._storage.get(n_rhs)
        if storage is None:
            storage = self._storage[n_rhs] = _storage(self.count, self.n, self.n_out, n_rhs)
        storage.hung[:] = 0.0 if before is None else before
        negative = storage.run(self.place, block, rhs, storage.first, storage.kept)
        force = storage.force + rhs[:, self.count * self.n_out :]
        kept, stiffness = storage.kept, storage.stiffness
        return Eliminated(kept, self.n, self.n_out, stiffness, force, negative)

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
        stiffness = strip.stiffness.copy() if behind is None else strip.stiffness + behind
        if not _close(stiffness, strip.force):
            return None
        x, finite = strip.way_back(strip.force)
        return x if finite else None


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
