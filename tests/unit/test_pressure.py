"""Fluid pressure: exact tangent, volume and its gradient."""

from dataclasses import replace

import numpy as np
import pytest

from formsim.solver.newton import System
from formsim.solver.pressure import pressure_forces
from formsim.solver.problem import Pressure
from tests.unit.solid import at_rest, block, dense, problem, rough, slopes


def pressed(edge="bottom", side=1.0, value=30.0):
    """System under a given pressure, its state and a rough displacement."""
    body = block(columns=3, layers=1, length=3.0, height=1.0, inner=4.0)
    system = System(problem(body, pressures=(Pressure(edge, side, given=lambda _: value),)))
    return system, at_rest(system, [value]), rough(body, 0.08)


def enclosed(body, edge, u):
    """``pi int r**2 z'`` over a face, as the kernel returns it [mm3]."""
    faces = body.faces[edge]
    block, force = np.zeros((len(body.elements), 16, 16)), np.zeros((len(body.elements), 16))
    places = (faces.element, faces.local, faces.nodes)
    column = np.zeros(body.n_unknowns)
    return pressure_forces(u, body.nodes, *places, 1.0, block, force, column, False)


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("edge", ["bottom", "top", "rim"])
def test_tangent_is_the_derivative_of_the_force(edge, side):
    """Pressure alone: what it adds to the tangent of the body without it."""
    system, start, u = pressed(edge, side)
    bare = System(replace(system.problem, pressures=()))
    rest = at_rest(bare)

    def force(x):
        with_it = system.evaluate(start, 0.0, x, start.positions, False).residual
        return with_it - bare.evaluate(rest, 0.0, x, rest.positions, False).residual

    system.evaluate(start, 0.0, u, start.positions, True)
    bare.evaluate(rest, 0.0, u, rest.positions, True)
    body = system.problem.body
    stiff = dense(body, system.scratch.block - bare.scratch.block)
    found = slopes(force, u, 1e-3)
    assert np.abs(stiff - found).max() < 1e-7 * np.abs(stiff).max()


def test_volume_gradient_is_the_nodal_force():
    """dV/du is the force of a unit pressure, apart from the ends of the open face."""
    system, start, u = pressed()
    body = system.problem.body
    bare = System(replace(system.problem, pressures=()))
    rest = at_rest(bare)

    def volume(x):
        return np.array([enclosed(body, "bottom", x)])

    def force(x):
        with_it = system.evaluate(start, 0.0, x, start.positions, False).residual
        return (with_it - bare.evaluate(rest, 0.0, x, rest.positions, False).residual) / -30.0

    gradient, unit = slopes(volume, u, 1e-3)[0], force(u)
    first, last = body.faces["bottom"].nodes[0, 0], body.faces["bottom"].nodes[-1, 2]
    places = body.nodes + u.reshape(-1, 2)
    unit[2 * last + 1] += np.pi * places[last, 0] ** 2
    unit[2 * first + 1] -= np.pi * places[first, 0] ** 2
    np.testing.assert_allclose(gradient, unit, atol=1e-8 * np.abs(unit).max())


def test_volume_of_a_cylinder():
    """pi r**2 h of the face ``rim`` (geometry)."""
    body = block(columns=3, layers=1, length=3.0, height=1.0, inner=4.0)
    volume = enclosed(body, "rim", np.zeros(body.n_unknowns))
    assert abs(volume) == pytest.approx(np.pi * 7.0**2 * 1.0, rel=1e-12)


def test_pressure_from_below_lifts():
    """Axial force of an even face: pressure times its ring area, on the right of the walk."""
    system, start, u = pressed("bottom", -1.0)
    balance = system.evaluate(start, 0.0, np.zeros_like(u), start.positions, False)
    expected = -30.0 * np.pi * (7.0**2 - 4.0**2)
    assert balance.residual[1::2].sum() == pytest.approx(expected, rel=1e-10)


def test_unknown_pressure_has_an_exact_border():
    """Column and row of the pressure that a displacement asks for, by differences."""
    body = block(columns=3, layers=1, length=3.0, height=1.0, inner=4.0)
    control = 2 * int(body.edge_nodes("rim")[0]) + 1
    fluid = Pressure("bottom", -1.0, control=control, target=lambda s: s)
    system = System(problem(body, pressures=(fluid,)))
    start, u = at_rest(system, [20.0]), rough(body, 0.05)
    system.evaluate(start, 0.1, u, np.array([20.0]), True)
    column, row = system.scratch.column[0].copy(), system.scratch.row[0].copy()
    by_pressure = slopes(
        lambda p: system.evaluate(start, 0.1, u, p, False).residual, np.array([20.0]), 0.1
    )
    free = np.setdiff1d(np.arange(body.n_unknowns), system.problem.fixed)
    np.testing.assert_allclose(column[free], by_pressure[free, 0], atol=1e-7 * np.abs(column).max())
    by_place = slopes(
        lambda x: system.evaluate(start, 0.1, x, np.array([20.0]), False).border_residual, u, 1e-3
    )
    np.testing.assert_allclose(row, by_place[0], atol=1e-7 * np.abs(row).max())
