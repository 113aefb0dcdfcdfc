"""Flange: a tool whose pilot enters the neck turns the rim outwards over its round.

With a sloping face behind the round it is the flaring of a tube over a cone. The wall is held along
the axis below. A rim that leaves the tool and curls on by itself is looked for and said.
"""

from __future__ import annotations

import math

import numpy as np

from formsim.case.stage import Flange
from formsim.case.tools import FlangeTool
from formsim.errors import ConvergenceError
from formsim.geometry.distance import gaps
from formsim.geometry.outline import Outline, chain
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Tool
from formsim.solver.state import Increment, State
from formsim.stages.drawn import outline_of
from formsim.stages.plan import APART, Fails, Plan, face_points, rest_height
from formsim.stages.roles import FLANGE_TOOL
from formsim.stages.shapes import TALL
from formsim.stages.wall import STRIDE, held_line, hold_axially, middle_points

PILOT, NOSE = 2.0, 1.5
"""Length of the pilot below the corner of the round, in radii of the round, and how much it is
tapered at its end [mm]."""

OVER = math.radians(10.0)
"""Slope by which the rim may outrun the face of the tool before it is said to curl."""

LEFT = 2.0
"""Gap of the rim to the tool at which it has left it, in thicknesses."""

TURNED = 3
"""Columns before the rim whose slope is that of the rim."""


def tool_outline(tool: FlangeTool) -> Outline:
    """Pilot below, face above; the sharp corner of the round at z = 0."""
    return outline_of(tool.outline, FLANGE_TOOL, lambda: _built(tool))


def _built(tool: FlangeTool) -> Outline:
    radius, angle = 0.5 * tool.diameter, math.radians(tool.angle)
    setback = tool.radius * math.tan(0.5 * angle)
    nose = min(NOSE, 0.2 * radius)
    length = setback + PILOT * tool.radius
    points = [
        (radius + TALL * math.sin(angle), TALL * math.cos(angle)),
        (radius, 0.0),
        (radius, -length),
        (radius - nose, -length - 3.0 * nose),
        (-1.0, -length - 3.0 * nose),
    ]
    return chain(points, [tool.radius, nose, 0.5 * nose])


def plan_flange(stage: Flange, thickness: float, body: Body, state: State, contact: Tuning) -> Plan:
    """Tool and support of a flanging or flaring step; ``thickness`` is that of the rim.

    Raises
    ------
    GeometryError : there is no wall to hold below what the tool reaches
    """
    apart = APART * thickness
    outline = tool_outline(stage.tool)
    inside = face_points(body, state, "top")
    end = inside[inside[:, 1] > inside[:, 1].max() - np.ptp(outline.points()[1:, 1]), 0]
    clear = float(end.min()) - 0.5 * stage.tool.diameter
    gap = 0.5 * clear if 0.0 < clear < 2.0 * apart else apart
    at = rest_height(outline, inside, gap, above=True)

    def path(stroke: float) -> float:
        return at - max(0.0, stroke + apart)

    low = at - stage.depth + float(outline.points()[:, 1].min())
    top = float(state.places(body)[:, 1].max())
    line = held_line(body, state, max(top - low, stage.depth))
    return Plan(
        tools=(Tool("tool", outline, "top", stage.friction.tool, path),),
        begin=-apart,
        end=stage.depth,
        reach=stage.depth,
        frame="",
        stride=STRIDE,
        supports=(hold_axially(body, line),),
        fails=_watch(stage, thickness, body, outline),
    )


def rim_slope(body: Body, state: State) -> float:
    """Angle of the sheet before its rim from the axis, outwards positive [rad]."""
    middle = middle_points(body, state)
    step = middle[-1] - middle[-1 - TURNED]
    return float(math.atan2(step[0], step[1]))


def _watch(stage: Flange, thickness: float, body: Body, outline: Outline) -> Fails:
    """Says when the rim curls away from the tool."""
    most = math.radians(stage.tool.angle) + OVER

    def fails(now: State, _: tuple[Increment, ...]) -> ConvergenceError | None:
        slope = rim_slope(body, now)
        if slope > most:
            return _curls(stage, slope, 0.0, now)
        rim = body.edge_nodes("rim")[-1:]
        gap = float(gaps(outline, now.places(body)[rim] - [0.0, now.positions[0]])[0])
        if math.isfinite(gap) and gap > LEFT * thickness:
            return _curls(stage, slope, gap, now)
        return None

    return fails


def _curls(stage: Flange, slope: float, gap: float, state: State) -> ConvergenceError:
    away = f"{gap:.3f} mm off it and " if gap > 0.0 else ""
    message = (
        f"the rim has left the flange tool and curls at stroke {state.stroke:.3f} mm:"
        f" it stands {away}at {math.degrees(slope):.0f} degrees to the axis,"
        f" the face of the tool at {stage.tool.angle:g}"
    )
    facts = {"stroke": state.stroke, "slope": math.degrees(slope), "gap": gap}
    hint = "a smaller depth, a larger radius of the tool, or a second tool with a flat face"
    return ConvergenceError(message, reason="curled", facts=facts, hint=hint)
