"""Functions of the vector code: logarithm, flow curve from its table."""

import numpy as np
import pytest

from formsim.kernels import kernel
from formsim.material.flow import Swift, Voce
from formsim.material.table import flow_table
from formsim.solver.curves import flow_cell, flow_stress, log

POINTS, TOP = 4096, 10.0
STEP = np.sqrt(TOP) / (POINTS - 1)
LAST = POINTS - 2
CURVES = {"voce": Voce(405.0, 105.0, 18.0, 0.0), "swift": Swift(500.0, 0.01, 0.2)}


@kernel
def all_logs(x, y):
    for i in range(len(x)):
        y[i] = log(x[i])


def looked_up(table, ep):
    cell = flow_cell(STEP, LAST, ep)
    return flow_stress(*table[int(cell)], *table[int(cell) + 1], STEP, cell, LAST, ep)


def test_logarithm_to_the_last_places():
    rng = np.random.default_rng(0)
    near = 1.0 + rng.choice([-1.0, 1.0], 2000) * 10.0 ** rng.uniform(-15, -0.5, 2000)
    x = np.concatenate([10.0 ** rng.uniform(-30, 30, 2000), near, [1.0, 2.0, 0.5, np.sqrt(0.5)]])
    y = np.empty_like(x)
    all_logs(x, y)
    np.testing.assert_allclose(y, np.log(x), rtol=1e-15, atol=0)


@pytest.mark.parametrize("name", CURVES)
def test_flow_curve_and_slope_follow_the_law(name):
    """The table holds to 1e-6 of the stress, see ``flow_table``."""
    curve = CURVES[name]
    table = flow_table(curve, TOP, POINTS)
    for ep in (1e-8, 3e-7, 1e-4, 0.02, 0.5, 3.0, 9.99):
        value, slope = looked_up(table, ep)
        assert value == pytest.approx(curve.stress(np.array(ep)), rel=1e-6)
        assert slope == pytest.approx(curve.slope(np.array(ep)), rel=1e-3, abs=1e-6)


def test_flow_curve_is_straight_beyond_its_table():
    table = flow_table(CURVES["swift"], TOP, POINTS)
    (at_end, slope), (value, further) = looked_up(table, TOP), looked_up(table, TOP + 2.0)
    assert at_end == pytest.approx(table[-1, 0], rel=1e-14)
    assert further == slope
    assert value == pytest.approx(at_end + 2.0 * slope, rel=1e-12)


@pytest.mark.parametrize("ep", [np.nan, np.inf, -1.0, 1e300])
def test_no_plastic_strain_leads_out_of_the_table(ep):
    assert 0 <= int(flow_cell(STEP, LAST, ep)) <= LAST
