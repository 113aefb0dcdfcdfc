"""Condensing the columns beyond a part to the node lines they share with it, and back again."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from formsim.arrays import Bools, Floats, Ints
from formsim.solver.balance import Balance, gather
from formsim.solver.beyond import Beyond, End
from formsim.solver.columns import Eliminated, column_solver
from formsim.solver.ledger import gap_moments
from formsim.solver.newton import System
from formsim.solver.part import Span, columns_of, cut_out, narrowed
from formsim.solver.problem import Problem
from formsim.solver.state import State

FIRM = 0.8
"""Share of its limit beyond which friction that holds is left out of the stiffness of the columns
beyond: it lets go with the next change of force, and a stiffness that is not there throws the tool
forces off by a quarter although every synchronisation converges."""

SHARE = 1e-6
"""Contact force, over the force scale, from which a tool counts as touching."""


@dataclass(frozen=True)
class Side:
    """Columns beyond one end, eliminated towards it.

    Attributes
    ----------
    strip : what is left of their equations
    unknowns : of the whole strip, in the order they were eliminated in, the shared line last
    """

    strip: Eliminated
    unknowns: Ints


@dataclass(frozen=True)
class Condensed:
    """The columns beyond a span, as the part feels them and as they follow it.

    Attributes
    ----------
    span : the part
    part : its problem, with what is beyond it
    start : state it was condensed at, of the part
    alone : equilibrium of the part there without what is beyond it
    sides : for their own displacement
    at : displacement of the whole strip they were condensed at, (n_unknowns) [mm]
    """

    span: Span
    part: System
    start: State
    alone: Balance
    sides: tuple[Side, ...]
    at: Floats

    def follow(self, part: Floats) -> Floats:
        """Displacement of the whole strip from that of the part, (n_unknowns) [mm]."""
        u = self.at.copy()
        u[self.span.unknowns] = part
        for side in self.sides:
            n_line = len(side.strip.stiffness)
            line = side.unknowns[-n_line:]
            moved = side.strip.expand((u[line] - self.at[line])[None])[0]
            free = side.unknowns[:-n_line]
            u[free] = self.at[free] + moved[:-n_line]
        return u

    def carry_on(self, change: Floats) -> Floats:
        """Change of the whole strip's displacement that goes with one of the part's."""
        here = self.start.u
        moved: Floats = self.follow(here + change) - self.follow(here)
        return moved


def condense(
    system: System, state: State, span: Span, moving: Bools, travel: float
) -> Condensed | None:
    """Condense what is beyond a span at an equilibrium state; None when it cannot stand alone.

    Parameters
    ----------
    moving : tools that move, (n_tools); none of them may touch anything beyond the span
    travel : stroke of a usual increment, which sets how fast a free rim may fold [mm]
    """
    ahead = state.stroke + travel
    balance = system.evaluate(state, ahead, state.u, state.positions, True, firm=FIRM)
    if balance is None:
        return None
    system.hold()
    sides = _side(system, span, mirrored=False), _side(system, span, mirrored=True)
    there = tuple(side for side in sides if side is not None)
    if not all(np.isfinite(side.strip.stiffness).all() for side in there):
        return None
    part, start = cut_out(system, span), narrowed(state, span)
    alone = part.evaluate(start, start.stroke, start.u, start.positions, False)
    moments, deepest = gap_moments(state.grip, system.touch.weight)
    inside, _ = gap_moments(start.grip, part.touch.weight)
    shared = moments[:, 0] - inside[:, 0] > SHARE * system.problem.scales.force
    if alone is None or (shared & moving).any():
        return None
    totals = np.where(shared[:, None], system.scratch.totals - part.scratch.totals, 0.0)
    totals[:, 2] = 0.0
    beyond = Beyond(
        before=_end(sides[0], state.u, span),
        behind=_end(sides[1], state.u, span),
        shared=shared,
        totals=totals,
        moments=np.where(shared[:, None], moments - inside, 0.0),
        deepest=deepest,
        unseen=np.where(shared[:, None], _unseen(system, state, span), 0.0),
        bearer=_bearer(system.problem, span, shared, totals),
        held=_held(system.problem, span, balance.reaction),
    )
    part.problem = replace(part.problem, beyond=beyond)
    return Condensed(span, part, start, alone, there, state.u)


def _unseen(system: System, state: State, span: Span) -> Floats:
    """What contact goes by of the points beyond a span, see ``adapt``, (n_tools, 4)."""
    grip, load = state.grip, state.grip.pressure * system.touch.weight
    load[:, span.facets] = 0.0
    gap = np.where(load > 0.0, grip.gap, 0.0)
    sums = [(load * values).sum(axis=(1, 2)) for values in (1.0, grip.offset, gap)]
    return np.stack([*sums, grip.log_stiffness], axis=1)


def _side(system: System, span: Span, *, mirrored: bool) -> Side | None:
    """Columns beyond one end of a span, eliminated from the other end of the strip."""
    body = system.problem.body
    columns = columns_of(body)
    first, last = (span.last, columns.count) if mirrored else (0, span.first)
    if first == last:
        return None
    elements = slice(columns.layers * first, columns.layers * last)
    solver = column_solver(body, last - first, mirrored=mirrored)
    load = np.empty(body.n_unknowns)
    gather(body.unknowns[elements], system.scratch.force[elements], load)
    load[system.problem.fixed] = 0.0
    block = system.scratch.block[elements]
    if mirrored:
        turned = block.reshape(-1, columns.layers, 16, 16)[::-1]
        block = np.ascontiguousarray(turned).reshape(-1, 16, 16)
    unknowns = solver.order(2 * columns.stride * first, mirrored=mirrored)
    return Side(solver.eliminate(block, -load[unknowns][None]), unknowns)


def _end(side: Side | None, u: Floats, span: Span) -> End | None:
    if side is None:
        return None
    n_line = len(side.strip.stiffness)
    line = side.unknowns[-n_line:]
    first = int(line[0]) - span.unknowns.start
    return End(
        line=slice(first, first + n_line),
        at=u[line],
        force=-side.strip.force[0],
        stiffness=side.strip.stiffness,
    )


def _held(problem: Problem, span: Span, reaction: Floats) -> float:
    """Axial force of the supports beyond a span [N]."""
    axial = problem.fixed % 2 == 1
    inside = (problem.fixed >= span.unknowns.start) & (problem.fixed < span.unknowns.stop)
    return float(reaction[axial & ~inside].sum())


def _bearer(problem: Problem, span: Span, shared: Bools, totals: Floats) -> int:
    """Tool that bears the axial force passed on beyond a span, -1 where a support does."""
    fixed = problem.fixed[problem.fixed % 2 == 1]
    held = ((fixed < span.unknowns.start) | (fixed >= span.unknowns.stop)).any()
    if held or not shared.any():
        return -1
    return int(np.where(shared, np.abs(totals[:, 1]), -1.0).argmax())
