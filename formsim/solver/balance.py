"""Residual and tangent of a problem at a trial: the one place where all forces come together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel
from formsim.solver.border import borders
from formsim.solver.contact import contact_forces
from formsim.solver.element import element_forces
from formsim.solver.hourglass import LEAST_TRAVEL, MODES, SATURATION, guard_strength, resist_modes
from formsim.solver.pressure import pressure_forces
from formsim.solver.problem import Problem
from formsim.solver.rest import RESTFUL, Rest, no_rest
from formsim.solver.state import State
from formsim.solver.tempo import NO_PACE, pace_of
from formsim.solver.touch import Touch

DEEPEST = 0.5
NO_BORDER = np.zeros(0)
QUIET = 0.1
"""Share of the stage's peak below which forces no longer set the scale of the residual."""


@dataclass
class Scratch:
    """Arrays that every evaluation overwrites; never part of a state.

    ``copied`` says which blocks are still those of elements at rest, see ``element_forces``;
    whatever else is done to a block sets it to -1.
    """

    block: Floats
    copied: Ints
    force: Floats
    drag: Floats
    pressure: Floats
    gap: Floats
    totals: Floats
    column: Floats
    row: Floats
    rest: Rest
    guard: Floats

    @property
    def altered(self) -> tuple[Floats, Ints, Floats]:
        """What is altered of an element: its block, the mark that it was, its force."""
        return self.block, self.copied, self.force


class Balance(NamedTuple):
    """Equilibrium of a trial.

    Attributes
    ----------
    residual : out-of-balance force at free unknowns, (n_unknowns) [N]
    reaction : force at fixed unknowns, (n_fixed) [N]
    border_residual : residual of the scalar unknowns, (n_border) [N] or scaled [mm]
    border_slope : its derivative with respect to its own unknown, (n_border)
    norm : relative residual
    scale : force it is relative to [N]
    size : norm of the internal forces [N]
    plastic : trial plastic state, (n_el, n_q, 4)
    elastic_energy : [N mm]
    pulls : nodal force per unit of each pressure, (n_unknowns) [mm2]
    guard_work : work of the resistance to hourglass modes in this increment [N mm]
    """

    residual: Floats
    reaction: Floats
    border_residual: Floats
    border_slope: Floats
    norm: float
    scale: float
    size: float
    plastic: Floats
    elastic_energy: float
    pulls: tuple[Floats, ...]
    guard_work: float

    @property
    def force(self) -> float:
        """Norm of the residual [N]."""
        return self.norm * self.scale


def make_scratch(problem: Problem, touch: Touch, rest: Rest | None = None) -> Scratch:
    """Work arrays of the right size; ``rest`` for elements that have been worked out before."""
    n_el, n_tools = len(problem.body.elements), len(problem.tools)
    points = (n_tools, *touch.weight.shape)
    n_border = int(touch.border.max(initial=-1)) + 1
    return Scratch(
        block=np.zeros((n_el, 16, 16)),
        copied=np.full(n_el, -1, dtype=np.int64),
        force=np.zeros((n_el, 16)),
        drag=np.zeros(points),
        pressure=np.zeros(points),
        gap=np.zeros(points),
        totals=np.zeros((n_tools, 5)),
        column=np.zeros((n_border, problem.body.n_unknowns)),
        row=np.zeros((n_border, problem.body.n_unknowns)),
        rest=rest or no_rest(n_el),
        guard=guard_strength(problem.body, problem.guard),
    )


@kernel
def gather(unknowns: Ints, force: Floats, out: Floats) -> float:
    """Nodal sums of element forces and their norm; ``out`` is set, (n_unknowns) [N]."""
    for i in range(out.shape[0]):
        out[i] = 0.0
    for e in range(unknowns.shape[0]):
        for i in range(16):
            out[unknowns[e, i]] += force[e, i]
    square = 0.0
    for i in range(out.shape[0]):
        square += out[i] * out[i]
    return math.sqrt(square)


@kernel
def _set_aside(fixed: Ints, residual: Floats, reaction: Floats) -> float:
    """Move the residual of fixed unknowns to their reactions; square of what is left."""
    for k in range(fixed.shape[0]):
        reaction[k] = residual[fixed[k]]
        residual[fixed[k]] = 0.0
    square = 0.0
    for i in range(residual.shape[0]):
        square += residual[i] * residual[i]
    return square


@kernel
def _resist(
    unknowns: Ints,
    volume: Floats,
    viscosity: float,
    du: Floats,
    block: Floats,
    copied: Ints,
    force: Floats,
) -> None:
    """Add a resistance to the increment, spread evenly over the nodes of each element."""
    for e in range(unknowns.shape[0]):
        copied[e] = -1
        c = viscosity * volume[e].sum() / 8.0
        for i in range(16):
            force[e, i] += c * du[unknowns[e, i]]
            block[e, i, i] += c


@kernel
def hold(unknowns: Ints, held: Floats, block: Floats, copied: Ints) -> None:
    """Take held unknowns out of the element blocks: unit diagonal, nothing beside it."""
    for e in range(unknowns.shape[0]):
        for i in range(16):
            if held[unknowns[e, i]] > 0.0:
                for j in range(16):
                    block[e, i, j] = 0.0
                    block[e, j, i] = 0.0
                block[e, i, i] = 1.0
                copied[e] = -1


def internal_force(
    problem: Problem, u: Floats, old: Floats, scratch: Scratch, pace: Floats = NO_PACE
) -> Floats:
    """Internal nodal forces of a displacement field, (n_unknowns) [N]."""
    total = np.empty(problem.body.n_unknowns)
    _elements(problem, u, old, np.empty_like(old), scratch, False, pace)
    gather(problem.body.unknowns, scratch.force, total)
    return total


def _elements(
    problem: Problem,
    u: Floats,
    old: Floats,
    new: Floats,
    scratch: Scratch,
    want: bool,
    pace: Floats,
) -> tuple[int, float]:
    body, material, rest = problem.body, problem.material, scratch.rest
    bad, energy = element_forces(
        0,
        len(body.elements),
        u,
        body.unknowns,
        body.shape,
        body.along,
        body.gradient,
        body.radius,
        body.volume,
        material.constants,
        material.table,
        old,
        new,
        scratch.block,
        scratch.force,
        want,
        rest.seen,
        rest.force,
        rest.stiffness,
        rest.energy,
        rest.restful,
        rest.times,
        scratch.copied,
        RESTFUL * problem.scales.length,
        pace,
    )
    return int(bad), float(energy)


def evaluate(
    problem: Problem,
    touch: Touch,
    scratch: Scratch,
    start: State,
    stroke: float,
    u: Floats,
    positions: Floats,
    want: bool,
    viscosity: float = 0.0,
    firm: float = 1.0,
) -> Balance | None:
    """Equilibrium of a trial displacement and trial tool positions.

    Parameters
    ----------
    start : last accepted state
    stroke : stage parameter of the trial [mm]
    u, positions : trial displacement and tool positions, then pressures
    want : fill ``scratch.block`` with the tangent as well
    viscosity : resistance of the nodes to the increment, per volume [N/mm4]
    firm : see ``contact_forces``

    Returns
    -------
    The balance, or None where an element is turned inside out or has no stress.
    """
    body = problem.body
    plastic, pace = np.empty_like(start.plastic), pace_of(problem.tempo, start, stroke)
    bad, energy = _elements(problem, u, start.plastic, plastic, scratch, want, pace)
    if bad >= 0:
        return None
    guard_work = _guard(problem, scratch, start, stroke, u, want)
    residual = np.empty(body.n_unknowns)
    size = float(gather(body.unknowns, scratch.force, residual))
    scale = max(size, problem.scales.force, QUIET * start.peak)
    if len(scratch.column):
        scratch.column[:] = scratch.row[:] = 0.0
    if problem.tools:
        contacts(problem, touch, scratch, start, u, positions, want, firm)
    pulls = _pressures(problem, touch, scratch, u, positions, want) if problem.pressures else ()
    if viscosity > 0.0:
        _resist(body.unknowns, body.volume, viscosity, u - start.u, *scratch.altered)
    gather(body.unknowns, scratch.force, residual)
    if problem.loads is not None:
        residual -= problem.loads.factor(stroke) * problem.loads.force
    if problem.beyond is not None:
        energy += problem.beyond.pull(u, residual, scratch.totals)
    border = slope = NO_BORDER
    if len(scratch.column):
        trial = start, stroke, u, positions
        border, slope = borders(problem, touch.border, scratch, trial, residual)
    reaction = np.empty(len(problem.fixed))
    square = _set_aside(problem.fixed, residual, reaction)
    if len(border):
        square += float(border @ border)
    norm = math.sqrt(square) / scale
    return Balance(
        residual, reaction, border, slope, norm, scale, size, plastic, energy, pulls, guard_work
    )


def _guard(
    problem: Problem, scratch: Scratch, start: State, stroke: float, u: Floats, want: bool
) -> float:
    """Resistance to hourglass modes at a free rim; nothing is resisted where nothing moves."""
    guard, body, travel = problem.guard, problem.body, stroke - start.stroke
    if guard is None or travel <= 0.0 or not len(guard.elements):
        return 0.0
    slow = SATURATION * max(travel, LEAST_TRAVEL * problem.scales.length)
    force, block = scratch.force, scratch.block
    if want:
        scratch.copied[guard.elements] = -1
    work = resist_modes(
        guard.elements, body.unknowns, MODES, scratch.guard, slow, u - start.u, block, force, want
    )
    return float(work)


def contacts(
    problem: Problem,
    touch: Touch,
    scratch: Scratch,
    start: State,
    u: Floats,
    positions: Floats,
    want: bool,
    firm: float,
) -> None:
    """Add the forces of the tools, see ``evaluate`` and ``contact_forces``."""
    settings = problem.contact
    contact_forces(
        u,
        start.u,
        problem.body.nodes,
        touch.element,
        touch.local,
        touch.nodes,
        touch.shape,
        touch.weight,
        touch.pieces,
        touch.piece_start,
        touch.face_start,
        positions,
        start.positions,
        touch.friction,
        start.grip.log_stiffness,
        settings.stiffness,
        settings.softness,
        DEEPEST * problem.scales.length,
        start.grip.offset,
        start.grip.drag,
        scratch.drag,
        scratch.pressure,
        scratch.gap,
        touch.border,
        *scratch.altered,
        scratch.column,
        scratch.row,
        scratch.totals,
        want,
        firm,
    )


def _pressures(
    problem: Problem, touch: Touch, scratch: Scratch, u: Floats, positions: Floats, want: bool
) -> tuple[Floats, ...]:
    pulls, places = [], touch.border
    for k, load in enumerate(problem.pressures, start=len(problem.tools)):
        faces = problem.body.faces[load.edge]
        if want:
            scratch.copied[faces.element] = -1
        column = np.zeros(problem.body.n_unknowns)
        pressure_forces(
            u,
            problem.body.nodes,
            faces.element,
            faces.local,
            faces.nodes,
            load.side * float(positions[k]),
            scratch.block,
            scratch.force,
            column,
            want,
        )
        pulls.append(-load.side * column)
        if places[k] >= 0:
            scratch.column[places[k]] = load.side * column
        if load.target is not None:
            scratch.row[places[k], load.control] = problem.scales.force / problem.scales.length
    return tuple(pulls)
