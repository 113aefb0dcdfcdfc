"""Neck: a die comes down over the rim of a body and pushes it into its narrower throat.

The wall is held along the axis well below the neck; a pilot that moves with the die keeps the rim
at the throat. What an axisymmetric calculation would go on with silently is looked for after every
increment: a rim that curls in, a wall that yields under the load.
"""

from __future__ import annotations

import math

import numpy as np

from formsim.case.stage import Neck
from formsim.case.tools import NeckDie
from formsim.errors import ConvergenceError, GeometryError
from formsim.geometry.outline import Outline, chain
from formsim.material.model import Material
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.problem import Tool
from formsim.solver.state import Increment, State
from formsim.stages.drawn import outline_of
from formsim.stages.plan import APART, Fails, Plan, face_points, rest_height
from formsim.stages.roles import NECK_DIE, PILOT
from formsim.stages.shapes import TALL
from formsim.stages.wall import (
    STRIDE,
    held_line,
    hold_axially,
    middle_points,
    wall_strength,
)

GUIDE = 0.25
"""Gap per side between the widest place of the body and the bore that guides it, in thicknesses;
common practice, no source."""

BORE, BLOCK = 3.0, 30.0
"""Length of that bore below the cone in entry radii, and how thick the die is drawn [mm]."""

RELIEF = 2.0
"""How far the die steps back behind its land, in thicknesses."""

FITS = 0.98
"""Share of the step in radius that both arcs of a die may take; the cone between takes the rest."""

PAST, OFF = 0.5, 3.0
"""How far inside a pilot, and inside a throat without one, a rim has curled away, in
thicknesses."""

RIPPLE, FOLDED = 3.0, 1.0
"""Reach of the bending at the entry of the die into the wall in ``sqrt(R t)``, and how far a wall
below it has moved sideways when it folds, in thicknesses."""

NOSE = 3.0
"""Depth of the taper at the end of a pilot [mm]."""


def die_angle(die: NeckDie, guide: float) -> float:
    """Angle of the cone, less than asked where the step leaves no room for both arcs [rad].

    Parameters
    ----------
    guide : radius of the bore above the cone [mm]
    """
    step, arcs = guide - 0.5 * die.diameter, die.entry_radius + die.throat_radius
    return min(math.radians(die.angle), math.acos(1.0 - min(1.0, FITS * step / arcs)))


def cone_height(die: NeckDie, guide: float) -> float:
    """Height of the sharp corner of the throat above that of the entry [mm]."""
    return (guide - 0.5 * die.diameter) / math.tan(die_angle(die, guide))


def die_outline(die: NeckDie, guide: float, thickness: float) -> Outline:
    """Die around the rim, the sharp corner of its entry at z = 0, throat and land above it."""
    return outline_of(die.outline, NECK_DIE, lambda: _built_die(die, guide, thickness))


def _built_die(die: NeckDie, guide: float, thickness: float) -> Outline:
    throat, height = 0.5 * die.diameter, cone_height(die, guide)
    land = height + die.throat_radius * math.tan(0.5 * die_angle(die, guide)) + die.land
    relief = RELIEF * thickness
    bore = -BORE * die.entry_radius
    points = [
        (guide + BLOCK, bore),
        (guide, bore),
        (guide, 0.0),
        (throat, height),
        (throat, land),
        (throat + relief, land + 4.0 * relief),
        (throat + relief, land + TALL),
    ]
    return chain(points, [relief, die.entry_radius, die.throat_radius, 2.0 * relief, 2.0 * relief])


def pilot_outline(stage: Neck, guide: float) -> Outline:
    """Pilot in the throat; it reaches as far below the corner of the throat as the land is long."""
    drawing = stage.pilot.outline if stage.pilot else None
    return outline_of(drawing, PILOT, lambda: _built_pilot(stage, guide))


def _built_pilot(stage: Neck, guide: float) -> Outline:
    clearance = stage.pilot.clearance if stage.pilot else 0.0
    edge = stage.pilot.edge_radius if stage.pilot else 0.0
    radius, height = 0.5 * stage.die.diameter - clearance, cone_height(stage.die, guide)
    end = height - stage.die.land
    taper = min(NOSE, 0.5 * radius)
    foot = end - taper / 3.0
    points = [(radius, height + TALL), (radius, end), (radius - taper, foot), (-1.0, foot)]
    return chain(points, [edge, edge])


def plan_neck(
    stage: Neck, thickness: float, body: Body, material: Material, state: State, contact: Tuning
) -> Plan:
    """Die, pilot and support of a necking step; ``thickness`` is that of the rim.

    Raises
    ------
    GeometryError : the throat is no narrower than the body, or there is no wall to hold
    """
    apart = APART * thickness
    outside = face_points(body, state, "bottom")
    guide = float(outside[:, 0].max()) + GUIDE * thickness
    rim = float(state.places(body)[body.edge_nodes("rim"), 0].max())
    if 0.5 * stage.die.diameter >= rim:
        message = (
            f"the die throat of {stage.die.diameter:g} mm is no narrower than the rim of"
            f" {2.0 * rim:.3f} mm: there is nothing to neck"
        )
        raise GeometryError(message, hint="give the die a smaller diameter")
    die = die_outline(stage.die, guide, thickness)
    die_at = rest_height(die, outside, apart, above=True)

    def path(stroke: float) -> float:
        return die_at - max(0.0, stroke + apart)

    tools = [Tool("die", die, "bottom", stage.friction.die, path)]
    if stage.pilot is not None:
        pilot = pilot_outline(stage, guide)
        tools.append(Tool("pilot", pilot, "top", stage.friction.pilot, path))
    top = float(state.places(body)[:, 1].max())
    line = held_line(body, state, max(top - (die_at - stage.depth), stage.depth))
    return Plan(
        tools=tuple(tools),
        begin=-apart,
        end=stage.depth,
        reach=stage.depth,
        frame="",
        stride=STRIDE,
        supports=(hold_axially(body, line),),
        fails=_watch(stage, thickness, body, material, state, line),
    )


def _watch(
    stage: Neck, thickness: float, body: Body, material: Material, start: State, line: int
) -> Fails:
    """Says when the wall yields or folds, or the rim curls."""
    bears, area = wall_strength(body, material, start, line)
    throat = 0.5 * stage.die.diameter
    least = throat - thickness - OFF * thickness
    if stage.pilot is not None:
        least = throat - stage.pilot.clearance - PAST * thickness
    before = middle_points(body, start)[line:]
    ripple = RIPPLE * math.sqrt(float(before[0, 0]) * thickness)

    peak = 0.0

    def fails(now: State, rows: tuple[Increment, ...]) -> ConvergenceError | None:
        nonlocal peak
        load = max(abs(float(row.forces.sum())) for row in rows)
        peak = max(peak, load)
        middle = middle_points(body, now)[line:]
        if load > bears:
            return _crushed(load, bears, area, now)
        inside = float(middle[:, 0].min()) - 0.5 * thickness
        turned = float(middle[:, 1].max() - middle[-1, 1])
        if inside < least or turned > thickness:
            return _curled(stage, 2.0 * inside, turned, now)
        below = middle[:, 1] < float(now.positions[0]) - ripple
        moved = np.abs(middle - before)[below, 0].max(initial=0.0)
        if moved > FOLDED * thickness:
            return _folded(peak, moved, now)
        return None

    return fails


def _crushed(load: float, bears: float, area: float, state: State) -> ConvergenceError:
    ratio = load / bears
    message = (
        f"the wall yields under the axial load at stroke {state.stroke:.3f} mm:"
        f" {load:.0f} N over {area:.2f} mm2 is {ratio:.2f} times its flow stress"
    )
    facts = {"stroke": state.stroke, "load": load, "crush load": bears, "stress ratio": ratio}
    hint = "a smaller step in diameter, less friction, a flatter cone"
    return ConvergenceError(message, reason="crushed", facts=facts, hint=hint)


def _curled(stage: Neck, inside: float, turned: float, state: State) -> ConvergenceError:
    where = "the throat"
    if stage.pilot is not None:
        where = f"the pilot of {stage.die.diameter - 2.0 * stage.pilot.clearance:g} mm"
    what = f"has curled in past {where}, to a diameter of {inside:.3f} mm"
    if turned > 0.0:
        what = f"turns over instead of entering the throat: its edge has sunk {turned:.3f} mm"
    message = f"the rim {what}, stroke {state.stroke:.3f} mm"
    facts = {"stroke": state.stroke, "diameter": inside, "turned": turned}
    hint = "a larger entry radius or a flatter cone, a smaller step, a longer land with a pilot"
    return ConvergenceError(message, reason="curled", facts=facts, hint=hint)


def _folded(peak: float, moved: float, state: State) -> ConvergenceError:
    message = (
        f"the wall below the die folds at stroke {state.stroke:.3f} mm: it bore {peak:.0f} N and"
        f" has moved {moved:.3f} mm sideways"
    )
    facts = {"stroke": state.stroke, "load": peak, "moved": moved}
    hint = "a smaller step in diameter, less friction, a thicker wall"
    return ConvergenceError(message, reason="folded", facts=facts, hint=hint)
