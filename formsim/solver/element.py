"""Internal forces and tangents of the elements, compiled; one dense 16 x 16 block each.

Points of several elements are worked out side by side (``stress.py``, ``moduli.py``). With
gradients ``G`` that take nodal displacements to the deformation gradient the force is ``G^T P`` and
the tangent ``G^T A G``, summed over the points; ``P = dW/dF`` and ``A = dP/dF`` times the volume.
"""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.kernels import inlined, kernel
from formsim.solver import lanes as at
from formsim.solver.moduli import moduli, pulls
from formsim.solver.stress import respond_all

REST = 0.98
"""Share of the yield stress below which an element is well within its elastic range."""

POINTS = 4
BATCH = at.LANES // POINTS
"""Elements that are worked out side by side."""

G_STEP, AG_STEP = 3 * 8, 5 * 16
"""Numbers of a point in ``G`` (along, across and hoop for radial unknowns; the first two serve the
axial ones as well) and in ``A G`` (five rows of all unknowns)."""

AG = POINTS * G_STEP
"""Where ``A G`` begins behind ``G`` in the work array of an element."""


@kernel
def _copy(one: Floats, to: Floats) -> None:
    """Copy a table row by row: assigned as a whole it goes number by number, (n, m).

    An assignment of arrays also takes seconds to compile, for the text of an error that never is.
    """
    for i in range(one.shape[0]):
        for j in range(one.shape[1]):
            to[i, j] = one[i, j]


@kernel
def _rest(
    e: int,
    u: Floats,
    unknowns: Ints,
    seen: Floats,
    force: Floats,
    k: Floats,
    reach: float,
    f: Floats,
    d: Floats,
) -> tuple[bool, float]:
    """Whether an element still rests; its force from its tangent, and the energy added since."""
    lift = u[unknowns[e, 8]] - seen[e, 8]
    most = 0.0
    for a in range(8):
        d[a] = u[unknowns[e, a]] - seen[e, a]
        d[8 + a] = u[unknowns[e, 8 + a]] - seen[e, 8 + a] - lift
        most = max(most, abs(d[a]), abs(d[8 + a]))
    if not most < reach:
        return False, 0.0
    for i in range(16):
        f[i] = force[e, i]
    # The tangent is symmetric: rows are added up, four at a time, and nothing waits for a sum.
    for i in range(0, 16, 4):
        k0, k1, k2, k3 = k[i], k[i + 1], k[i + 2], k[i + 3]
        for j in range(16):
            f[j] += k0[j] * d[i] + k1[j] * d[i + 1] + k2[j] * d[i + 2] + k3[j] * d[i + 3]
    added = 0.0
    for i in range(16):
        added += 0.5 * (force[e, i] + f[i]) * d[i]
    return True, added


@kernel
def _deform(
    e: int,
    lane: int,
    u: Floats,
    unknowns: Ints,
    shape: Floats,
    along: Floats,
    gradient: Floats,
    radius: Floats,
    volume: Floats,
    old: Floats,
    w: Floats,
    v: Floats,
) -> None:
    """Deformation gradients, volumes and plastic state of an element's points."""
    cos = along[e, 0]
    sin = along[e, 1]
    for i in range(16):
        v[i] = u[unknowns[e, i]]
    for q in range(POINTS):
        nr = gradient[e, q, 0]
        nz = gradient[e, q, 1]
        f11 = 0.0
        f12 = 0.0
        f21 = 0.0
        f22 = 0.0
        ft = 0.0
        for a in range(8):
            ur = v[a]
            uz = v[8 + a]
            f11 += nr[a] * ur
            f12 += nz[a] * ur
            f21 += nr[a] * uz
            f22 += nz[a] * uz
            ft += shape[q, a] * ur
        k = lane + q
        w[at.F11 + k] = f11 + cos
        w[at.F12 + k] = f12 - sin
        w[at.F21 + k] = f21 + sin
        w[at.F22 + k] = f22 + cos
        w[at.FT + k] = 1.0 + ft / radius[e, q]
        w[at.VOLUME + k] = volume[e, q]
        w[at.OLD1 + k], w[at.OLD2 + k], w[at.OLD3 + k], w[at.EP + k] = (
            old[e, q, 0],
            old[e, q, 1],
            old[e, q, 2],
            old[e, q, 3],
        )


@kernel
def _pace(lane: int, pace: Floats, w: Floats) -> None:
    """Temperature factors and time of an element's increment."""
    for q in range(POINTS):
        w[at.WARM + lane + q] = pace[q]
        w[at.PER_TIME + lane + q] = pace[POINTS]


@kernel
def _fill_up(w: Floats, count: int) -> int:
    """Repeat the last element up to a whole number of registers, which is returned."""
    n = (count + at.VECTOR - 1) // at.VECTOR
    for q in range(count, at.VECTOR * n):
        for row in range(at.F11, at.EP + at.LANES, at.LANES):
            w[row + q] = w[row + q - POINTS]
        for row in range(at.WARM, at.PER_TIME + at.LANES, at.LANES):
            w[row + q] = w[row + q - POINTS]
    return n


@kernel
def _take(lane: int, w: Floats, new: Floats) -> tuple[bool, float, float]:
    """Plastic state of an element; whether it has a stress, its energy and its highest load."""
    energy = 0.0
    load = 0.0
    for q in range(POINTS):
        k = lane + q
        if w[at.STORED + k] < 0.0:
            return False, energy, load
        energy += w[at.VOLUME + k] * w[at.STORED + k]
        load = max(load, w[at.LOAD + k])
        for i in range(4):
            new[q, i] = w[at.NEW1 + i * at.LANES + k]
    return True, energy, load


@kernel
def _forces(
    e: int,
    lane: int,
    shape: Floats,
    gradient: Floats,
    radius: Floats,
    w: Floats,
    v: Floats,
    f: Floats,
) -> None:
    """Nodal forces of an element; its gradients stay in ``v``."""
    for i in range(16):
        f[i] = 0.0
    for q in range(POINTS):
        k = lane + q
        g = G_STEP * q
        ir = 1 / radius[e, q]
        for a in range(8):
            x = gradient[e, q, 0, a]
            y = gradient[e, q, 1, a]
            t = shape[q, a] * ir
            v[g + a] = x
            v[g + 8 + a] = y
            v[g + 16 + a] = t
            f[a] += w[at.P11 + k] * x + w[at.P12 + k] * y + w[at.PT + k] * t
            f[8 + a] += w[at.P21 + k] * x + w[at.P22 + k] * y


@inlined
def _over_points(v: Floats, left: int, right: int) -> float:
    """Sum of products over the points, written out: a loop in a loop is no vector code."""
    total: float = (
        v[left] * v[right]
        + v[left + G_STEP] * v[right + AG_STEP]
        + v[left + 2 * G_STEP] * v[right + 2 * AG_STEP]
        + v[left + 3 * G_STEP] * v[right + 3 * AG_STEP]
    )
    return total


@kernel
def _tangent(lane: int, w: Floats, v: Floats, ke: Floats) -> None:
    """Tangent of an element, ``G^T A G`` summed over its points."""
    for q in range(POINTS):
        k = lane + q
        g = G_STEP * q
        h = AG + AG_STEP * q
        r11, r12, r1t = w[at.A11_11 + k], w[at.A11_12 + k], w[at.A11_T + k]
        r22, r2t, rtt = w[at.A12_12 + k], w[at.A12_T + k], w[at.AT_T + k]
        x11, x12, x21, x22 = w[at.A11_21 + k], w[at.A11_22 + k], w[at.A12_21 + k], w[at.A12_22 + k]
        xt1, xt2 = w[at.A21_T + k], w[at.A22_T + k]
        z11, z12, z22 = w[at.A21_21 + k], w[at.A21_22 + k], w[at.A22_22 + k]
        for a in range(8):
            x = v[g + a]
            y = v[g + 8 + a]
            t = v[g + 16 + a]
            v[h + a] = r11 * x + r12 * y + r1t * t
            v[h + 8 + a] = x11 * x + x12 * y
            v[h + 16 + a] = r12 * x + r22 * y + r2t * t
            v[h + 24 + a] = x21 * x + x22 * y
            v[h + 32 + a] = r1t * x + r2t * y + rtt * t
            v[h + 40 + a] = xt1 * x + xt2 * y
            v[h + 48 + a] = x11 * x + x21 * y + xt1 * t
            v[h + 56 + a] = z11 * x + z12 * y
            v[h + 64 + a] = x12 * x + x22 * y + xt2 * t
            v[h + 72 + a] = z12 * x + z22 * y
    # Rows of 16: shorter loops get no checks of overlaps, and are no vector code either.
    for i in range(8):
        row = ke[i]
        for j in range(16):
            row[j] = (
                _over_points(v, i, AG + j)
                + _over_points(v, 8 + i, AG + 16 + j)
                + _over_points(v, 16 + i, AG + 32 + j)
            )
    for i in range(8):
        row = ke[8 + i]
        for j in range(16):
            row[j] = _over_points(v, i, AG + 48 + j) + _over_points(v, 8 + i, AG + 64 + j)


@kernel
def element_forces(
    first: int,
    last: int,
    u: Floats,
    unknowns: Ints,
    shape: Floats,
    along: Floats,
    gradient: Floats,
    radius: Floats,
    volume: Floats,
    material: Floats,
    table: Floats,
    old: Floats,
    new: Floats,
    stiffness: Floats,
    force: Floats,
    want: bool,
    seen: Floats,
    seen_force: Floats,
    seen_stiffness: Floats,
    seen_energy: Floats,
    restful: Ints,
    times: Ints,
    copied: Ints,
    reach: float,
    pace: Floats,
) -> tuple[int, float]:
    """Internal forces of elements ``first .. last - 1``, and their tangents when ``want``.

    An element that was elastic, well below yield, when it was last worked out and has hardly
    strained since is not worked out again: its force follows from its tangent then. The error is
    of second order in the strain since. Rigid travel along the axis does not count.

    The deformation gradient is taken along and across the sheet, ``F Q`` with the turn ``Q``, so
    that the second axis is the normal. Elements are worked out in batches.

    Parameters
    ----------
    u : displacement, (n_unknowns) [mm]
    unknowns, shape, along, gradient, radius, volume : see ``Body``
    material, table : see ``respond``
    old, new : plastic state before and after, (n_el, n_q, 4) [-]; ``new`` is set
    stiffness, force : (n_el, 16, 16) [N/mm] and (n_el, 16) [N]; set
    seen, seen_force, seen_stiffness, seen_energy : displacement of each element when it was last
        worked out, and what came of it
    restful : 1 where that may be used again, (n_el)
    times : how often ``seen_stiffness`` was set, (n_el)
    copied : ``times`` when it was copied to ``stiffness``, -1 where that was altered since, (n_el)
    reach : largest displacement since, relative to the element's first node [mm]; 0 for never
    pace : what temperature and rate do, (n_el, 5), or no rows, see ``tempo.py``

    Returns
    -------
    First element that is inverted or has no stress (-1 when all are well); elastic energy [N mm].
    """
    d = np.empty(16)
    todo = np.empty(last - first, np.int64)
    count = 0
    energy = 0.0
    for e in range(first, last):
        if restful[e] == 1:
            k = seen_stiffness[e]
            rests, added = _rest(e, u, unknowns, seen, seen_force, k, reach, force[e], d)
            if rests:
                energy += seen_energy[e] + added
                _copy(old[e], new[e])
                if want and copied[e] != times[e]:
                    _copy(k, stiffness[e])
                    copied[e] = times[e]
                continue
        todo[count] = e
        count += 1
    paced = pace.shape[0] > 0
    w = np.empty(at.SIZE)
    v = np.empty(AG + POINTS * AG_STEP)
    for begin in range(0, count, BATCH):
        batch = todo[begin : min(begin + BATCH, count)]
        for lane in range(0, POINTS * len(batch), POINTS):
            e = batch[lane // POINTS]
            _deform(e, lane, u, unknowns, shape, along, gradient, radius, volume, old, w, v)
            if paced:
                _pace(lane, pace[e], w)
        n = _fill_up(w, POINTS * len(batch))
        respond_all(w, n, material, table, want, paced)
        pulls(w, n)
        if want:
            moduli(w, n)
        for lane in range(0, POINTS * len(batch), POINTS):
            e = batch[lane // POINTS]
            sound, stored, load = _take(lane, w, new[e])
            if not sound:
                return e, energy
            energy += stored
            _forces(e, lane, shape, gradient, radius, w, v, force[e])
            if want:
                _tangent(lane, w, v, stiffness[e])
                copied[e] = -1
            restful[e] = 1 if want and load < REST else 0
            if restful[e] == 1:
                for i in range(16):
                    seen[e, i] = u[unknowns[e, i]]
                    seen_force[e, i] = force[e, i]
                _copy(stiffness[e], seen_stiffness[e])
                seen_energy[e] = stored
                times[e] += 1
                copied[e] = times[e]
    return -1, energy
