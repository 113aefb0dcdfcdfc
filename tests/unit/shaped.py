"""Sheets of known shape and records of made-up stages, for tests of measures and reports."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from formsim.geometry.blank import strip_mesh
from formsim.material.flow import Voce
from formsim.material.model import Material
from formsim.results.record import Frame, Line, StageRecord
from formsim.solver.body import Body, build_body
from formsim.solver.contact import no_grip
from formsim.solver.problem import Pressure, Tool
from formsim.solver.state import Energy, Increment, State
from formsim.stages import shapes

Shape = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


def blank(inner=0.0, outer=30.0, thickness=0.5, columns=60, layers=2) -> Body:
    return build_body(
        strip_mesh(inner, outer, thickness, columns=columns, layers=layers, even_to=outer)
    )


def shaped(body: Body, shape: Shape, strain: float = 0.0) -> State:
    """State in which the node at (R, Z) lies at ``shape(R, Z)``."""
    r, z = shape(body.nodes[:, 0], body.nodes[:, 1])
    u = np.stack([r, z], axis=1) - body.nodes
    plastic = np.zeros((*body.radius.shape, 4))
    plastic[..., 3] = strain
    return State(0.0, u.ravel(), plastic, np.zeros(0), no_grip(0, 0))


def along(path: list[tuple[float, float]], thickness: float) -> Shape:
    """Shape whose middle follows a chain of arcs (length, turn [rad]) from the axis outwards."""

    def shape(radius, z):
        across = z - 0.5 * thickness
        r, h, slope = np.zeros_like(radius), np.zeros_like(radius), np.zeros_like(radius)
        left = radius.copy()
        for length, turn in path:
            s = np.clip(left, 0.0, length)
            k = turn / length
            if turn:
                r += (np.sin(slope + k * s) - np.sin(slope)) / k
                h += (np.cos(slope) - np.cos(slope + k * s)) / k
            else:
                r, h = r + s * np.cos(slope), h + s * np.sin(slope)
            slope, left = slope + k * s, left - s
        return r - across * np.sin(slope), h + across * np.cos(slope)

    return shape


def cap(radius: float, thickness: float) -> Shape:
    """Piece of a sphere with its pole on top; lengths along the middle are kept."""

    def shape(r, z):
        rho = radius + z - 0.5 * thickness
        return rho * np.sin(r / radius), rho * np.cos(r / radius)

    return shape


def increment(stroke, forces, positions, external=0.0) -> Increment:
    forces, n = np.asarray(forces, float), len(forces)
    nothing = np.zeros(n)
    return Increment(
        stroke=stroke,
        iterations=3,
        residuals=(1.0, 1e-6),
        loose=False,
        cuts=0,
        forces=forces,
        balance_forces=forces * (1 + 1e-8),
        radial=nothing,
        positions=np.asarray(positions, float),
        touching=nothing,
        mean_gap=nothing,
        rms_gap=nothing,
        deepest=nothing,
        reaction=0.0,
        energy=Energy(external=external),
    )


METAL = Material("demo", 69e3, 0.33, 2720.0, Voce(405.0, 105.0, 18.0, 0.0))


def draw_record(body: Body, states: list[State], name: str = "draw") -> StageRecord:
    """Punch at rest in the model, die 10 mm up in equal steps; punch force 100 N per mm."""
    tools = (
        Tool("die", shapes.die(21.0, 3.0, 3.0, 0.6), "bottom", 0.05, lambda s: s),
        Tool("punch", shapes.flat_punch(20.0, 4.0), "top", 0.05, lambda _: 0.5),
    )
    strokes = np.linspace(0.0, 10.0, len(states))
    frames = [
        Frame(name, "forming" if s else "start", s, state, {"die": s, "punch": 0.5})
        for s, state in zip(strokes.tolist(), states, strict=True)
    ]
    rows = [increment(s, (-100 * s, 100 * s), (s, 0.5)) for s in np.linspace(0.5, 10.0, 20)]
    formed = State(10.0, states[-1].u, states[-1].plastic, np.array([10.0, 0.5]), no_grip(0, 0))
    return StageRecord(
        name=name,
        kind="draw",
        body=body,
        material=METAL,
        frame_tool="die",
        tools=tools,
        pressures=(),
        increments=tuple(rows),
        release=(),
        frames=(*frames, Frame(name, "springback", 1.0, states[-1], {})),
        formed=formed,
        final=states[-1],
        seconds=0.1,
    )


def bulge_record(body: Body, states: list[State], name: str = "bulge") -> StageRecord:
    """Fluid pressure that grows with the stroke, 0.5 MPa per mm to 4 mm."""
    strokes = np.linspace(0.0, 4.0, len(states))
    frames = [Frame(name, "forming", s, x, {}) for s, x in zip(strokes, states, strict=True)]
    rows = [increment(s, (), (0.5 * s,), external=2000.0 * s) for s in (1.0, 2.0, 3.0, 4.0)]
    return StageRecord(
        name=name,
        kind="bulge",
        body=body,
        material=METAL,
        frame_tool="",
        tools=(),
        pressures=(Pressure("bottom", -1.0, control=1, target=lambda s: s),),
        increments=tuple(rows),
        release=(),
        frames=tuple(frames),
        formed=states[-1],
        final=states[-1],
        seconds=0.1,
    )


def line_of(body: Body, *records: StageRecord, thickness: float = 0.5) -> Line:
    return Line(body, METAL, thickness, float(body.nodes[:, 0].max()), records)
