"""Pressurise: fluid on the inside of a finished body, through the limit or up to a pressure.

The pressure follows the path of the body (``solver/arc.py``), so that the limit is passed and not
run into, also where displacement and volume turn back. So it does up to a pressure that is asked
for: a body that holds less shows the same limit, whatever was asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from formsim.case.stage import Pressurise
from formsim.errors import ConvergenceError
from formsim.geometry.outline import chain
from formsim.material.model import Material
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Pressure, Tool
from formsim.solver.state import Increment, State
from formsim.stages.gauges import strength_gauges
from formsim.stages.plan import NEAR, Fails, GivesWay, Plan, face_points, rest_height
from formsim.stages.wall import hold_seam, mean_rim

SCALE = 0.25
"""Pressure a domed base may bear over ``yield stress t / R``: sets increments, nothing else."""

UNITS = 10.0
"""Way in thicknesses that a rise to that pressure counts for."""

STRIDE = 0.3
"""Longest increment over the usual one; the limit changes by 0.1 % with a third of it."""

CLEAR = 4.5
"""Gap of a stand under a body whose rim is held, in softnesses of contact: no force yet."""

SLIGHT = 0.02
"""Share of that pressure below which a peak is only the base settling on a stand."""

FALLEN = 0.85
"""Share of its peak to which the pressure has fallen when the body has given way."""

ASKED = 1.0 - 1e-9
"""Share of the pressure that is asked for at which it is reached, but for rounding."""

BURST = "burst"
"""Reason of a body that gives way under inside pressure."""

WEAKER = 'ask for less; until = "limit" follows the body further and shows where it gives way'

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
    tools = (stand(body, state, contact, gap=CLEAR),) if stage.base == "held" else ()
    way, end = UNITS * thickness, FARTHEST * thickness
    limit = stage.until == "limit"
    most = math.inf if limit else float(stage.until)
    least = SLIGHT * scale
    fails, gives_way = (None, None) if limit else _burst(len(tools), least, most, end)
    return Plan(
        tools=tools,
        end=end,
        reach=way * min(2.0, max(most / scale, 0.1)),
        frame="",
        pressures=(Pressure("top", 1.0, unit=scale / UNITS, most=most),),
        supports=(hold_seam(body, state),) if clamped else (),
        ties=() if clamped else (mean_rim(body, state, 1),),
        done=_fallen(len(tools), least, end) if limit else _reached(len(tools), most, end),
        fails=fails,
        gives_way=gives_way,
        stride=STRIDE,
        gauges=strength_gauges(body, state),
        lid="support" if clamped else "tie",
        load=lambda row: float(row.positions[len(tools)]),
        specimen=limit,
    )


def stand(
    body: Body, state: State, contact: Tuning, friction: float = 0.0, gap: float = NEAR
) -> Tool:
    """Flat stand under the base; with the usual ``gap``, in contact softnesses, it just touches."""
    outside = face_points(body, state, "bottom")
    plate = chain([(-1.0, 0.0), (2.0 * float(outside[:, 0].max()), 0.0)], [])
    at = rest_height(plate, outside, gap * contact.softness, above=False)
    return Tool("stand", plate, "bottom", friction, lambda _: at)


def gave_way(
    reached: float, asked: float, state: State, error: ConvergenceError
) -> ConvergenceError:
    """Error of a body that does not hold an inside pressure.

    Parameters
    ----------
    reached, asked : last pressure in equilibrium, and the one asked for [MPa]
    """
    message = (
        f"the body does not hold {asked:g} MPa: the last equilibrium found is at {reached:.4g} MPa"
    )
    facts = {**error.facts, "stroke": state.stroke, "pressure": reached}
    hint = 'a pressurise stage with until = "limit" tells where and how it gives way'
    return ConvergenceError(message, reason=BURST, facts=facts, hint=hint)


def _burst(place: int, least: float, asked: float, end: float) -> tuple[Fails, GivesWay]:
    """When a body has given way below the pressure it was to hold, and what to say of it then.

    It has where the pressure has fallen off a peak above ``least``, or where it tears after that
    or comes to the ``end``.

    Parameters
    ----------
    place : of the pressure among the positions
    asked : pressure that was asked for [MPa]
    """
    peak, held, stable = 0.0, 0.0, True

    def fails(state: State, rows: tuple[Increment, ...]) -> ConvergenceError | None:
        nonlocal peak, held, stable
        for row in rows:
            pressure = float(row.positions[place])
            stable = stable and (row.unstable == 0 or pressure <= least)
            peak, held = max(peak, pressure), max(held, pressure) if stable else held
        reached = float(state.positions[place])
        far = state.stroke >= end - 1e-9 and reached < ASKED * asked
        if least < peak and (reached < FALLEN * peak or (far and reached < held)):
            return _at_most(held, asked, state)
        return ConvergenceError("the body goes on growing", reason="unfinished") if far else None

    def says(state: State, error: ConvergenceError) -> ConvergenceError:
        if error.reason == BURST:
            return error
        reached = float(state.positions[place])
        if max(least, reached) < held:
            return _at_most(held, asked, state)
        return gave_way(reached, asked, state, error)

    return fails, says


def _at_most(held: float, asked: float, state: State) -> ConvergenceError:
    message = f"the body does not hold {asked:g} MPa: it gives way at {held:.4g} MPa"
    facts = {"stroke": state.stroke, "pressure": held}
    return ConvergenceError(message, reason=BURST, facts=facts, hint=WEAKER)


def _fallen(place: int, least: float, end: float) -> Callable[[State, Increment], bool]:
    """Ends the stage when the pressure has fallen off a peak above ``least``."""
    peak = 0.0

    def done(state: State, row: Increment) -> bool:
        nonlocal peak
        pressure = float(row.positions[place])
        peak = max(peak, pressure)
        return least < peak and pressure < FALLEN * peak or state.stroke >= end - 1e-9

    return done


def _reached(place: int, asked: float, end: float) -> Callable[[State, Increment], bool]:
    """Ends the stage at the pressure that is asked for."""

    def done(state: State, row: Increment) -> bool:
        return float(row.positions[place]) >= ASKED * asked or state.stroke >= end - 1e-9

    return done
