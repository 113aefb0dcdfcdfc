"""Resistance of free-rim columns to their hourglass modes while they are ironed.

The 8-node quadrilateral with 2 x 2 points has shapes without strain at its points. Neighbours
suppress them inside a strip; at a free end that slides out of an ironing ring nothing does. Each of
the modes ``(eta^2 - 1/3) xi`` and ``(xi^2 - 1/3) eta`` meets a resistance that hardly grows with
its rate: ``f = Y A q / sqrt(q^2 + q0^2)``, ``q`` the increment of the mode and ``q0`` a small share
of the tools' travel. It is help lent to the numbers: its work is booked and shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel
from formsim.solver.body import Body

SATURATION = 0.004
"""Increment of a mode over the travel of the tools at which the resistance is near its full."""

LEAST_TRAVEL = 0.5
"""Travel, in thicknesses, below which it grows no stiffer: it would drown in rounding."""

_ENDS = 1.0 / 3.0
_MIDDLES = 2.0 / 3.0
MODES = np.array(
    [
        [-_ENDS, _ENDS, _ENDS, -_ENDS, 0.0, -_MIDDLES, 0.0, _MIDDLES],
        [-_ENDS, -_ENDS, _ENDS, _ENDS, _MIDDLES, 0.0, -_MIDDLES, 0.0],
    ]
)
"""Mode amplitudes from nodal values, corners then mid-sides; zero for any linear field, (2, 8)."""


@dataclass(frozen=True)
class Guard:
    """Elements whose hourglass modes are resisted.

    Attributes
    ----------
    elements : (n)
    strength : stress of the resistance [MPa]
    """

    elements: Ints
    strength: float


def guard_rim(body: Body, columns: int, strength: float) -> Guard:
    """Guard of the last columns before the rim."""
    count = columns * (body.columns.layers if body.columns else 0)
    return Guard(np.arange(len(body.elements) - count, len(body.elements)), strength)


def guard_strength(body: Body, guard: Guard | None) -> Floats:
    """Full resistance of each guarded element: stress by its ring area along the sheet, (n) [N]."""
    if guard is None:
        return np.zeros(0)
    corners = body.nodes[body.elements[guard.elements, :4]]
    length = np.hypot(*(corners[:, 1] - corners[:, 0]).T)
    strength: Floats = guard.strength * 2.0 * np.pi * corners[..., 0].mean(axis=1) * length
    return strength


@kernel
def resist_modes(
    elements: Ints,
    unknowns: Ints,
    modes: Floats,
    strength: Floats,
    slow: float,
    du: Floats,
    block: Floats,
    force: Floats,
    want: bool,
) -> float:
    """Add the resistance to element forces and tangents; returns its work in the increment.

    Parameters
    ----------
    strength : full resistance of each element [N]
    slow : increment of a mode below which the resistance falls off [mm]
    du : increment of displacement, (n_unknowns) [mm]
    """
    work = 0.0
    for k in range(elements.shape[0]):
        e = elements[k]
        for direction in range(2):
            first = 8 * direction
            for m in range(2):
                q = 0.0
                for a in range(8):
                    q += modes[m, a] * du[unknowns[e, first + a]]
                size = math.sqrt(q * q + slow * slow)
                pull = strength[k] * q / size
                stiff = strength[k] * slow * slow / (size * size * size)
                work += pull * q
                for a in range(8):
                    force[e, first + a] += pull * modes[m, a]
                    if want:
                        for b in range(8):
                            block[e, first + a, first + b] += stiff * modes[m, a] * modes[m, b]
    return work
