"""Fluid pressure that follows a face: forces, exact tangent, enclosed volume."""

from __future__ import annotations

import math

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel

_G = math.sqrt(0.6)


@kernel
def pressure_forces(
    u: Floats,
    nodes: Floats,
    face_element: Ints,
    face_local: Ints,
    face_nodes: Ints,
    pressure: float,
    block: Floats,
    force: Floats,
    column: Floats,
    want: bool,
) -> float:
    """Add the forces of a pressure that acts from the left of the walking direction.

    The nodal force per unit pressure is ``2 pi int N (r z', -r r') ds`` with the derivatives along
    the face; it is exact for the quadratic edge with three points.

    Parameters
    ----------
    face_element, face_local, face_nodes : facets in walking order, see ``Faces``
    pressure : [MPa]
    block, force : element tangents and forces; added to
    column : derivative of the residual with respect to the pressure, (n_unknowns); added to

    Returns
    -------
    ``pi int r^2 z' ds`` over the face [mm3].
    """
    volume = 0.0
    for f in range(len(face_element)):
        e = face_element[f]
        for k in range(3):
            x = (k - 1) * _G
            w = 8.0 / 9.0 if k == 1 else 5.0 / 9.0
            n = (0.5 * x * (x - 1), 1 - x * x, 0.5 * x * (x + 1))
            d = (x - 0.5, -2 * x, x + 0.5)
            r = 0.0
            r1 = 0.0
            z1 = 0.0
            for a in range(3):
                j = face_nodes[f, a]
                ra = nodes[j, 0] + u[2 * j]
                za = nodes[j, 1] + u[2 * j + 1]
                r += n[a] * ra
                r1 += d[a] * ra
                z1 += d[a] * za
            volume += math.pi * r * r * z1 * w
            c = 2 * math.pi * w
            for a in range(3):
                i = face_local[f, a]
                m = 2 * face_nodes[f, a]
                gr = c * r * z1 * n[a]
                gz = -c * r * r1 * n[a]
                force[e, i] -= pressure * gr
                force[e, 8 + i] -= pressure * gz
                column[m] -= gr
                column[m + 1] -= gz
                if not want:
                    continue
                for b in range(3):
                    j = face_local[f, b]
                    block[e, i, j] -= pressure * c * n[a] * z1 * n[b]
                    block[e, i, 8 + j] -= pressure * c * n[a] * r * d[b]
                    block[e, 8 + i, j] += pressure * c * n[a] * (r1 * n[b] + r * d[b])
    return volume
