"""The same residual and tangent in plain scikit-fem forms: slow, short, and what the kernels obey.

Only the stress of a point is shared with the fast path; kinematics, integration and assembly are
scikit-fem's own.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.sparse import csr_matrix
from skfem import BilinearForm, CellBasis, ElementQuadS2, ElementVector, LinearForm
from skfem.helpers import grad

from formsim.arrays import Floats, Ints
from formsim.solver.body import CELL_ORDER, Body
from formsim.solver.problem import MaterialData
from formsim.solver.stress import respond


def _metric(g: Floats, hoop: Floats, h: Floats, hoop_h: Floats) -> list[Floats]:
    """Bilinear part of (m, p, s, c) for two gradients with their hoop stretches."""
    c11 = g[0, 0] * h[0, 0] + g[1, 0] * h[1, 0]
    c22 = g[0, 1] * h[0, 1] + g[1, 1] * h[1, 1]
    c12 = g[0, 0] * h[0, 1] + g[1, 0] * h[1, 1]
    c21 = h[0, 0] * g[0, 1] + h[1, 0] * g[1, 1]
    return [0.5 * (c11 + c22), 0.5 * (c11 - c22), 0.5 * (c12 + c21), hoop * hoop_h]


@LinearForm
def _internal(v: Any, w: Any) -> Any:
    r = w.x[0]
    change = _metric(w.F, w.ft, grad(v), v[0] / r)
    return 2 * np.pi * r * sum(2 * s * y for s, y in zip(w.S, change, strict=True))


@BilinearForm
def _tangent(u: Any, v: Any, w: Any) -> Any:
    r = w.x[0]
    du, dv = (_metric(w.F, w.ft, grad(x), x[0] / r) for x in (u, v))
    both = _metric(grad(u), u[0] / r, grad(v), v[0] / r)
    total = sum(2 * s * y for s, y in zip(w.S, both, strict=True))
    for i in range(4):
        for j in range(4):
            total = total + 4 * w.D[i, j] * du[j] * dv[i]
    return 2 * np.pi * r * total


def reference_system(
    body: Body, material: MaterialData, u: Floats, old: Floats
) -> tuple[Floats, csr_matrix, Floats]:
    """Internal force, tangent and new plastic state.

    Parameters
    ----------
    u : displacement in the body's own order, (n_unknowns) [mm]
    old : plastic state, (n_el, n_q, 4)

    Returns
    -------
    Force (n_unknowns) [N], tangent (n_unknowns, n_unknowns) [N/mm], plastic state.
    """
    basis = CellBasis(body.mesh, ElementVector(ElementQuadS2()), intorder=CELL_ORDER)
    place = _dof_places(body, basis)
    field = basis.interpolate(u[place])
    x = np.asarray(basis.global_coordinates())
    gradient = np.asarray(grad(field)) + np.eye(2)[:, :, None, None]
    hoop = 1.0 + np.asarray(field)[0] / x[0]
    walk = _element_places(body, basis)
    cos, sin = body.along[walk].T
    turn = np.array([[cos, -sin], [sin, cos]])
    in_sheet = np.einsum("ijeq,jke->ikeq", gradient, turn)
    force, stiff, new = _respond_all(in_sheet, hoop, material, old, walk)
    force, stiff = _turned_back(force, stiff, turn)
    fields = {"F": gradient, "ft": hoop, "S": force, "D": stiff}
    residual, tangent = _internal.assemble(basis, **fields), _tangent.assemble(basis, **fields)
    back = np.argsort(place)
    return residual[back], tangent[back][:, back], new


def _respond_all(
    gradient: Floats, hoop: Floats, material: MaterialData, old: Floats, walk: Ints
) -> tuple[Floats, Floats, Floats]:
    n_el, n_q = hoop.shape
    force, stiff, new = np.zeros((4, n_el, n_q)), np.zeros((4, 4, n_el, n_q)), np.empty_like(old)
    s, d = np.zeros(5), np.zeros((4, 4))
    for e in range(n_el):
        for q in range(n_q):
            f = gradient[:, :, e, q]
            respond(
                f[0, 0],
                f[0, 1],
                f[1, 0],
                f[1, 1],
                hoop[e, q],
                material.constants,
                material.table,
                old[walk[e], q],
                new[walk[e], q],
                s,
                d,
                True,
            )
            force[:, e, q], stiff[:, :, e, q] = s[:4], d
    return force, stiff, new


def _turned_back(force: Floats, stiff: Floats, turn: Floats) -> tuple[Floats, Floats]:
    """Response to (m, p, s, c) along R and Z from that along and across the sheet.

    With ``p`` and ``s`` turned by twice the angle of the sheet, ``y' = T y``, it is ``T^T S`` and
    ``T^T D T``.
    """
    cos, sin = turn[0, 0] ** 2 - turn[1, 0] ** 2, 2 * turn[0, 0] * turn[1, 0]
    twice = np.zeros((4, 4, len(cos)))
    twice[0, 0] = twice[3, 3] = 1.0
    twice[1, 1] = twice[2, 2] = cos
    twice[1, 2], twice[2, 1] = sin, -sin
    return (
        np.einsum("jie,jeq->ieq", twice, force),
        np.einsum("jie,jkeq,kle->ileq", twice, stiff, twice),
    )


def _dof_places(body: Body, basis: CellBasis) -> Ints:
    """Unknown of the body for each degree of freedom of a vector basis."""
    place = np.empty(basis.N, dtype=np.int64)
    scalar = np.concatenate([basis.nodal_dofs.reshape(2, -1), basis.facet_dofs], axis=1)
    for component in range(2):
        place[scalar[component]] = 2 * body.order + component
    return place


def _element_places(body: Body, basis: CellBasis) -> Ints:
    """Position in the body of each element of the mesh."""
    corners = body.order[basis.mesh.t].T
    known = {tuple(sorted(row)): k for k, row in enumerate(body.elements[:, :4].tolist())}
    return np.array([known[tuple(sorted(row))] for row in corners.tolist()])
