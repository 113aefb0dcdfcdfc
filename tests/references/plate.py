"""Clamped circular plate under uniform pressure at large deflection (von Karman).

With W = w/t, rho = r/a, Q = q a**4/(E t**4), slope th = W', curvature sum m = th' + th/rho,
hoop strain e = u a/(rho t**2), radial force n = er + nu e:
m' = 6 (1 - nu**2) Q rho + 12 n th,  e' = (n - th**2/2 - (1 + nu) e)/rho,
n' = ((1 - nu**2) e - (1 - nu) n)/rho; clamped and held: W = th = e = 0 at rho = 1.

Source: T. von Karman's plate equations as in S. Timoshenko and S. Woinowsky-Krieger, Theory of
Plates and Shells, 1959, chapter 13 (memory); numbers computed.
"""

import numpy as np
from scipy.integrate import solve_bvp

# Load Q -> central deflection over thickness, nu = 0.3.
DEFLECTION = {1.0: 0.1680, 5.0: 0.6796, 10.0: 1.0520, 20.0: 1.4938, 50.0: 2.198, 100.0: 2.856}


def central_deflection(loads: list[float], nu: float = 0.3) -> list[float]:
    """Central deflection over thickness at rising loads Q."""
    rho = np.linspace(0.0, 1.0, 101)
    state = np.zeros((5, rho.size))
    singular = np.zeros((5, 5))
    singular[1, 1] = -1.0
    singular[3, 3], singular[3, 4] = -(1.0 + nu), 1.0
    singular[4, 3], singular[4, 4] = 1.0 - nu**2, -(1.0 - nu)
    answers = []
    for load in loads:

        def rates(x, y, load=load):
            _, th, m, _, n = y
            quotient = np.divide(th**2, 2.0 * x, out=np.zeros_like(x), where=x > 0.0)
            bend = 6.0 * (1.0 - nu**2) * load * x + 12.0 * n * th
            return np.array([th, m, bend, -quotient, np.zeros_like(x)])

        def ends(start, end):
            balance = start[4] - (1.0 + nu) * start[3]
            return np.array([start[1], balance, end[0], end[1], end[3]])

        found = solve_bvp(rates, ends, rho, state, S=singular, tol=1e-7, max_nodes=20_000)
        if not found.success:
            raise RuntimeError(found.message)
        rho, state = found.x, found.y
        answers.append(float(state[0, 0]))
    return answers
