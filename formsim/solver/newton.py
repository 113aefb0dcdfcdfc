"""Newton iteration for one increment: exact tangent, line search, bordered scalar unknowns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.errors import ConvergenceError
from formsim.kernels import kernel
from formsim.solver.balance import (
    Balance,
    Scratch,
    evaluate,
    hold,
    make_scratch,
)
from formsim.solver.band import LinearSolver, best_solver
from formsim.solver.beyond import stiffness_of
from formsim.solver.columns import ColumnSolver
from formsim.solver.depth import shallow_share
from formsim.solver.problem import Problem
from formsim.solver.rest import Rest
from formsim.solver.state import State
from formsim.solver.touch import Touch, touch_arrays

BREATH = 1e-4
STALLED = 0.9
LEAST_SHARE = 1.0 / 16.0
"""Least part of a trial step that is tried next where contact points went in too deep."""


@dataclass(frozen=True)
class Newton:
    """How an increment is iterated.

    Attributes
    ----------
    tolerance : accepted relative residual
    rounding, faint : residual that rounding may leave, over the force scale of the problem and
        over the internal forces; the trust table allows no more than the second
    target : residual that is iterated for as long as an iteration still gains something
    loose_tolerance, loose_after : accepted, and counted, after so many iterations; the march asks
        for it only where an increment is short already
    near : residual below which the next one is first tried without a tangent, as it will do
    most : iterations at most
    patience : iterations after which an iteration that has gained nothing is given up
    longest : longest step of a node in one iteration, in sheet thicknesses
    halvings : line-search halvings at most
    """

    tolerance: float = 5e-8
    rounding: float = 1e-5
    faint: float = 1e-6
    target: float = 3e-8
    loose_tolerance: float = 1e-4
    loose_after: int = 26
    near: float = 2e-5
    most: int = 30
    patience: int = 5
    longest: float = 1.0
    halvings: int = 4


@dataclass(frozen=True)
class Solved:
    """A converged trial.

    Attributes
    ----------
    u, positions : displacement, tool positions and pressures
    balance : equilibrium there
    residuals : relative residual of each iteration
    loose : accepted above the tolerance
    """

    u: Floats
    positions: Floats
    balance: Balance
    residuals: tuple[float, ...]
    loose: bool


class System:
    """A problem with its work arrays and linear solver, ready to be iterated."""

    def __init__(
        self, problem: Problem, solver: LinearSolver | None = None, rest: Rest | None = None
    ) -> None:
        self.problem = problem
        self.touch: Touch = touch_arrays(problem)
        self.scratch: Scratch = make_scratch(problem, self.touch, rest)
        self.solver = solver or best_solver(problem.body)
        self._held = np.zeros(problem.body.n_unknowns)
        self._held[problem.fixed] = 1.0

    def evaluate(
        self,
        start: State,
        stroke: float,
        u: Floats,
        positions: Floats,
        want: bool,
        viscosity: float = 0.0,
        firm: float = 1.0,
    ) -> Balance | None:
        """See ``balance.evaluate``."""
        problem, touch, scratch = self.problem, self.touch, self.scratch
        return evaluate(problem, touch, scratch, start, stroke, u, positions, want, viscosity, firm)

    def hold(self) -> None:
        """Build the supports into the element blocks."""
        hold(self.problem.body.unknowns, self._held, self.scratch.block, self.scratch.copied)

    def correction(self, balance: Balance) -> tuple[Floats, Floats] | None:
        """Newton correction of displacement and scalar unknowns, None when singular."""
        scratch, shift = self.scratch, np.zeros(len(self.touch.border))
        self.hold()
        if self.problem.ties:
            self.stiffen()
        if not len(scratch.column):
            alone = self._solve(-balance.residual[None])
            return None if alone is None else (alone[0], shift)
        rhs = np.concatenate([-balance.residual[None], scratch.column])
        rhs[:, self.problem.fixed] = 0.0
        scratch.row[:, self.problem.fixed] = 0.0
        x = self._solve(rhs)
        if x is None:
            return None
        schur = np.diag(balance.border_slope) - scratch.row @ x[1:].T
        want = -balance.border_residual - scratch.row @ x[0]
        try:
            scalar = want / schur[0] if len(want) == 1 else np.linalg.solve(schur, want)
        except np.linalg.LinAlgError:
            return None
        shift[self.touch.border >= 0] = scalar
        return x[0] - scalar @ x[1:], shift

    def _solve(self, rhs: Floats) -> Floats | None:
        block, beyond = self.scratch.block, self.problem.beyond
        if beyond is None:
            return self.solver.solve(block, rhs)
        if not isinstance(self.solver, ColumnSolver):
            message = "only a strip has something beyond its ends"
            raise TypeError(message)
        ends = stiffness_of(beyond.before), stiffness_of(beyond.behind)
        return self.solver.solve(block, rhs, *ends)

    def stiffen(self) -> None:
        """A breath of stiffness for tied unknowns, without which elimination meets a free body."""
        scales, unknowns = self.problem.scales, self.problem.body.unknowns
        tied = np.any([tie.pattern != 0.0 for tie in self.problem.ties], axis=0)
        e, i = np.nonzero(tied[unknowns])
        self.scratch.block[e, i, i] += BREATH * scales.stress * scales.length
        self.scratch.copied[e] = -1


def solve_increment(
    system: System,
    start: State,
    stroke: float,
    guess: tuple[Floats, Floats],
    method: Newton,
    viscosity: float = 0.0,
    balance: Balance | None = None,
) -> Solved:
    """Equilibrium at a stage parameter.

    Parameters
    ----------
    start : last accepted state; left as it is
    stroke : stage parameter wanted [mm]
    guess : displacement, with prescribed values set, and positions to start from
    viscosity : resistance of the nodes to the increment, per volume [N/mm4]
    balance : at the guess, where that has just been worked out with its tangent

    Raises
    ------
    ConvergenceError : with the residual history and the worst node
    """
    u, positions = guess
    balance = balance or system.evaluate(start, stroke, u, positions, True, viscosity)
    if balance is None:
        raise _failure(system, "material", [], u, None)
    history: list[float] = []
    sizes: list[float] = []
    for iteration in range(method.most + 1):
        norm = balance.norm
        history.append(norm)
        sizes.append(balance.force)
        rounded = balance.force < method.rounding * system.problem.scales.force
        rounded = rounded and norm < method.faint
        if iteration > 0 and _converged(history, rounded, method):
            return Solved(u, positions, balance, tuple(history), loose=False)
        if iteration >= method.loose_after and norm < method.loose_tolerance:
            loose = norm >= method.tolerance
            return Solved(u, positions, balance, tuple(history), loose)
        if _hopeless(history, sizes, iteration, method):
            raise _failure(system, "iterations", history, u, balance)
        step = system.correction(balance)
        if step is None:
            raise _failure(system, "singular", history, u, balance)
        damping = _damping(history, iteration)
        found = _search(
            system, start, stroke, (u, positions), step, balance, damping, method, viscosity
        )
        if found is None:
            raise _failure(system, "material", history, u, balance)
        u, positions, balance = found
    raise _failure(system, "iterations", history, u, balance)


def _converged(history: list[float], rounded: bool, method: Newton) -> bool:
    norm, before = history[-1], history[-2]
    accepted = norm < method.tolerance or rounded
    return norm < method.target or (accepted and norm > STALLED * before)


def _hopeless(history: list[float], sizes: list[float], iteration: int, method: Newton) -> bool:
    norm = history[-1]
    if not np.isfinite(norm) or norm > 1e8 or iteration == method.most:
        return True
    stuck = norm > 0.9 * history[0] and sizes[-1] > 0.9 * sizes[0]
    if iteration >= method.patience and norm > 0.5 and stuck:
        return True
    return iteration >= 14 and norm > 0.2 * min(history[:-8])


def _damping(history: list[float], iteration: int) -> float:
    """Break cycles between two contact states by a shorter step now and then."""
    norm = history[-1]
    if iteration >= 8 and norm < 0.1 and norm > 0.7 * min(history[-4:-1]):
        return (0.5, 0.7, 0.35)[iteration % 3]
    return 1.0


@kernel
def _largest(x: Floats) -> float:
    """Largest absolute value, 0 of none."""
    most = 0.0
    for value in x:
        most = max(most, abs(value))
    return most


def _search(
    system: System,
    start: State,
    stroke: float,
    here: tuple[Floats, Floats],
    step: tuple[Floats, Floats],
    balance: Balance,
    damping: float,
    method: Newton,
    viscosity: float,
) -> tuple[Floats, Floats, Balance] | None:
    """Longest of a few fractions of the step that lowers the residual, or the best of them.

    A fraction is half of the one before, or less where contact points went in deep. The residual
    may fall by itself or beside the internal force: a body that relaxes loses the force it is
    measured by, a slack one that tightens gains it.
    """
    du, shift = step
    want = balance.norm > method.near
    reach = _largest(du)
    if len(system.scratch.column):
        reach = max(reach, _largest(shift[: len(system.problem.tools)]))
    length = method.longest * system.problem.scales.length
    fraction = damping * min(1.0, length / max(reach, 1e-300))
    best: tuple[float, float] | None = None
    before = system.scratch.gap.copy()
    for halving in range(method.halvings + 2):
        u = here[0] + fraction * du
        positions = here[1] + fraction * shift if len(system.scratch.column) else here[1]
        trial = system.evaluate(start, stroke, u, positions, want, viscosity)
        if trial is not None and not want and trial.norm >= method.target:
            want = True
            trial = system.evaluate(start, stroke, u, positions, True, viscosity)
        if trial is not None:
            if trial.norm < max(balance.norm, method.target) or trial.force < balance.force:
                return u, positions, trial
            if best is None or trial.force < best[0]:
                best = (trial.force, fraction)
            if halving >= method.halvings:
                break
        fraction *= 0.5 if trial is None else _shorter(system, start, before)
    if best is None:
        return None
    u, positions = here[0] + best[1] * du, here[1] + best[1] * shift
    final = system.evaluate(start, stroke, u, positions, True, viscosity)
    return None if final is None else (u, positions, final)


def _shorter(system: System, start: State, before: Floats) -> float:
    """How much of a trial step that failed to try next, from the gaps before it [-]."""
    scratch, softness = system.scratch, system.problem.contact.softness
    share = shallow_share(
        system.touch.face_start, before, scratch.gap, start.grip.offset, scratch.pressure, softness
    )
    return min(max(LEAST_SHARE, float(share)), 0.5)


def _failure(
    system: System,
    reason: str,
    history: list[float],
    u: Floats,
    balance: Balance | None,
) -> ConvergenceError:
    facts = {} if balance is None else worst_node(system, u, balance)
    where = (
        f" Worst at r = {facts['r']:.3f}, z = {facts['z']:.3f} mm"
        f" (column {facts['column']}), residual {facts['force']:.3g} N{_at_tool(facts)}"
        if facts
        else ""
    )
    what = {
        "material": "an element was turned inside out or found no stress",
        "singular": "the equations became singular",
        "iterations": f"no equilibrium after {len(history)} iterations (residual{_last(history)})",
    }[reason]
    return ConvergenceError(f"{what}.{where}", reason=reason, history=tuple(history), facts=facts)


def _last(history: list[float]) -> str:
    """The first residual and the last three."""
    return " " + " ".join(f"{value:.0e}" for value in (history[:1] + history[-3:]))


def _at_tool(facts: dict[str, float | int | str]) -> str:
    if "tool" not in facts:
        return ", no tool near"
    return f", {facts['tool']} at a gap of {1e3 * float(facts['gap']):.1f} um"


def worst_node(system: System, u: Floats, balance: Balance) -> dict[str, float | int | str]:
    """Node with the largest residual, and the tool nearest to it."""
    body = system.problem.body
    sizes = np.hypot(balance.residual[0::2], balance.residual[1::2])
    node = int(sizes.argmax())
    r, z = body.nodes[node] + u[2 * node : 2 * node + 2]
    stride = body.columns.stride if body.columns else 1
    facts: dict[str, float | int | str] = {
        "node": node,
        "column": node // stride,
        "r": float(r),
        "z": float(z),
        "force": float(sizes[node]),
    }
    touching = (system.touch.nodes == node).any(axis=1)
    nearest = 1.0
    for k, (first, last) in enumerate(system.touch.face_start):
        for gap in system.scratch.gap[k, first:last][touching[first:last]].flat:
            if abs(gap) < nearest:
                nearest = abs(gap)
                facts.update(tool=system.problem.tools[k].name, gap=float(gap))
    return facts
