"""Thick tube in plane strain, expanded from inside far beyond yield."""

import numpy as np
import pytest

from formsim.material.flow import Swift, Voce
from formsim.solver.newton import Newton
from formsim.solver.problem import Support
from formsim.solver.stepping import Steps
from tests.physics.support import at, metal, problem, radial, run, strip
from tests.references import thick_tube

INNER, OUTER, LENGTH = 10.0, 20.0, 0.5


def expand(material, strokes, columns, first):
    body = strip(np.linspace(INNER, OUTER, columns + 1), np.array([0.0, LENGTH]))
    wall = radial(body, "centre")
    everywhere = 2 * np.arange(len(body.nodes)) + 1
    supports = (Support(everywhere), Support(wall, lambda s: s))
    task = problem(body, material, 1.0, supports=supports)
    # K/Y is 80 000 in A1: rounding of a displacement of 75 mm alone is 3e-7 of the force.
    method = Newton(tolerance=1e-6)
    frames = at(run(task, strokes, Steps(first, 0.5, 1e-6), method=method), strokes)
    areas = [2 * np.pi * (INNER + s) * LENGTH for s in strokes]
    return body, frames, [f.force(wall) / a for f, a in zip(frames, areas, strict=True)]


def test_large_expansion_without_hardening():
    """A1: 1 % after first yield; Prager and Hodge 1951, Cardiff et al. 2017 (read)."""
    bulk, shear = 40e3, 3.8e3
    young = 9 * bulk * shear / (3 * bulk + shear)
    poisson = (3 * bulk - 2 * shear) / (2 * (3 * bulk + shear))
    table = thick_tube.PERFECT_INNER_STRESS
    strokes = [a - INNER for a in table if a > INNER]
    perfect = metal(Voce(0.5, 0.0, 1.0), young, poisson)
    pressure = expand(perfect, strokes, 20, 0.002)[2]
    expected = [-table[INNER + s] for s in strokes]
    assert pressure == pytest.approx(expected, rel=0.01)


def test_large_expansion_with_swift_hardening():
    """A2: 1 % from inner radius 12 on, E = 70 GPa (computed)."""
    table = {a: p for a, p in thick_tube.SWIFT_PRESSURE.items() if a >= 12.0}
    strokes = [a - INNER for a in table]
    pressure = expand(metal(Swift(500.0, 0.01, 0.2), 70e3, 0.3), strokes, 20, 0.01)[2]
    assert pressure == pytest.approx(list(table.values()), rel=0.01)


def test_plastic_front_of_the_small_strain_tube():
    """A2: pressure against the radius of the plastic front, 1 %; Hill 1950 (memory).

    The closed form holds for an incompressible elastic part, so Poisson's ratio is 0.495.
    """
    level, young = 100.0, 200e3
    strokes = [0.008, 0.01, 0.012, 0.014]
    stiff = metal(Voce(level, 0.0, 1.0), young, 0.495)
    body, frames, pressure = expand(stiff, strokes, 60, 0.002)
    for frame, p in zip(frames, pressure, strict=True):
        flows = frame.state.strain > 0.0
        front = 0.5 * (body.radius[flows].max() + body.radius[~flows].min())
        exact = thick_tube.elastic_plastic_pressure(front, INNER, OUTER, level)
        assert p == pytest.approx(exact, rel=0.01)
    assert frames[0].state.strain.min() == 0.0


def test_volume_of_the_tube_is_kept_apart_from_its_elastic_part():
    """Plastic flow keeps volume (definition); the rest is pressure over bulk modulus."""
    flow, young, poisson = Swift(500.0, 0.01, 0.2), 70e3, 0.3
    body, (frame,), _ = expand(metal(flow, young, poisson), [10.0], 20, 0.01)
    places = frame.state.places(body)
    outer = places[body.edge_nodes("rim"), 0].mean()
    ratio = (outer**2 - 20.0**2) / (OUTER**2 - INNER**2)
    mean_stress = 3 * flow.stress(1.0)
    assert abs(ratio - 1.0) < mean_stress / (young / (1 - 2 * poisson))
