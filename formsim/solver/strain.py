"""Logarithmic strains of many points at once, in the modes the stress law works in."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats
from formsim.solver.body import Body
from formsim.solver.stress import S2, S6

_ROUND = 1e-12
"""Anisotropy of the metric below which both principal stretches are the same."""


def volume_strain(body: Body, places: Floats) -> Floats:
    """Logarithm of the volume over that in the reference at the points, (n_el, n_q) [-].

    Parameters
    ----------
    places : node positions now, (n_nodes, 2) [mm]
    """
    x = places[body.elements]
    f = np.einsum("eac,eqda->cdeq", x, body.gradient)
    area: Floats = np.log(f[0, 0] * f[1, 1] - f[0, 1] * f[1, 0])
    return area + np.log(x[:, :, 0] @ body.shape.T / body.radius)


def strain_modes(body: Body, places: Floats) -> Floats:
    """Deviatoric modes of the logarithmic strain at the points, (n_el, n_q, 3) [-].

    Parameters
    ----------
    places : node positions now, (n_nodes, 2) [mm]

    The plastic state holds the plastic part of the same three modes; the rest is elastic.
    Source: the formulas of ``solver/stress.py``, without their derivatives.
    """
    x = places[body.elements]
    f = np.einsum("eac,eqda->cdeq", x, body.gradient)
    hoop = np.log(x[:, :, 0] @ body.shape.T / body.radius)
    area = np.log(f[0, 0] * f[1, 1] - f[0, 1] * f[1, 0])
    along, across = (f[0, 0] ** 2 + f[1, 0] ** 2), (f[0, 1] ** 2 + f[1, 1] ** 2)
    mean, half = 0.5 * (along + across), 0.5 * (along - across)
    shear = f[0, 0] * f[0, 1] + f[1, 0] * f[1, 1]
    spread = np.maximum(np.hypot(half, shear) / mean, _ROUND)
    rate = 0.5 * np.arctanh(spread) / (spread * mean)
    plane = 0.5 * area
    modes = [
        (plane - 3.0 * rate * half - hoop) / S6,
        (plane + rate * half - hoop) / S2,
        S2 * rate * shear,
    ]
    return np.stack(modes, axis=-1)
