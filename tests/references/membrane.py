"""A thin sheet stretched with rotational symmetry: constitutive law and marching tools.

Isotropic, von Mises, rigid-plastic, sigma = strength (prestrain + e)**exponent, rate form in
steps: plane-stress Levy-Mises rates (R. Hill, The Mathematical Theory of Plasticity, 1950; memory).
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

Rates = Callable[[float, list[float]], list[float]]


@dataclass(frozen=True)
class Sheet:
    """Thickness [mm], outer radius [mm] and Swift curve [MPa]."""

    thickness: float = 1.0
    radius: float = 50.0
    strength: float = 500.0
    prestrain: float = 0.002
    exponent: float = 0.2


class Past:
    """Strains of the last step over the material radius: monotone cubics through rings."""

    def __init__(self, ring: np.ndarray, strains: np.ndarray) -> None:
        self.strains = strains
        self._spacing = float(ring[1])
        self._cubics = PchipInterpolator(ring, strains).c.transpose(1, 2, 0).tolist()

    def at(self, big_r: float) -> list[float]:
        """Meridional, hoop and equivalent strain."""
        i = min(int(big_r / self._spacing), len(self._cubics) - 1)
        x = big_r - i * self._spacing
        return [((a * x + b) * x + c) * x + d for a, b, c, d in self._cubics[i]]


class Track:
    """Strains recorded along one march from the pole."""

    def __init__(self, sheet: Sheet, past: Past) -> None:
        self.sheet, self.past = sheet, past
        self.rows: list[tuple[float, float, float, float]] = []

    def tensions(self, old: list[float], ef: float, et: float) -> tuple[float, float, float]:
        """Meridional force per length, its slope in ef, and the hoop force per length."""
        sheet = self.sheet
        df, dt = ef - old[0], et - old[1]
        de = sqrt(4.0 / 3.0 * (df * df + df * dt + dt * dt)) + 1e-30
        total = sheet.prestrain + old[2] + de
        level = sheet.strength * total**sheet.exponent
        scale = 2.0 / 3.0 * level * sheet.thickness * exp(-ef - et) / de
        along = 2.0 * df + dt
        grown = 2.0 / 3.0 * along / de
        slope = scale * (2.0 + along * (grown * (sheet.exponent / total - 1.0 / de) - 1.0))
        return scale * along, slope, scale * (df + 2.0 * dt)

    def strain(self, big_r: float, r: float, pull: float) -> tuple[float, float]:
        """Meridional strain that carries the tension at a ring, and the hoop tension there."""
        old = self.past.at(big_r)
        et = log(r / big_r)
        low = old[0] - 0.5 * (et - old[1])
        high = low + 0.5
        ef = low + max(abs(et - old[1]), 1e-5)
        for _ in range(80):
            along, slope, hoop = self.tensions(old, ef, et)
            low, high = (ef, high) if along < pull else (low, ef)
            new = ef - (along - pull) / slope if slope > 0.0 else 0.5 * (low + high)
            if not low <= new <= high:
                new = 0.5 * (low + high)
            if abs(new - ef) < 1e-11:
                break
            ef = new
        if abs(along - pull) > 1e-5 * pull:
            raise ArithmeticError(big_r)
        return ef, hoop

    def record(self, big_r: float, r: float, ef: float) -> None:
        """Keep the strains of one ring."""
        old = self.past.at(big_r)
        et = log(r / big_r)
        df, dt = ef - old[0], et - old[1]
        de = sqrt(4.0 / 3.0 * (df * df + df * dt + dt * dt))
        self.rows.append((big_r, ef, et, old[2] + de))

    def settle(self, big_r: float, r: float, pull: float) -> None:
        """Keep the strains of one ring that carries a tension."""
        self.record(big_r, r, self.strain(big_r, r, pull)[0])

    def strains_at(self, ring: np.ndarray) -> np.ndarray:
        """Strains interpolated to rings, (n, 3)."""
        rows = np.array(self.rows)
        return np.asarray(PchipInterpolator(rows[:, 0], rows[:, 1:])(ring))


def runge_kutta(rates: Rates, x: float, y: list[float], step: float) -> list[float]:
    """One classical fourth-order step."""
    k1 = rates(x, y)
    k2 = rates(x + 0.5 * step, [v + 0.5 * step * k for v, k in zip(y, k1, strict=True)])
    k3 = rates(x + 0.5 * step, [v + 0.5 * step * k for v, k in zip(y, k2, strict=True)])
    k4 = rates(x + step, [v + step * k for v, k in zip(y, k3, strict=True)])
    return [
        v + step / 6.0 * (a + 2.0 * b + 2.0 * c + d)
        for v, a, b, c, d in zip(y, k1, k2, k3, k4, strict=True)
    ]


def root(miss: Callable[[float], float], low: float, high: float) -> float:
    """Root of a falling function; the bracket moves up or down until it holds the root."""
    for _ in range(60):
        if miss(high) > 0.0:
            low, high = high, 2.0 * high - low
        elif miss(low) < 0.0:
            low, high = 2.0 * low - high, low
        else:
            return brentq(miss, low, high, xtol=1e-9 * high)
    raise ArithmeticError(low)
