"""Bulge: a clamped disc is blown up by fluid pressure to a given pole height."""

from __future__ import annotations

import numpy as np

from formsim.case.stage import Bulge
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Pressure, Support
from formsim.solver.state import State
from formsim.stages.plan import Plan


def plan_bulge(stage: Bulge, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Pressure from below, as large as the pole height asks for; the rim is held."""
    rim = body.edge_nodes("rim")
    clamped = Support(np.concatenate([2 * rim, 2 * rim + 1]))
    pole = 2 * int(body.axis_nodes().max()) + 1
    begin = float(state.u[pole])
    fluid = Pressure("bottom", -1.0, control=pole, target=lambda stroke: begin + stroke)
    return Plan(tools=(), end=stage.height, reach=stage.height, frame="", pressures=(fluid,), supports=(clamped,))
