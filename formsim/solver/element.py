"""Internal forces and tangents of the elements, compiled; one dense 16 x 16 block each."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel
from formsim.solver.stress import respond

REST = 0.98
"""Share of the yield stress below which an element is well within its elastic range."""


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
    reach: float,
) -> tuple[int, float]:
    """Internal forces of elements ``first .. last - 1``, and their tangents when ``want``.

    An element that was elastic, well below yield, when it was last worked out and has hardly
    strained since is not worked out again: its force follows from its tangent then. The error is
    of second order in the strain since. Rigid travel along the axis does not count.

    With rows ``B = dy/du`` of the metric variables ``y`` the force is ``B^T S`` and the tangent
    ``B^T D B`` plus two geometric scalars per node pair. The deformation gradient is taken along
    and across the sheet, ``F Q`` with the turn ``Q``, so that the second axis is the normal.

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
    reach : largest displacement since, relative to the element's first node [mm]; 0 for never

    Returns
    -------
    First element that is inverted or has no stress (-1 when all are well); elastic energy [N mm].
    """
    n_q = shape.shape[0]
    s = np.zeros(5)
    du = np.zeros(16)
    d = np.zeros((4, 4))
    b = np.zeros((4 * n_q, 16))
    db = np.zeros((4 * n_q, 16))
    ga = np.zeros((2 * n_q, 8))
    gb = np.zeros((2 * n_q, 8))
    k_geo = np.zeros((8, 8))
    ur = np.zeros(8)
    uz = np.zeros(8)
    energy = 0.0
    for e in range(first, last):
        for a in range(8):
            ur[a] = u[unknowns[e, a]]
            uz[a] = u[unknowns[e, 8 + a]]
        f = force[e]
        if restful[e] == 1:
            lift = uz[0] - seen[e, 8]
            most = 0.0
            for a in range(8):
                du[a] = ur[a] - seen[e, a]
                du[8 + a] = uz[a] - seen[e, 8 + a] - lift
                most = max(most, abs(du[a]), abs(du[8 + a]))
            if most < reach:
                k = seen_stiffness[e]
                added = 0.0
                for i in range(16):
                    f[i] = seen_force[e, i]
                    for j in range(16):
                        f[i] += k[i, j] * du[j]
                    added += 0.5 * (seen_force[e, i] + f[i]) * du[i]
                energy += seen_energy[e] + added
                new[e] = old[e]
                if want:
                    stiffness[e] = k
                continue
        highest = 0.0
        before = energy
        for i in range(16):
            f[i] = 0.0
        cos = along[e, 0]
        sin = along[e, 1]
        for q in range(n_q):
            nr = gradient[e, q, 0]
            nz = gradient[e, q, 1]
            f11 = cos
            f12 = -sin
            f21 = sin
            f22 = cos
            ft = 0.0
            for a in range(8):
                f11 += nr[a] * ur[a]
                f12 += nz[a] * ur[a]
                f21 += nr[a] * uz[a]
                f22 += nz[a] * uz[a]
                ft += shape[q, a] * ur[a]
            ir = 1.0 / radius[e, q]
            ft = 1.0 + ft * ir
            stored = respond(
                f11, f12, f21, f22, ft, material, table, old[e, q], new[e, q], s, d, want
            )
            if stored < 0.0:
                return e, energy
            highest = max(highest, s[4])
            w = volume[e, q]
            energy += w * stored
            hoop = 2 * ft * ir
            j = 4 * q
            for a in range(8):
                x = nr[a]
                y = nz[a]
                b[j, a] = f11 * x + f12 * y
                b[j + 1, a] = f11 * x - f12 * y
                b[j + 2, a] = f12 * x + f11 * y
                b[j + 3, a] = hoop * shape[q, a]
                b[j, 8 + a] = f21 * x + f22 * y
                b[j + 1, 8 + a] = f21 * x - f22 * y
                b[j + 2, 8 + a] = f22 * x + f21 * y
            s0 = w * s[0]
            s1 = w * s[1]
            s2 = w * s[2]
            s3 = w * s[3]
            for i in range(8):
                f[i] += s0 * b[j, i] + s1 * b[j + 1, i] + s2 * b[j + 2, i] + s3 * b[j + 3, i]
            for i in range(8, 16):
                f[i] += s0 * b[j, i] + s1 * b[j + 1, i] + s2 * b[j + 2, i]
            if want:
                d00 = w * d[0, 0]
                d01 = w * d[0, 1]
                d02 = w * d[0, 2]
                d03 = w * d[0, 3]
                d11 = w * d[1, 1]
                d12 = w * d[1, 2]
                d13 = w * d[1, 3]
                d22 = w * d[2, 2]
                d23 = w * d[2, 3]
                d33 = w * (d[3, 3] + 0.5 * s[3] / (ft * ft))
                for i in range(8):
                    b0 = b[j, i]
                    b1 = b[j + 1, i]
                    b2 = b[j + 2, i]
                    b3 = b[j + 3, i]
                    db[j, i] = d00 * b0 + d01 * b1 + d02 * b2 + d03 * b3
                    db[j + 1, i] = d01 * b0 + d11 * b1 + d12 * b2 + d13 * b3
                    db[j + 2, i] = d02 * b0 + d12 * b1 + d22 * b2 + d23 * b3
                    db[j + 3, i] = d03 * b0 + d13 * b1 + d23 * b2 + d33 * b3
                for i in range(8, 16):
                    b0 = b[j, i]
                    b1 = b[j + 1, i]
                    b2 = b[j + 2, i]
                    db[j, i] = d00 * b0 + d01 * b1 + d02 * b2
                    db[j + 1, i] = d01 * b0 + d11 * b1 + d12 * b2
                    db[j + 2, i] = d02 * b0 + d12 * b1 + d22 * b2
                    db[j + 3, i] = d03 * b0 + d13 * b1 + d23 * b2
                for a in range(8):
                    ga[2 * q, a] = (s0 + s1) * nr[a] + s2 * nz[a]
                    ga[2 * q + 1, a] = (s0 - s1) * nz[a] + s2 * nr[a]
                    gb[2 * q, a] = nr[a]
                    gb[2 * q + 1, a] = nz[a]
        if want:
            ke = stiffness[e]
            np.dot(db.T, b, ke)
            np.dot(ga.T, gb, k_geo)
            for i in range(8):
                for j in range(8):
                    ke[i, j] += k_geo[i, j]
                    ke[8 + i, 8 + j] += k_geo[i, j]
        restful[e] = 1 if want and highest < REST else 0
        if restful[e] == 1:
            for a in range(8):
                seen[e, a] = ur[a]
                seen[e, 8 + a] = uz[a]
            seen_force[e] = f
            seen_stiffness[e] = stiffness[e]
            seen_energy[e] = energy - before
    return -1, energy
