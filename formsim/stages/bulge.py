"""Bulge: a clamped disc is blown up by fluid pressure to a given pole height."""

from __future__ import annotations

from formsim.case.stage import Bulge
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Pressure
from formsim.solver.state import State
from formsim.stages.plan import Plan
from formsim.stages.wall import mean_rim


def plan_bulge(stage: Bulge, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Pressure from below, as large as the pole height asks for.

    The rim is held in its mean: a sharp clamp edge holds a membrane but not its slope, and a rim
    held node by node would bend and shear off in its last column.
    """
    pole = 2 * int(body.axis_nodes().max()) + 1
    begin = float(state.u[pole])
    fluid = Pressure("bottom", -1.0, control=pole, target=lambda stroke: begin + stroke)
    return Plan(
        tools=(),
        end=stage.height,
        reach=stage.height,
        frame="",
        pressures=(fluid,),
        ties=tuple(mean_rim(body, state, component) for component in (0, 1)),
    )
