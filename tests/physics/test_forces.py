"""Trends of the drawing force, and strips pulled over a radius."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from formsim.case.stage import DrawFriction
from formsim.geometry.outline import Outline, arc, line
from formsim.material.flow import Voce
from formsim.solver.contact import tuning
from formsim.solver.newton import Newton
from formsim.solver.problem import NodalLoad, Problem, Scales, Support, Tool, material_data
from formsim.solver.stepping import Steps
from tests.physics.support import (
    axial,
    first_draw,
    form_first,
    metal,
    named_case,
    radial,
    run,
    strip,
    with_stage,
)

pytestmark = pytest.mark.slow
STROKE = 10.0


@cache
def peak(friction=0.08, holder=2300.0, die_radius=4.0):
    """Peak punch force of the small steel cup, drawn until after the peak [N]."""
    case = named_case("small_cup_steel")
    stage = first_draw(case)
    changed = with_stage(
        case,
        friction=DrawFriction(punch=friction, die=friction, holder=friction),
        holder=stage.holder.model_copy(update={"force": holder}),
        die=stage.die.model_copy(update={"radius": die_radius}),
        stroke=STROKE,
    )
    formed = form_first(changed)
    force = formed.forces("punch")
    assert force.argmax() < len(force) - 1
    return float(force.max())


def test_force_rises_with_friction():
    """B6 (standard forms, memory): every force formula grows with friction."""
    assert peak(friction=0.0) < peak(friction=0.04) < peak() < peak(friction=0.12)


def test_force_rises_with_holder_force():
    """B6: the term of the holder is 2 mu F, times exp(mu pi/2) over the die (memory); 25 %."""
    low, middle, high = peak(holder=500.0), peak(), peak(holder=8000.0)
    assert low < middle < high
    expected = 2 * 0.08 * (8000.0 - 500.0) * np.exp(0.08 * np.pi / 2)
    assert high - low == pytest.approx(expected, rel=0.25)


def test_force_rises_with_smaller_die_radius():
    """B6: bending and unbending cost t/(2 rho) of the yield force (memory)."""
    assert peak(die_radius=6.0) < peak() < peak(die_radius=2.0)


def test_peak_force_of_the_ideal_cup_is_exceeded():
    """B6: the ideal force pi d t s ln(D/d) is a lower bound of the real one.

    Taken at the mean strain of a flange drawn by a tenth, with the yield curve of the case.
    """
    case = named_case("small_cup_steel")
    stress = 1152.4 * (0.005 + 0.1) ** 0.15
    ideal = np.pi * 30.5 * case.sheet.thickness * stress * np.log(52.0 * 0.9 / 31.0)
    assert ideal < peak() < ideal / 0.5


FAR = 1e5
"""Radius at which a ring is a strip in plane strain [mm]."""


def moved_out(body, shift):
    """The body further from the axis: radii in the thousands of columns upset the facet basis."""

    def moved(face):
        radius = np.einsum("fqa,fa->fq", face.shape, body.nodes[face.nodes, 0])
        return replace(face, weight=face.weight * (1.0 + shift / radius))

    return replace(
        body,
        nodes=body.nodes + [shift, 0.0],
        radius=body.radius + shift,
        volume=body.volume * (1.0 + shift / body.radius),
        faces={name: moved(face) for name, face in body.faces.items()},
    )


@dataclass(frozen=True)
class Edge:
    """A quarter turn of a strip over an edge: thickness, radius [mm], friction, columns on it."""

    thickness: float
    radius: float
    friction: float = 0.0
    columns: int = 12

    @property
    def middle(self):
        return self.radius + 0.5 * self.thickness

    @property
    def quarter(self):
        return 0.5 * np.pi * self.middle

    def outline(self):
        far, low = 50.0 * self.radius, -self.radius
        wall = line((FAR + low, -far), (FAR + low, low))
        turn = arc((FAR, low), self.radius, 1.0, 0.5 * np.pi, np.pi)
        return Outline(np.array([wall, turn, line((FAR, 0.0), (FAR + far, 0.0))]))

    def lead(self, overhang, stroke):
        """Displacement of the leading end: unrolled round the edge, then straight down."""
        angle = min(stroke / self.middle, 0.5 * np.pi)
        down = max(0.0, stroke - self.quarter)
        rest = overhang - self.middle * angle
        r = -self.middle * np.sin(angle) - rest * np.cos(angle) + overhang
        z = -self.middle * (1.0 - np.cos(angle)) - rest * np.sin(angle) - down
        return r, z


def pulled_strip(edge, material, tension, travel):
    """Pulling force per width of a strip held back by a dead force per width, steady [N/mm].

    It is wound round the edge by its leading end and then pulled down ``travel`` quarter turns.
    """
    quarter, size = edge.quarter, edge.quarter / edge.columns
    overhang = 1.3 * quarter
    grid = np.arange(-overhang, (travel + 1.0) * quarter, size)
    base = 10.0 * quarter
    body = moved_out(strip(base + grid, np.linspace(0.0, edge.thickness, 3)), FAR - base)
    contact = tuning(edge.thickness, material.yield_stress)
    dead = np.zeros(body.n_unknowns)
    dead[radial(body, "rim")] = np.array([1, 4, 2, 4, 1]) / 12 * tension * 2 * np.pi * FAR
    lead = body.edge_nodes("centre")[2:3]
    supports = (
        Support(2 * lead, lambda s: edge.lead(overhang, s)[0]),
        Support(2 * lead + 1, lambda s: edge.lead(overhang, s)[1]),
        Support(axial(body, "rim")),
    )
    gap = 5.0 * contact.softness
    # The force scale of a ring this wide is its whole section, not the sheet thickness squared.
    stress = material.yield_stress * 0.5 * np.pi * FAR / edge.thickness
    task = Problem(
        body,
        material_data(material),
        Scales(edge.thickness, stress),
        contact,
        tools=(Tool("edge", edge.outline(), "bottom", edge.friction, lambda _: -gap),),
        supports=supports,
        loads=NodalLoad(dead, lambda s: min(1.0, s / (0.02 * quarter))),
    )
    end = (1.0 + travel) * quarter
    steps = Steps(0.002 * quarter, 0.2 * size, 1e-6 * quarter)
    frames = run(task, [end], steps, method=Newton(tolerance=1e-6))
    late = [f.force(2 * lead + 1) for f in frames if f.state.stroke > end - 0.5 * quarter]
    return -float(np.mean(late)) / (2 * np.pi * FAR)


@pytest.mark.parametrize("radius", [6.0, 10.0])
def test_bending_and_unbending_raise_the_tension(radius):
    """B7: Yp t**2/(2 rho), 10 % for rho >= 5 t (closed form, rigid-plastic at small tension)."""
    level, thickness = 200.0, 1.0
    plane = 2.0 * level / np.sqrt(3.0)
    rigid = metal(Voce(level, 0.0, 1.0), 700e3, 0.3)
    tension = 0.05 * plane * thickness
    edge = Edge(thickness, radius)
    rise = pulled_strip(edge, rigid, tension, 1.0) - tension
    assert rise == pytest.approx(plane * thickness**2 / (2.0 * edge.middle), rel=0.10)


@pytest.mark.parametrize("friction", [0.0, 0.2])
def test_friction_round_an_edge(friction):
    """B7: T2 = T1 exp(mu theta) (closed form), for a strip that bends elastically alone."""
    springy = metal(Voce(1000.0, 0.0, 1.0), 70e3, 0.3)
    pulled = pulled_strip(Edge(1.0, 50.0, friction), springy, 20.0, 0.7)
    assert pulled == pytest.approx(20.0 * np.exp(friction * np.pi / 2), rel=0.01)
