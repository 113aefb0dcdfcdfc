"""What damage laws ask of the way to a state: integrals over plastic strain, point by point.

Every accepted increment adds the plastic strain it has brought, weighted by the stress at its end.
Three integrals serve all laws, so that their constants may be chosen afterwards.
"""

from __future__ import annotations

import math

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel
from formsim.solver.body import Body
from formsim.solver.state import State
from formsim.solver.strain import point_modes
from formsim.solver.stress import G2, K3, MU1, MU2, MU3, S2, S6

TENSION, MEAN, SQUEEZED = range(3)
"""Integrals of a point: largest principal stress where it is tensile, and mean stress, both over
the equivalent stress; and plastic strain done while the sheet was squeezed."""

SQUEEZE = 0.5
"""Pressure across the sheet, over its equivalent stress, from which it counts as squeezed: a tool
nose bears on a bent sheet with a tenth or two, a ring with one and more. Our own number."""


def grown(body: Body, constants: Floats, old: State, new: State) -> Floats:
    """Damage integrals after an increment, (n_el, n_q, 3) [-]; none where none are followed.

    Parameters
    ----------
    constants : of the material, see ``stress.respond``
    old, new : states before and after; ``new`` may still hold the integrals of ``old``

    Source: M. G. Cockcroft and D. J. Latham, J. Inst. Metals 96, 1968 (memory), normalised by
    the equivalent stress; the mean stress as in M. Oyane, T. Sato, K. Okimoto and S. Shima,
    J. Mech. Work. Technol. 4, 1980 (memory). Stresses by Hooke's law along and across the sheet,
    which is exact where the material is not sheared.
    """
    if not old.damage.size:
        return old.damage
    damage = old.damage.copy()
    _add(
        new.places(body),
        body.elements,
        body.gradient,
        body.shape,
        body.radius,
        constants,
        old.plastic,
        new.plastic,
        damage,
    )
    return damage


@kernel
def _add(
    places: Floats,
    elements: Ints,
    gradient: Floats,
    shape: Floats,
    radius: Floats,
    constants: Floats,
    before: Floats,
    plastic: Floats,
    damage: Floats,
) -> None:
    """Add what an increment has brought to the integrals; the modes are those of ``stress.py``."""
    bulk, g2 = constants[K3] / 3.0, constants[G2]
    mu1, mu2, mu3 = constants[MU1], constants[MU2], constants[MU3]
    for e in range(plastic.shape[0]):
        for q in range(plastic.shape[1]):
            step = plastic[e, q, 3] - before[e, q, 3]
            if step <= 0.0:
                continue
            f11 = f12 = f21 = f22 = r = 0.0
            for a in range(elements.shape[1]):
                x, y = places[elements[e, a], 0], places[elements[e, a], 1]
                f11 += x * gradient[e, q, 0, a]
                f12 += x * gradient[e, q, 1, a]
                f21 += y * gradient[e, q, 0, a]
                f22 += y * gradient[e, q, 1, a]
                r += x * shape[q, a]
            hoop = math.log(r / radius[e, q])
            area, e1, e2, e3 = point_modes(f11, f12, f21, f22, hoop)
            x1 = g2 * (e1 - plastic[e, q, 0])
            x2 = g2 * (e2 - plastic[e, q, 1])
            x3 = g2 * (e3 - plastic[e, q, 2])
            level = math.sqrt(mu1 * x1 * x1 + mu2 * x2 * x2 + mu3 * x3 * x3)
            if level <= 0.0:
                continue
            centre = bulk * (area + hoop)
            first, normal = centre - x1 / S6 + x2 / S2, centre + 2.0 * x1 / S6
            largest = 0.5 * (first + normal) + math.hypot(0.5 * (first - normal), x3 / S2)
            largest = max(largest, centre - x1 / S6 - x2 / S2)
            damage[e, q, TENSION] += max(largest, 0.0) / level * step
            damage[e, q, MEAN] += centre / level * step
            damage[e, q, SQUEEZED] += step if normal < -SQUEEZE * level else 0.0
