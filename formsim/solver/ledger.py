"""Book-keeping of an accepted increment: forces by two ways, gaps, energies."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel
from formsim.solver.balance import Balance
from formsim.solver.contact import FAR, Grip
from formsim.solver.newton import Solved, System
from formsim.solver.problem import Problem
from formsim.solver.state import Energy, Increment, State
from formsim.solver.stress import TABLE_STEP
from formsim.solver.tempo import area_under, largest_loss, work_done

SMALL = 0.05
"""Peak of a tool, over that of the most loaded one, from which its jumps count by its own."""


@dataclass(frozen=True)
class Ledger:
    """Running values the next increment is booked against.

    Attributes
    ----------
    energy : energies so far [N mm]
    forces : axial force on each tool, (n_tools) [N]
    pulls : nodal force per unit of each pressure, (n_unknowns) each [mm2]
    reaction : forces at the fixed unknowns, (n_fixed) [N]
    elastic_start, plastic_start : energies of the body before the stage [N mm]
    peaks : largest force on each tool so far, (n_tools) [N]
    """

    energy: Energy = field(default_factory=Energy)
    forces: Floats | None = None
    pulls: tuple[Floats, ...] = ()
    reaction: Floats | None = None
    elastic_start: float = 0.0
    plastic_start: float = 0.0
    peaks: Floats | None = None


def open_ledger(system: System, state: State) -> Ledger:
    """Ledger at the begin of a stage."""
    problem = system.problem
    balance = system.evaluate(state, state.stroke, state.u, state.positions, False)
    elastic = 0.0 if balance is None else balance.elastic_energy
    return Ledger(
        forces=system.scratch.totals[:, 1].copy(),
        pulls=() if balance is None else balance.pulls,
        reaction=np.zeros(len(problem.fixed)) if balance is None else balance.reaction,
        elastic_start=elastic,
        plastic_start=plastic_energy(problem, state.plastic),
    )


def open_part_ledger(part: System, start: State, alone: Balance, whole: Ledger) -> Ledger:
    """Ledger that goes on for a part of the body.

    Parameters
    ----------
    start, alone : state and equilibrium of the part where it is cut out
    """
    return replace(
        whole,
        reaction=alone.reaction,
        elastic_start=alone.elastic_energy - whole.energy.elastic,
        plastic_start=plastic_energy(part.problem, start.plastic) - whole.energy.plastic,
    )


def whole_ledger(opening: Ledger, part: Ledger) -> Ledger:
    """Ledger of the whole body again, from that before a part was cut out and that of the part."""
    return replace(
        part,
        reaction=opening.reaction,
        elastic_start=opening.elastic_start,
        plastic_start=opening.plastic_start,
    )


def plastic_energy(problem: Problem, plastic: Floats) -> float:
    """Plastic work of the body since it was flat [N mm].

    For an associated law the plastic work per volume is the area under the flow curve up to the
    equivalent plastic strain.
    """
    data = problem.material
    return float(
        _area_under_flow(
            plastic, problem.body.volume, data.plastic_work, data.constants[TABLE_STEP]
        )
    )


@kernel
def _area_under_flow(plastic: Floats, volume: Floats, work: Floats, step: float) -> float:
    """Plastic work of all points."""
    total = 0.0
    for e in range(volume.shape[0]):
        for q in range(volume.shape[1]):
            total += volume[e, q] * area_under(work, step, plastic[e, q, 3])
    return total


def make_increment(
    system: System,
    ledger: Ledger,
    old: State,
    new: State,
    solved: Solved,
    cuts: int,
    viscosity: float,
) -> tuple[Ledger, Increment]:
    """Increment record and the ledger after it."""
    problem, balance, scratch = system.problem, solved.balance, system.scratch
    forces = scratch.totals[:, 1].copy()
    energy_in = _external_work(problem, ledger, old, new, balance, forces)
    energy = Energy(
        external=ledger.energy.external + energy_in,
        elastic=balance.elastic_energy - ledger.elastic_start,
        plastic=_plastic(problem, ledger, old, new),
        friction=ledger.energy.friction + float(scratch.totals[:, 4].sum()),
        viscous=ledger.energy.viscous + _viscous(problem, viscosity, new.u - old.u),
        guard=ledger.energy.guard + balance.guard_work,
        sinking=ledger.energy.sinking + _sinking(old.grip, new.grip, system.touch.weight),
    )
    gaps = _gap_figures(system, new)
    increment = Increment(
        stroke=new.stroke,
        iterations=len(solved.residuals) - 1,
        residuals=solved.residuals,
        loose=solved.loose,
        cuts=cuts,
        forces=forces,
        balance_forces=_balance_forces(system, new, balance.residual),
        radial=scratch.totals[:, 0].copy(),
        positions=new.positions,
        touching=scratch.totals[:, 3].copy(),
        mean_gap=gaps[0],
        rms_gap=gaps[1],
        deepest=gaps[2],
        reaction=_reaction(problem, new.u, balance),
        energy=energy,
        lost_to_heat=largest_loss(problem, old, new),
    )
    after = replace(
        ledger,
        energy=energy,
        forces=forces,
        pulls=balance.pulls,
        reaction=balance.reaction,
        peaks=np.abs(forces) if ledger.peaks is None else np.maximum(ledger.peaks, abs(forces)),
    )
    return after, increment


def _plastic(problem: Problem, ledger: Ledger, old: State, new: State) -> float:
    """Plastic work since the begin of the stage [N mm], summed up where no curve has its area."""
    if problem.tempo is None:
        return plastic_energy(problem, new.plastic) - ledger.plastic_start
    done = work_done(problem.material, old, new)
    return ledger.energy.plastic + float((problem.body.volume * done).sum())


def _reaction(problem: Problem, u: Floats, balance: Balance) -> float:
    """Axial force of all supports on the body [N]."""
    own = float(balance.reaction[problem.fixed % 2 == 1].sum()) if len(problem.fixed) else 0.0
    return own if problem.beyond is None else own + problem.beyond.reaction(u)


def _viscous(problem: Problem, viscosity: float, du: Floats) -> float:
    """Work of the resistance of the nodes in one increment [N mm]."""
    if viscosity == 0.0:
        return 0.0
    body = problem.body
    share = body.volume.sum(axis=1) / 8.0
    return viscosity * float((share[:, None] * du[body.unknowns] ** 2).sum())


def _sinking(old: Grip, new: Grip, weight: Floats) -> float:
    """Work of the contact pressures on the change of their gaps over one increment [N mm].

    The sheet does not get it: a tool sinks in as its pressure builds up and is pushed out again as
    stiffness and offsets follow. Mean pressures, as for the work of the tools, so that both books
    agree. Points that were or are out of reach have no gap to compare.
    """
    return float(_press_in(old.pressure, old.gap, new.pressure, new.gap, weight))


@kernel
def _press_in(
    before: Floats, gap_before: Floats, pressure: Floats, gap: Floats, weight: Floats
) -> float:
    """Sum of mean contact force by closing of the gap over all points [N mm]."""
    work = 0.0
    for t in range(gap.shape[0]):
        for f in range(gap.shape[1]):
            for g in range(gap.shape[2]):
                if gap_before[t, f, g] < FAR and gap[t, f, g] < FAR:
                    mean = 0.5 * (before[t, f, g] + pressure[t, f, g])
                    work += mean * (gap_before[t, f, g] - gap[t, f, g]) * weight[f, g]
    return work


def jump_share(jump: Floats, peaks: Floats, least: float = 0.0) -> float:
    """Largest jump of a tool force over the peak of that tool [-].

    Parameters
    ----------
    jump, peaks : of each tool, (n_tools) [N]
    least : peak that small ones are taken for [N]; at least a twentieth of the largest counts
    """
    largest = float(peaks.max(initial=0.0))
    floor = max(least, SMALL * largest, 1e-300)
    return float((jump / np.maximum(peaks, floor)).max(initial=0.0))


def _external_work(
    problem: Problem, ledger: Ledger, old: State, new: State, balance: Balance, forces: Floats
) -> float:
    """Work of tools, pressures and prescribed displacements over one increment [N mm]."""
    n, du = len(forces), new.u - old.u
    before = forces if ledger.forces is None else ledger.forces
    held = balance.reaction if ledger.reaction is None else ledger.reaction
    work = -0.5 * float((forces + before) @ (new.positions[:n] - old.positions[:n]))
    work += 0.5 * float((balance.reaction + held) @ du[problem.fixed])
    for k, (pull, last) in enumerate(zip(balance.pulls, ledger.pulls, strict=False), start=n):
        mean = 0.5 * (new.positions[k] + old.positions[k])
        work += 0.5 * mean * float((pull + last) @ du)
    return work


def _balance_forces(system: System, state: State, residual: Floats) -> Floats:
    """Axial tool forces from the internal forces of the nodes each tool touches.

    The residual is internal plus contact force, so what it leaves at a tool's nodes is the
    difference between both ways.
    """
    forces = system.scratch.totals[:, 1].copy()
    _take_out(system.touch.nodes, state.grip.pressure, residual, forces)
    return forces


@kernel
def _take_out(nodes: Ints, pressure: Floats, residual: Floats, forces: Floats) -> None:
    """Take the axial residual of all nodes a tool touches out of its force, each node once."""
    for t in range(pressure.shape[0]):
        taken = np.zeros(len(residual) // 2, np.bool_)
        for f in range(pressure.shape[1]):
            touched = False
            for g in range(pressure.shape[2]):
                touched = touched or pressure[t, f, g] > 0.0
            if not touched:
                continue
            for a in range(nodes.shape[1]):
                if not taken[nodes[f, a]]:
                    forces[t] -= residual[2 * nodes[f, a] + 1]
                    taken[nodes[f, a]] = True


def _gap_figures(system: System, state: State) -> tuple[Floats, Floats, Floats]:
    """Pressure-weighted mean and rms gap, and deepest penetration, of each tool [mm]."""
    beyond = system.problem.beyond
    moments, deepest = gap_moments(state.grip, system.touch.weight)
    if beyond is not None:
        moments, deepest = moments + beyond.moments, np.minimum(deepest, beyond.deepest)
    total = np.maximum(moments[:, 0], 1e-300)
    return moments[:, 1] / total, np.sqrt(moments[:, 2] / total), deepest


def gap_moments(grip: Grip, weight: Floats) -> tuple[Floats, Floats]:
    """Contact force [N], its first and second moment of the gap, and the deepest gap of each tool.

    Returns
    -------
    Moments, (n_tools, 3), and gaps, (n_tools) [mm].
    """
    n = len(grip.pressure)
    moments, deepest = np.zeros((n, 3)), np.zeros(n)
    _sum_gaps(grip.pressure, grip.gap, weight, moments, deepest)
    return moments, deepest


@kernel
def _sum_gaps(
    pressure: Floats, gap: Floats, weight: Floats, moments: Floats, deepest: Floats
) -> None:
    """See ``gap_moments``; a gap counts as loaded from a fifth of the tool's highest pressure."""
    for t in range(pressure.shape[0]):
        highest = 0.0
        for f in range(pressure.shape[1]):
            for g in range(pressure.shape[2]):
                highest = max(highest, pressure[t, f, g])
        for f in range(pressure.shape[1]):
            for g in range(pressure.shape[2]):
                p = pressure[t, f, g]
                if p > 0.0:
                    load = p * weight[f, g]
                    moments[t, 0] += load
                    moments[t, 1] += load * gap[t, f, g]
                    moments[t, 2] += load * gap[t, f, g] * gap[t, f, g]
                    if p > 0.2 * highest:
                        deepest[t] = min(deepest[t], gap[t, f, g])
