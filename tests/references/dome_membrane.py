"""Membrane solutions of stretched discs: hydraulic bulge and hemispherical punch.

Thin isotropic sheet, von Mises, rigid-plastic, sigma = strength (prestrain + e)**exponent, rate
form in steps. Material radius R, arc s, meridional strain ef, hoop strain et, slope angle phi:
dr/dR = exp(ef) cos(phi), tension T = t sigma_f, t = t0 exp(-ef - et),
dT/ds = (Tt - T) cos(phi)/r + mu p on a tool (the sheet slides outwards over the punch and inwards
over the die corner), T k_f + Tt k_t = p. Every step is marched from the pole (shooting).

Sources
-------
R. Hill, Phil. Mag. 41, 1950 (bulge; memory). N. M. Wang and B. Budiansky, J. Appl. Mech. 45,
1978, and J. K. Lee, R. H. Wagoner and E. Nakamachi, 1990 (punch; set-up from memory).
Numbers computed: 0.1 % (bulge), 0.2 % (punch).
"""

from dataclasses import dataclass
from math import cos, exp, log, pi, sin, sqrt, tan

import numpy as np
from scipy.interpolate import CubicSpline

from tests.references.membrane import Past, Sheet, Track, root, runge_kutta

# Exponent -> {h/a: (pressure [MPa], thinning strain at the pole)}; a = 50, h0 = 1.
BULGE = {
    0.2: {
        0.1: (1.694, 0.0173),
        0.2: (4.066, 0.0674),
        0.3: (6.358, 0.1515),
        0.4: (8.127, 0.2712),
        0.5: (9.178, 0.4298),
    },
    0.1: {
        0.1: (2.578, 0.0186),
        0.2: (5.447, 0.0736),
        0.3: (7.859, 0.1665),
        0.4: (9.471, 0.300),
        0.5: (10.216, 0.481),
    },
}


# Friction -> {depth [mm]: (force [kN], meridional and thinning strain at the pole)}.
HEMISPHERE = {
    0.0: {
        10.0: (9.02, 0.032, -0.064),
        20.0: (29.38, 0.101, -0.202),
        30.0: (53.53, 0.223, -0.446),
        40.0: (69.21, 0.424, -0.848),
    },
    0.3: {10.0: (9.17, 0.024, -0.049), 20.0: (30.79, 0.059, -0.118), 30.0: (59.21, 0.092, -0.184)},
}
# Friction 0.3, depth -> largest meridional strain, its R [mm], largest thinning strain.
HEMISPHERE_PEAK = {
    10.0: (0.034, 12.2, 0.056),
    20.0: (0.109, 20.6, 0.163),
    30.0: (0.249, 27.5, 0.346),
}
RINGS = 120
STRETCHED = Sheet(thickness=1.0, radius=59.18, strength=589.0, prestrain=1e-4, exponent=0.216)


@dataclass(frozen=True)
class Punch:
    """Radii of punch and die corner [mm] as the membrane meets them; Coulomb friction."""

    radius: float = 50.8
    die_radius: float = 6.35
    friction: float = 0.0


@dataclass(frozen=True)
class Shape:
    """Material radius at the clamp, depth of the punch [mm], punch force [N]."""

    rim: float
    depth: float
    force: float


def march_bulge(track: Track, pole: float, pressure: float, count: int) -> tuple[float, float]:
    """Radius of the rim and height of the pole for a pole strain and a pressure."""
    sheet, old = track.sheet, track.past.at(0.0)
    pull = track.tensions(old, pole, pole)[0]
    start = 1e-4 * sheet.radius
    r = start * exp(pole)
    state = [r, 0.5 * pressure * r / pull, 0.0]

    def rates(big_r: float, y: list[float]) -> list[float]:
        r, angle, _ = y
        pull = 0.5 * pressure * r / sin(angle)
        ef, hoop = track.strain(big_r, r, pull)
        bend = (pressure - hoop * sin(angle) / r) / pull
        return [exp(ef) * cos(angle), exp(ef) * bend, exp(ef) * sin(angle)]

    track.rows = []
    track.record(1e-9, 1e-9 * exp(pole), pole)
    step = (sheet.radius - start) / count
    for i in range(count):
        state = runge_kutta(rates, start + i * step, state, step)
        big_r, r = start + (i + 1) * step, state[0]
        track.settle(big_r, r, 0.5 * pressure * r / sin(state[1]))
    return state[0], state[2]


def _bulge_history(sheet: Sheet, poles: np.ndarray, rings: int) -> np.ndarray:
    ring = np.linspace(0.0, sheet.radius, rings + 1)
    past = Past(ring, np.zeros((rings + 1, 3)))
    rows = []
    for pole in poles.tolist():
        track = Track(sheet, past)
        pull = track.tensions(past.at(0.0), pole, pole)[0]
        cap = 2.0 * sqrt(exp(pole) - 1.0) / (sheet.radius * exp(pole))

        def miss(pressure: float, track: Track = track, pole: float = pole) -> float:
            try:
                return march_bulge(track, pole, pressure, rings)[0] - sheet.radius
            except ArithmeticError:
                return -sheet.radius

        guess = 2.0 * pull * cap
        pressure = root(miss, 0.99 * guess, 1.01 * guess)
        height = march_bulge(track, pole, pressure, rings)[1]
        past = Past(ring, track.strains_at(ring))
        rows.append((height / sheet.radius, pressure, 2.0 * pole))
    return np.array(rows)


def bulge(sheet: Sheet, top: float, steps: int = 24, rings: int = 60) -> np.ndarray:
    """Height over radius, pressure [MPa] and thinning strain of the pole, (steps, 3).

    The meridional strain of the pole grows to top; two step lengths are extrapolated.
    """
    share = np.linspace(0.0, 1.0, 2 * steps + 1)[1:] ** 2
    fine = _bulge_history(sheet, top * share, rings)[1::2]
    coarse = _bulge_history(sheet, top * share[1::2], rings)
    return 2.0 * fine - coarse


def _cover_punch(
    track: Track, punch: Punch, pole: float, edge: float, parts: int
) -> tuple[float, float]:
    """March over the punch to the edge of contact: material radius and tension there."""
    rho, start = punch.radius, 1e-4
    pull = track.tensions(track.past.at(0.0), pole, pole)[0]
    state = [rho * sin(start) * exp(-pole), pull]

    def rates(angle: float, y: list[float]) -> list[float]:
        r = rho * sin(angle)
        ef, hoop = track.strain(y[0], r, y[1])
        press = (y[1] + hoop) / rho
        return [
            rho * exp(-ef),
            rho * ((hoop - y[1]) * cos(angle) / r + punch.friction * press),
        ]

    track.record(1e-9, 1e-9 * exp(pole), pole)
    step = (edge - start) / parts
    for i in range(parts):
        state = runge_kutta(rates, start + i * step, state, step)
        track.settle(state[0], rho * sin(start + (i + 1) * step), state[1])
    return state[0], state[1]


def _cross_free(
    track: Track, punch: Punch, edge: float, big_r: float, pulled: float, parts: int
) -> tuple[float, list[float]]:
    """March from the punch to the die corner: radius; material radius, slope angle and rise."""

    def rates(r: float, y: list[float]) -> list[float]:
        ef, hoop = track.strain(y[0], r, pulled / (r * sin(y[1])))
        bend = -hoop * sin(y[1]) ** 2 / pulled
        return [exp(-ef) / cos(y[1]), bend / cos(y[1]), tan(y[1])]

    def short(r: float, y: list[float]) -> float:
        return track.sheet.radius - punch.die_radius * sin(y[1]) - r

    r, y = punch.radius * sin(edge), [big_r, edge, 0.0]
    growth, share = log((r + short(r, y)) / r) / parts, 1.0
    while short(r, y) > 1e-9:
        step = share * growth * r
        new = runge_kutta(rates, r, y, step)
        if short(r + step, new) < -1e-9:
            share *= short(r, y) / (short(r, y) - short(r + step, new))
            continue
        r, y = r + step, new
        track.settle(y[0], r, pulled / (r * sin(y[1])))
    return r, y


def _cover_die(
    track: Track, punch: Punch, angle: float, big_r: float, pull: float, parts: int
) -> float:
    """March over the die corner to the clamp: material radius there."""
    a, state = punch.die_radius, [big_r, pull]

    def rates(phi: float, y: list[float]) -> list[float]:
        r = track.sheet.radius - a * sin(phi)
        ef, hoop = track.strain(y[0], r, y[1])
        press = y[1] / a - hoop * sin(phi) / r
        return [-a * exp(-ef), -a * ((hoop - y[1]) * cos(phi) / r - punch.friction * press)]

    for i in range(parts):
        phi = angle * (1.0 - i / parts)
        state = runge_kutta(rates, phi, state, -angle / parts)
        r = track.sheet.radius - a * sin(angle * (1.0 - (i + 1) / parts))
        track.settle(state[0], r, state[1])
    return state[0]


def _march_punch(track: Track, punch: Punch, pole: float, edge: float, parts: int) -> Shape:
    """Shape for a pole strain and a slope angle at the edge of contact."""
    track.rows = []
    big_r, pull = _cover_punch(track, punch, pole, edge, parts)
    pulled = pull * punch.radius * sin(edge) ** 2
    r, (big_r, angle, rise) = _cross_free(track, punch, edge, big_r, pulled, parts)
    rim = _cover_die(track, punch, angle, big_r, pulled / (r * sin(angle)), max(4, parts // 3))
    depth = punch.radius * (1.0 - cos(edge)) + rise + punch.die_radius * (1.0 - cos(angle))
    return Shape(rim=rim, depth=depth, force=2.0 * pi * pulled)


def _punch_history(sheet: Sheet, punch: Punch, edges: np.ndarray, parts: int) -> np.ndarray:
    """Depth, force [kN], then meridional and hoop strains at all rings, one row for each edge."""
    ring = np.linspace(0.0, sheet.radius, RINGS + 1)
    past = Past(ring, np.zeros((RINGS + 1, 3)))
    rows = []
    pole, gain = 0.0, 5e-3
    for edge in edges.tolist():
        track = Track(sheet, past)

        def miss(trial: float, track: Track = track, edge: float = edge) -> float:
            try:
                return _march_punch(track, punch, trial, edge, parts).rim - sheet.radius
            except (ArithmeticError, ValueError):
                return sheet.radius

        found = root(miss, pole, pole + 1.2 * gain)
        pole, gain = found, found - pole
        shape = _march_punch(track, punch, pole, edge, parts)
        past = Past(ring, track.strains_at(ring))
        rows.append([shape.depth, shape.force / 1e3, *past.strains[:, :2].T.ravel()])
    return np.array(rows)


def stretch(
    punch: Punch, depths: list[float], top_edge: float, steps: int = 20, parts: int = 40
) -> list[tuple[float, np.ndarray, np.ndarray]]:
    """Force [kN], meridional and hoop strains at the rings, at depths of the punch [mm].

    The edge of contact grows to top_edge [degrees]; two step lengths are extrapolated.
    """
    edges = np.radians(np.linspace(0.0, top_edge, 2 * steps + 1)[1:])
    fine = _punch_history(STRETCHED, punch, edges, parts)[1::2]
    coarse = _punch_history(STRETCHED, punch, edges[1::2], parts)
    rows = 2.0 * fine - coarse
    at = CubicSpline(rows[:, 0], rows[:, 1:])(depths)
    return [(float(row[0]), *np.split(row[1:], 2)) for row in at]
