"""Return mapping of many points at once: the plastic increments that end on the yield surface."""

from __future__ import annotations

import math

from formsim.arrays import Floats
from formsim.kernels import kernel
from formsim.solver import lanes as at
from formsim.solver.curves import flow_cell, flow_stress
from formsim.solver.rates import rate_factor

YIELD_TOLERANCE = 1e-10
BEYOND = 1 + 1e-12
"""Trial stress over yield stress from which a point flows."""

MOST_STEPS = 60


@kernel
def _warm_up(w: Floats, n: int, step: float, last: int, law: Floats) -> None:
    """Rows as temperature and rate change them.

    Both scale the curve. That the rate rises with the plastic increment adds a straight line
    over the root that is zero where the point is, and has the slope the rate gives.
    """
    for q in range(at.VECTOR * n):
        warm, per_time = w[at.WARM + q], w[at.PER_TIME + q]
        dep, cell = w[at.DEP + q], w[at.CELL + q]
        factor, bend = rate_factor(law, dep * per_time)
        y0, s0, y1, s1 = w[at.Y0 + q], w[at.S0 + q], w[at.Y1 + q], w[at.S1 + q]
        scale, rise = warm * factor, warm * bend * per_time
        ep = w[at.EP + q] + dep
        root = math.sqrt(max(ep, 0.0))
        w[at.Y0 + q], w[at.S0 + q] = scale * y0, scale * s0
        w[at.Y1 + q], w[at.S1 + q] = scale * y1, scale * s1
        if rise > 0.0 and root < (last + 1) * step:
            sy, _ = flow_stress(y0, s0, y1, s1, step, cell, last, ep)
            t = root / step - cell
            tilt = 2.0 * step * max(root, 1e-9 * step) * sy * rise
            w[at.Y0 + q] -= tilt * t
            w[at.Y1 + q] += tilt * (1.0 - t)
            w[at.S0 + q] += tilt / step
            w[at.S1 + q] += tilt / step


@kernel
def _look_up(w: Floats, n: int, step: float, table: Floats, law: Floats | None) -> None:
    """Rows of the flow table around each point's plastic strain so far."""
    last = table.shape[0] - 2
    for q in range(at.VECTOR * n):
        w[at.CELL + q] = flow_cell(step, last, w[at.EP + q] + w[at.DEP + q])
    for q in range(at.VECTOR * n):
        i = int(w[at.CELL + q])
        w[at.Y0 + q], w[at.S0 + q] = table[i, 0], table[i, 1]
        w[at.Y1 + q], w[at.S1 + q] = table[i + 1, 0], table[i + 1, 1]
    if law is not None:
        _warm_up(w, n, step, last, law)


@kernel
def _begin(
    w: Floats,
    n: int,
    g2: float,
    mu1: float,
    mu2: float,
    mu3: float,
    step: float,
    table: Floats,
    law: Floats | None,
) -> int:
    """How far each point is loaded, and a first plastic increment; the number that flow."""
    last = table.shape[0] - 2
    for q in range(at.VECTOR * n):
        w[at.DEP + q] = 0.0
    _look_up(w, n, step, table, law)
    flowing = 0
    for q in range(at.VECTOR * n):
        sy, slope = flow_stress(
            w[at.Y0 + q],
            w[at.S0 + q],
            w[at.Y1 + q],
            w[at.S1 + q],
            step,
            w[at.CELL + q],
            last,
            w[at.EP + q],
        )
        a1 = mu1 * w[at.X1 + q] * w[at.X1 + q]
        a2 = mu2 * w[at.X2 + q] * w[at.X2 + q]
        a3 = mu3 * w[at.X3 + q] * w[at.X3 + q]
        trial2 = a1 + a2 + a3
        seq = math.sqrt(trial2)
        pull = (mu1 * a1 + mu2 * a2 + mu3 * a3) / trial2
        load = seq / sy
        dep = (seq - sy) / (g2 * pull + max(slope, 0.0))
        flows = load > BEYOND
        w[at.DEP + q] = dep if flows else 0.0
        w[at.LOAD + q] = load
        w[at.SY + q], w[at.SLOPE + q] = sy, slope
        w[at.R1 + q], w[at.R2 + q], w[at.R3 + q] = 1.0, 1.0, 1.0
        w[at.FLOW + q], w[at.WAITS + q] = 0.0, 0.0
        flowing += 1 if flows else 0
    return flowing


@kernel
def _step(
    w: Floats,
    n: int,
    g2: float,
    mu1: float,
    mu2: float,
    mu3: float,
    step: float,
    table: Floats,
    law: Floats | None,
) -> int:
    """One Newton step of the plastic increments; the number of points that need another one.

    With ``x_i = r_i x_i_trial`` and modal plastic strain increments ``f mu_i x_i`` the stress is on
    the yield surface. Points that are there keep their increment.
    """
    last = table.shape[0] - 2
    _look_up(w, n, step, table, law)
    waiting = 0
    for q in range(at.VECTOR * n):
        dep = w[at.DEP + q]
        sy, slope = flow_stress(
            w[at.Y0 + q],
            w[at.S0 + q],
            w[at.Y1 + q],
            w[at.S1 + q],
            step,
            w[at.CELL + q],
            last,
            w[at.EP + q] + dep,
        )
        d1 = sy + g2 * mu1 * dep
        d2 = sy + g2 * mu2 * dep
        d3 = sy + g2 * mu3 * dep
        both = d1 * d2
        inverse = 1 / (both * d3 * sy)
        share = sy * sy * inverse
        r1 = d2 * d3 * share
        r2 = d1 * d3 * share
        r3 = both * share
        isy = both * d3 * inverse
        f = dep * isy
        a1 = mu1 * w[at.X1 + q] * w[at.X1 + q] * r1 * r1
        a2 = mu2 * w[at.X2 + q] * w[at.X2 + q] * r2 * r2
        a3 = mu3 * w[at.X3 + q] * w[at.X3 + q] * r3 * r3
        seq = math.sqrt(a1 + a2 + a3)
        miss = seq - sy
        beta = (1 - slope * f) * isy
        steep = g2 * beta * (mu1 * a1 * r1 + mu2 * a2 * r2 + mu3 * a3 * r3) + slope * seq
        new = dep + miss * seq / steep
        new = new if new > 0.0 else 0.1 * dep
        flows = w[at.LOAD + q] > BEYOND
        waits = flows & (abs(miss) >= YIELD_TOLERANCE * sy)
        w[at.DEP + q] = new if waits else dep
        w[at.SY + q], w[at.SLOPE + q] = sy, slope
        w[at.R1 + q] = r1 if flows else 1.0
        w[at.R2 + q] = r2 if flows else 1.0
        w[at.R3 + q] = r3 if flows else 1.0
        w[at.FLOW + q] = f
        w[at.WAITS + q] = 1.0 if waits else 0.0
        waiting += 1 if waits else 0
    return waiting


@kernel
def return_map(
    w: Floats,
    n: int,
    g2: float,
    mu1: float,
    mu2: float,
    mu3: float,
    step: float,
    table: Floats,
    law: Floats | None,
) -> None:
    """Plastic increments of ``8 n`` trial stresses.

    Parameters
    ----------
    w : values of the points; trial stress modes and plastic strain so far are read
    g2, mu1, mu2, mu3 : twice the shear modulus [MPa], weights of the stress modes
    step, table : flow curve over the square root of plastic strain
    law : constants of the rate law, see ``rates.py``, where rate or temperature change the curve.
        None makes a kernel of its own, which is not held up by a question it need not ask.
    """
    waiting = _begin(w, n, g2, mu1, mu2, mu3, step, table, law)
    for _ in range(MOST_STEPS):
        if waiting == 0:
            break
        waiting = _step(w, n, g2, mu1, mu2, mu3, step, table, law)
