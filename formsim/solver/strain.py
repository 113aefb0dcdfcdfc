"""Logarithmic strains in the modes the stress law works in, of a point or of many at once."""

from __future__ import annotations

from typing import TypeVar

import numpy as np

from formsim.arrays import Floats
from formsim.kernels import kernel
from formsim.solver.body import Body
from formsim.solver.stress import S2, S6

Number = TypeVar("Number", float, Floats)

_ROUND = 1e-12
"""Anisotropy of the metric below which both principal stretches are the same."""


def log_modes(
    f11: Number, f12: Number, f21: Number, f22: Number, hoop: Number
) -> tuple[Number, Number, Number, Number]:
    """Logarithm of the area in the plane, and the deviatoric modes of the logarithmic strain [-].

    Parameters
    ----------
    f11, f12, f21, f22 : deformation gradient along and across the sheet, numbers or arrays [-]
    hoop : logarithmic strain around the axis [-]

    Source: the formulas of ``solver/stress.py``, without their derivatives.
    """
    along, across = f11 * f11 + f21 * f21, f12 * f12 + f22 * f22
    mean, half = 0.5 * (along + across), 0.5 * (along - across)
    shear = f11 * f12 + f21 * f22
    spread = np.maximum(np.hypot(half, shear) / mean, _ROUND)
    rate = 0.5 * np.arctanh(spread) / (spread * mean)
    area = np.log(f11 * f22 - f12 * f21)
    plane = 0.5 * area
    return (
        area,
        (plane - 3.0 * rate * half - hoop) / S6,
        (plane + rate * half - hoop) / S2,
        S2 * rate * shear,
    )


point_modes = kernel(log_modes)
"""The same of one point, compiled."""


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
    """
    x = places[body.elements]
    f = np.einsum("eac,eqda->cdeq", x, body.gradient)
    hoop = np.log(x[:, :, 0] @ body.shape.T / body.radius)
    _, *modes = log_modes(f[0, 0], f[0, 1], f[1, 0], f[1, 1], hoop)
    return np.stack(modes, axis=-1)
