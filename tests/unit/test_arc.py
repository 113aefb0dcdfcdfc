"""Length of way: its size and its derivatives."""

import numpy as np
import pytest

from formsim.solver.arc import arc, stopped
from formsim.solver.newton import System
from formsim.solver.problem import Pressure
from tests.unit.solid import at_rest, block, problem, rough, slopes


def test_way_is_made_up_of_mean_displacement_and_load():
    """Three thicknesses everywhere along one direction and four units of load make five."""
    du = np.zeros(20)
    du[1::2] = 1.5
    found = arc(du, 80.0, unit=20.0, length=0.5)
    assert found.way == pytest.approx(2.5)


def test_at_a_standstill_the_load_goes_first():
    found = arc(np.zeros(8), 0.0, unit=20.0, length=0.5)
    assert found.way == 0.0
    assert not found.by_displacement.any()
    assert found.by_load == 0.5 / 20.0


def test_an_increment_ends_where_its_load_is_reached():
    """Way 2.5 of 3 with 10 MPa left, which are 0.25 of way by 20 MPa for 0.5: the load is first."""
    du = np.zeros(20)
    du[1::2] = 1.5
    found = arc(du, 80.0, unit=20.0, length=0.5)
    assert stopped(found, 3.0, np.inf, 20.0, 0.5) == found
    assert stopped(found, 3.0, 30.0, 20.0, 0.5) == found
    load = stopped(found, 3.0, 10.0, 20.0, 0.5)
    assert load.way - 3.0 == pytest.approx(-0.25)
    assert not load.by_displacement.any()
    assert load.by_load == 0.5 / 20.0


def test_border_of_a_pressure_along_the_path_is_exact():
    """Row and slope by differences."""
    body = block(columns=3, layers=1, length=3.0, height=1.0, inner=4.0)
    system = System(problem(body, pressures=(Pressure("bottom", -1.0, unit=30.0),)))
    start, u, here = at_rest(system, [20.0]), rough(body, 0.05), np.array([26.0])
    balance = system.evaluate(start, 0.1, u, here, True)
    row, slope = system.scratch.row[0].copy(), balance.border_slope[0]

    def border(x, p):
        return system.evaluate(start, 0.1, x, p, False).border_residual

    np.testing.assert_allclose(
        row, slopes(lambda x: border(x, here), u, 1e-4)[0], atol=1e-7 * np.abs(row).max()
    )
    assert slope == pytest.approx(slopes(lambda p: border(u, p), here, 0.01)[0, 0], rel=1e-7)
