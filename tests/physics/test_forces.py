"""Trends of the drawing force, and strips pulled over a radius (VALIDATION B6, B7)."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from formsim.case.stage import DrawFriction
from formsim.geometry.outline import Outline, arc, line
from formsim.material.flow import Voce
from formsim.solver.contact import tuning
from formsim.solver.problem import NodalLoad, Problem, Scales, Support, Tool, material_data
from formsim.solver.stepping import Steps
from tests.physics.support import (
    NEVER,
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


def pulled_strip(thickness, rho, material, tension, friction, per_arc, travel):
    """Force per width before and after a quarter turn over an edge of radius ``rho`` [N/mm].

    The strip lies flat on the edge of a die and is pulled down through the opening, while a dead
    force ``tension`` holds it back; ``travel`` in lengths of the arc.
    """
    quarter = 0.5 * np.pi * (rho + 0.5 * thickness)
    size = quarter / per_arc
    free = np.arange(0.0, (travel + 1.5) * quarter, size)
    inner = np.arange(-0.6 * quarter, 0.0, size)
    grid = np.concatenate([inner, free])
    near = 10.0 * quarter
    body = moved_out(strip(near + grid, np.linspace(0.0, thickness, 3)), FAR - near)
    edge = Outline(
        np.array(
            [
                line((FAR - rho, -50.0 * rho), (FAR - rho, -rho)),
                arc((FAR, -rho), rho, 1.0, 0.5 * np.pi, np.pi),
                line((FAR, 0.0), (FAR + 50.0 * rho, 0.0)),
            ]
        )
    )
    contact = tuning(thickness, material.yield_stress)
    gap = 3.0 * contact.softness
    hold = body.edge_nodes("rim")
    weights = np.array([1.0, 4.0, 2.0, 4.0, 1.0]) / 12.0
    dead = np.zeros(body.n_unknowns)
    dead[2 * hold] = weights * tension * 2 * np.pi * FAR
    lead = body.edge_nodes("centre")[2:3]
    supports = (Support(2 * lead + 1, lambda s: -max(s, 0.0)), Support(axial(body, "rim")))
    task = Problem(
        body,
        material_data(material),
        Scales(thickness, material.yield_stress),
        contact,
        tools=(Tool("edge", edge, "bottom", friction, lambda _: -gap),),
        supports=supports,
        loads=NodalLoad(dead, lambda s: min(1.0, s / (0.02 * quarter))),
    )
    steps = Steps(0.002 * quarter, 0.2 * size, 1e-6 * quarter)
    frames = run(task, [travel * quarter], steps)
    late = [f.force(2 * lead + 1) for f in frames if f.state.stroke > 0.8 * travel * quarter]
    return -float(np.mean(late)) / (2 * np.pi * FAR)
