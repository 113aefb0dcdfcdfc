"""Clamped spherical caps under outside pressure, past their limit points.

Elastic (D1): Budiansky, Proc. IUTAM Symp. Theory of Thin Elastic Shells, 1959; Teng and Rotter,
J. Eng. Mech. 1989. Shallow-shell values, so they are compared at R/t = 1000, and at R/t = 100 a
real cap lies 1.4 to 4 % above them. Beyond lambda 5.5 the path turns back in volume and in
displacement. Perfectly plastic (D3): Teng and Rotter 1989, digitised.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from formsim.material.flow import FlowCurve, Voce
from formsim.solver.march import march
from formsim.solver.newton import System
from formsim.solver.problem import Pressure, Support
from formsim.solver.state import fresh_state
from formsim.solver.stepping import Steps
from tests.physics.support import NEVER, axial, metal, problem, radial, strip

YOUNG, POISSON = 200e3, 0.3


@dataclass(frozen=True)
class Path:
    """Pressure [MPa] and way of the pole [mm] at every increment."""

    pressure: np.ndarray
    pole: np.ndarray

    @property
    def limit(self) -> float:
        """First maximum of the pressure [MPa]."""
        p = self.pressure
        peaks = np.flatnonzero((p[1:-1] > p[:-2]) & (p[1:-1] > p[2:])) + 1
        return float(p[peaks[0]])


def classical(radius: float, thickness: float) -> float:
    """Pressure at which a complete sphere buckles (Zoelly) [MPa]."""
    return 2.0 * YOUNG / math.sqrt(3.0 * (1.0 - POISSON**2)) * (thickness / radius) ** 2


def push(
    radius: float, angle: float, flow: FlowCurve, unit: float, way: float, step: float
) -> Path:
    """A cap of unit thickness and a half angle, pressed in along its path."""

    def shape(along: np.ndarray, across: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        rho = radius - 0.5 + across
        return rho * np.sin(along * angle), rho * np.cos(along * angle)

    body = strip(np.linspace(0.0, 1.0, 121), np.linspace(0.0, 1.0, 3), shape)
    rim = Support(np.concatenate([radial(body, "rim"), axial(body, "rim")]))
    fluid = Pressure("top", 1.0, unit=unit)
    task = problem(body, metal(flow, YOUNG, POISSON), 1.0, pressures=(fluid,), supports=(rim,))
    pole = 2 * int(body.axis_nodes().max()) + 1
    steps = Steps(first=0.01, longest=step, floor=1e-6)
    states = [s for s, _ in march(System(task), fresh_state(body, 1), way, steps)]
    return Path(np.array([s.positions[0] for s in states]), np.array([-s.u[pole] for s in states]))


def angle_of(size: float, radius: float) -> float:
    """Half angle of a cap of unit thickness and size ``lambda``."""
    height = size**2 / (4.0 * math.sqrt(3.0 * (1.0 - POISSON**2)))
    return math.acos(1.0 - height / radius)


@pytest.mark.parametrize(
    ("size", "published"), [(4, 0.563), (5, 0.615), (6, 0.972), (7, 1.046), (8, 1.109)]
)
def test_shallow_cap_snaps_at_the_published_pressure(size: float, published: float) -> None:
    unit = classical(1000.0, 1.0)
    path = push(1000.0, angle_of(size, 1000.0), NEVER, unit, 2.0, 0.03)
    assert path.limit / unit == pytest.approx(published, rel=0.01)


@pytest.mark.parametrize(
    ("size", "published"), [(4, 0.563), (5, 0.615), (6, 0.972), (7, 1.046), (8, 1.109)]
)
def test_a_cap_that_is_not_shallow_lies_a_little_above(size: float, published: float) -> None:
    unit = classical(100.0, 1.0)
    path = push(100.0, angle_of(size, 100.0), NEVER, unit, 2.0, 0.03)
    assert 1.01 * published < path.limit / unit < 1.045 * published


def test_the_path_is_followed_where_pressure_and_pole_turn_back() -> None:
    """At lambda 6 the pole comes back while the pressure falls: only the way goes on."""
    unit = classical(100.0, 1.0)
    path = push(100.0, angle_of(6.0, 100.0), NEVER, unit, 3.0, 0.1)
    peak = int(path.pressure.argmax())
    assert path.pressure[-1] < 0.7 * path.pressure[peak]
    assert (np.diff(path.pole) < 0.0).any()


@pytest.mark.parametrize(
    ("half_angle", "published"), [(15, 75.9), (20, 56.3), (30, 43.1), (40, 41.9), (50, 41.0)]
)
def test_plastic_cap_collapses_at_the_published_pressure(
    half_angle: float, published: float
) -> None:
    path = push(12.5, math.radians(half_angle), Voce(250.0, 0.0, 1.0), 40.0, 2.0, 0.02)
    assert path.limit == pytest.approx(published, rel=0.03)
