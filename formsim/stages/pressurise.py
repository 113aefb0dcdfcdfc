"""Pressurise: fluid on the inside of a finished body, through the limit or up to a pressure.

The pressure follows the path of the body (``solver/arc.py``), so that the limit is passed and not
run into, also where displacement and volume turn back.
"""

from __future__ import annotations

from collections.abc import Callable

from formsim.case.stage import Pressurise
from formsim.geometry.outline import chain
from formsim.material.model import Material
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Pressure, Tool
from formsim.solver.state import Increment, State
from formsim.stages.gauges import strength_gauges
from formsim.stages.plan import NEAR, Plan, face_points, rest_height
from formsim.stages.wall import hold_seam, mean_rim

SCALE = 0.25
"""Pressure a domed base may bear over ``yield stress t / R``: sets increments, nothing else."""

UNITS = 10.0
"""Way in thicknesses that a rise to that pressure counts for."""

STRIDE = 0.3
"""Longest increment over the usual one; the limit changes by 0.1 % with a third of it."""

FALLEN = 0.85
"""Share of its peak to which the pressure has fallen when the body has given way."""

FARTHEST = 100.0
"""Way in thicknesses at which a body that has not given way is left."""


def plan_pressurise(
    stage: Pressurise,
    thickness: float,
    body: Body,
    material: Material,
    state: State,
    contact: Tuning,
) -> Plan:
    """Fluid inside and hold of the rim; ``thickness`` is that of the blank."""
    places = state.places(body)
    radius = float(places[:, 0].max())
    scale = SCALE * float(material.yield_stress) * thickness / radius
    clamped = stage.rim == "clamped"
    tools = (stand(body, state, contact),) if stage.base == "held" else ()
    way = UNITS * thickness
    if stage.until == "limit":
        fluid, end = Pressure("top", 1.0, unit=scale / UNITS), FARTHEST * thickness
    else:
        to, end = stage.until, way * max(stage.until / scale, 0.1)
        fluid = Pressure("top", 1.0, given=lambda stroke: to * stroke / end)
    return Plan(
        tools=tools,
        end=end,
        reach=min(end, 2.0 * way),
        frame="",
        pressures=(fluid,),
        supports=(hold_seam(body, state),) if clamped else (),
        ties=() if clamped else (mean_rim(body, state, 1),),
        done=_fallen(len(tools), end) if stage.until == "limit" else None,
        stride=STRIDE,
        gauges=strength_gauges(body, state),
        specimen=stage.until == "limit",
    )


def stand(body: Body, state: State, contact: Tuning, friction: float = 0.0) -> Tool:
    """Flat stand that just touches the base from below."""
    outside = face_points(body, state, "bottom")
    plate = chain([(-1.0, 0.0), (2.0 * float(outside[:, 0].max()), 0.0)], [])
    at = rest_height(plate, outside, NEAR * contact.softness, above=False)
    return Tool("stand", plate, "bottom", friction, lambda _: at)


def _fallen(place: int, end: float) -> Callable[[State, Increment], bool]:
    """Ends the stage when the pressure, at a place among the positions, has fallen off its peak."""
    peak = 0.0

    def done(state: State, row: Increment) -> bool:
        nonlocal peak
        pressure = float(row.positions[place])
        peak = max(peak, pressure)
        return pressure < FALLEN * peak or state.stroke >= end - 1e-9

    return done
