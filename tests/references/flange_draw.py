"""Radial drawing of an annular flange, plane stress, no friction, no bending, rigid-plastic.

Material rings carry h and e; at every position b of the rim the stress is marched from the free
rim inwards: d(h s_r)/dr = h (s_t - s_r)/r, s_t from Hill's normal-anisotropic yield at sigma(e),
speed from the flow rule d(ln v)/dr = rho/r with rho = de_r/de_t. The rings then move on (RK4 in b).

Sources
-------
R. Hill, The Mathematical Theory of Plasticity, 1950; D. C. Chiang and S. Kobayashi,
J. Eng. Ind. 88, 1966 (problem; memory). Numbers computed.
"""

from dataclasses import dataclass

import numpy as np

# R -> {rim [mm]: (F [kN], h at 25, h at the rim)}; rim 50, h0 = 1, 500 (0.01 + e)**0.2 MPa.
TABLE = {
    1.0: {
        48.0: (35.109, 0.9936, 1.0206),
        45.0: (37.747, 1.0145, 1.0541),
        40.0: (35.541, 1.0830, 1.1180),
        35.0: (28.675, 1.1748, 1.1952),
        30.0: (17.209, 1.2846, 1.2910),
    },
    0.6: {
        48.0: (36.245, 0.9928, 1.0258),
        45.0: (39.193, 1.0199, 1.0681),
        40.0: (37.329, 1.1073, 1.1497),
        35.0: (30.484, 1.2250, 1.2497),
        30.0: (18.524, 1.3684, 1.3761),
    },
}
PEAK = {1.0: (37.79, 44.45), 0.6: (39.30, 44.1)}
INCIPIENT = {1.5: 0.4393, 1.8: 0.6494, 2.0: 0.7698}


@dataclass(frozen=True)
class Flange:
    """Dimensions [mm], Swift curve [MPa] and r-value."""

    rim: float = 50.0
    section: float = 25.0
    strength: float = 500.0
    prestrain: float = 0.01
    exponent: float = 0.2
    r_value: float = 1.0

    def yield_stress(self, strain: np.ndarray) -> np.ndarray:
        return self.strength * (self.prestrain + strain) ** self.exponent


def _march(r: np.ndarray, h: np.ndarray, sigma: np.ndarray, q: float) -> np.ndarray:
    """Radial stress at rings r (falling from the rim) by the trapezium rule."""
    out = np.zeros_like(r)
    w = 1.0 - q * q

    def pull(i: int, force: float) -> float:
        s = force / h[i]
        hoop = q * s - np.sqrt(sigma[i] ** 2 - w * s * s)
        return h[i] * (hoop - s) / r[i]

    force = 0.0
    rate = pull(0, force)
    for i in range(1, r.size):
        step = r[i] - r[i - 1]
        end = force + step * rate
        for _ in range(3):
            end = force + 0.5 * step * (rate + pull(i, end))
        force, rate = end, pull(i, end)
        out[i] = force / h[i]
    return out


def _rates(state: np.ndarray, flange: Flange) -> tuple[np.ndarray, np.ndarray]:
    """Rates of r, e, ln h per unit of rim travel, and the radial stress."""
    r, strain, log_h = state
    q = flange.r_value / (1.0 + flange.r_value)
    sigma = flange.yield_stress(strain)
    live = np.count_nonzero(r > 0.94 * flange.section)
    r, sigma, h = r[:live], sigma[:live], np.exp(log_h[:live])
    s_r = _march(r, h, sigma, q)
    s_t = q * s_r - np.sqrt(sigma**2 - (1.0 - q * q) * s_r**2)
    ratio = (s_r - q * s_t) / (s_t - q * s_r)
    mean = 0.5 * (ratio[1:] / r[1:] + ratio[:-1] / r[:-1])
    speed = -np.exp(np.concatenate([[0.0], np.cumsum(mean * np.diff(r))]))
    hoop = speed / r
    rates = np.zeros_like(state)
    rates[0, :live] = speed
    rates[1, :live] = hoop * (s_r * ratio + s_t) / sigma
    rates[2, :live] = -(1.0 + ratio) * hoop
    return rates, s_r


def _section(state: np.ndarray, s_r: np.ndarray, flange: Flange) -> tuple[float, float]:
    """Force [kN] and thickness at the fixed section by a local cubic through four rings."""
    r = state[0, : s_r.size]
    first = int(np.searchsorted(-r, -flange.section)) - 2
    near = slice(max(0, min(first, r.size - 4)), max(0, min(first, r.size - 4)) + 4)
    h = np.exp(state[2, near])
    x = r[near] - flange.section
    at = np.polyfit(x, h * s_r[near], 3)[-1]
    return 2e-3 * np.pi * flange.section * at, float(np.polyfit(x, h, 3)[-1])


def draw(
    flange: Flange, rims: list[float], rings: int = 280, step: float = 0.05
) -> list[tuple[float, float, float]]:
    """Force [kN], h at the section and h at the rim, at each of the falling rim radii."""
    radii = np.linspace(flange.rim, 0.88 * flange.section, rings)
    state = np.array([radii, np.zeros(rings), np.zeros(rings)])
    answers = []
    for rim in rims:
        count = max(1, round((state[0, 0] - rim) / step))
        dt = (state[0, 0] - rim) / count
        for _ in range(count):
            k1 = _rates(state, flange)[0]
            k2 = _rates(state + 0.5 * dt * k1, flange)[0]
            k3 = _rates(state + 0.5 * dt * k2, flange)[0]
            k4 = _rates(state + dt * k3, flange)[0]
            state = state + dt / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
        force, thickness = _section(state, _rates(state, flange)[1], flange)
        answers.append((force, thickness, float(np.exp(state[2, 0]))))
    return answers


def incipient_stress(ratio: float, r_value: float = 1.0) -> float:
    """Drawing stress over yield stress of an unhardened flange of radius ratio b/a."""
    r = np.linspace(ratio, 1.0, 4001)
    one = np.ones_like(r)
    return float(_march(r, one, one, r_value / (1.0 + r_value))[-1])
