"""Clamped elastic plate at large deflection."""

import numpy as np
import pytest

from formsim.solver.problem import Pressure, Support
from formsim.solver.stepping import Steps
from tests.physics.support import NEVER, at, axial, metal, problem, radial, run, strip
from tests.references import plate

RADIUS, THICKNESS, YOUNG = 100.0, 1.0, 200e3


def test_clamped_plate():
    """1 % for t/a <= 0.02 (computed from von Karman's equations)."""
    grid = RADIUS * (1.0 - np.linspace(1.0, 0.0, 41) ** 1.3)
    body = strip(grid, np.linspace(0.0, THICKNESS, 3))
    rim = Support(np.concatenate([radial(body, "rim"), axial(body, "rim")]))
    unit = YOUNG * (THICKNESS / RADIUS) ** 4
    fluid = Pressure("bottom", -1.0, given=lambda load: unit * load)
    elastic = metal(NEVER, YOUNG, 0.3)
    task = problem(body, elastic, THICKNESS, pressures=(fluid,), supports=(rim,))
    loads = list(plate.DEFLECTION)
    pole = body.axis_nodes()
    frames = at(run(task, loads, Steps(0.5, 10.0, 1e-4)), loads)
    deflection = [f.state.u[2 * pole + 1].mean() / THICKNESS for f in frames]
    assert deflection == pytest.approx(list(plate.DEFLECTION.values()), rel=0.01)
