"""What a flanging or flaring step did: width and slope of the flange, strain of its edge."""

from __future__ import annotations

import math
from dataclasses import dataclass

from formsim.case.stage import Flange
from formsim.results.closed_form import Row
from formsim.results.curve import face_lines, middle_line
from formsim.results.forces import peak_forces
from formsim.results.necking import mean_flow, rim_ring, rim_row
from formsim.results.record import StageRecord
from formsim.results.theory import flanging
from formsim.results.thickness import thickness_profile
from formsim.solver.body import Body
from formsim.solver.state import State
from formsim.stages.flange import rim_slope

AWAY = 5.0
"""Angle between rim and tool face worth a note [deg]."""


@dataclass(frozen=True)
class FlangeSize:
    """Flange of a part.

    Attributes
    ----------
    diameter : largest diameter of the rim [mm]
    width : from the inside of the narrowest place near the rim to the rim [mm]
    short_of_flat : angle the rim lacks to lie flat, negative beyond [deg]
    thickness : of the edge, true to volume [mm]
    """

    diameter: float
    width: float
    short_of_flat: float
    thickness: float


def flange_size(body: Body, state: State) -> FlangeSize:
    """Size of the flange at the rim."""
    places = state.places(body)
    outer = float(places[body.edge_nodes("rim"), 0].max())
    inside = face_lines(body, state)[2].knots
    return FlangeSize(
        diameter=2.0 * outer,
        width=outer - float(inside[len(inside) // 2 :, 0].min()),
        short_of_flat=90.0 - math.degrees(rim_slope(body, state)),
        thickness=float(thickness_profile(body, state).volume_thickness[-1]),
    )


def edge_strain(record: StageRecord) -> float:
    """Log hoop strain of the middle of the edge by this stage, springback included [-]."""
    before, after = (_edge_radius(record.body, s) for s in (record.frames[0].state, record.final))
    return math.log(after / before)


def total_edge_strain(record: StageRecord) -> float:
    """Log hoop strain of the edge since the first stage, necking and flanging together [-]."""
    first = float(middle_line(record.body, record.body.nodes).knots[-1, 0])
    return math.log(_edge_radius(record.body, record.final) / first)


def flange_notes(record: StageRecord, stage: Flange) -> tuple[str, ...]:
    """What an engineer should know about a finished flange beside its numbers."""
    size = flange_size(record.body, record.final)
    lacks = size.short_of_flat - (90.0 - stage.tool.angle)
    if abs(lacks) < AWAY:
        return ()
    side = "short of" if lacks > 0.0 else "beyond"
    return (f"the rim stands {abs(lacks):.0f} degrees {side} the face of the tool",)


def flange_rows(record: StageRecord, stage: Flange) -> list[Row]:
    """Closed forms beside the simulated numbers of a flanging step."""
    start = record.frames[0].state
    before, after = rim_ring(record.body, start), rim_ring(record.body, record.formed)
    flow = mean_flow(record, abs(math.log(after.diameter / before.diameter)))
    peak = peak_forces(record)["tool"]

    def flaring() -> float:
        mean = 0.5 * (before.thickness + after.thickness)
        angle, friction = stage.tool.angle, stage.friction.tool
        edges = [2.0 * _edge_radius(record.body, s) for s in (start, record.formed)]
        return flanging.flaring_load(flow, edges[0], edges[1], mean, angle, friction)

    return [
        Row(
            f"{record.name}: load without bending",
            "N",
            flaring,
            peak,
            "plane-stress cone, Hill 1950 (memory)",
            "bending over the round of the tool",
        ),
        rim_row(record, "edge", before, after),
    ]


def _edge_radius(body: Body, state: State) -> float:
    return float(face_lines(body, state)[1].knots[-1, 0])
