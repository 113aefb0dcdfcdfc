"""Work on a part of the strip for some increments, then bring all columns to equilibrium.

Invariant: nothing of a window counts before its synchronisation has held. The last increment of the
window is solved once more over all columns, which catch up on the way since the window was opened.
If the columns beyond have drifted from equilibrium by then, or the force on a tool jumps, the
window is given up and all is as it was when it was opened; states are never changed in place.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from formsim.arrays import Floats
from formsim.errors import ConvergenceError
from formsim.solver.condense import Condensed
from formsim.solver.contact import same_pressure
from formsim.solver.ledger import jump_share, make_increment, open_part_ledger, whole_ledger
from formsim.solver.newton import Newton, System, solve_increment
from formsim.solver.part import widened
from formsim.solver.state import Increment, State, Sync
from formsim.solver.stepping import Front, Step, Trend, accepted, prescribed
from formsim.solver.window import Windows


def narrowed_front(condensed: Condensed, front: Front) -> Front:
    """Front of a part where it is cut out."""
    span, trend = condensed.span, front.trend
    part_trend = replace(
        trend, rate=trend.rate[span.unknowns].copy(), bend=trend.bend[span.unknowns].copy()
    )
    ledger = open_part_ledger(condensed.part, condensed.start, condensed.alone, front.ledger)
    return Front(condensed.start, part_trend, ledger)


@dataclass(frozen=True)
class Stand:
    """Where a part has come to in its window.

    Attributes
    ----------
    before, last : front of the part before its last increment, and that increment
    count : increments of the window so far
    """

    before: Front
    last: Step
    count: int

    @property
    def state(self) -> State:
        """State of the part."""
        return self.last.front.state


@dataclass(frozen=True)
class Synced:
    """All columns after a window.

    Attributes
    ----------
    front : there
    old : state the columns beyond caught up from, for what has flowed since
    increment : the last increment of the window, now of all columns
    jump : largest change of a tool force, over its peak so far [-]
    """

    front: Front
    old: State
    increment: Increment
    jump: float


def drift(system: System, opening: Front, condensed: Condensed, stand: Stand) -> float:
    """Residual of all columns where a part has come to, over the internal forces [-]."""
    begin = _begin(system, opening.state, condensed, stand)
    guess = _followed(system, condensed, stand)
    balance = system.evaluate(begin, stand.state.stroke, *guess, False)
    return np.inf if balance is None else balance.norm


def synchronise(
    system: System,
    opening: Front,
    condensed: Condensed,
    stand: Stand,
    method: Newton,
    windows: Windows,
) -> Synced | None:
    """The last increment of a window once more, over all columns; None where it did not hold.

    Parameters
    ----------
    opening : front of all columns where the window was opened
    """
    last, stroke = stand.last, stand.state.stroke
    begin = _begin(system, opening.state, condensed, stand)
    guess = _followed(system, condensed, stand)
    balance = system.evaluate(begin, stroke, *guess, True)
    if balance is None or balance.norm > windows.worst_drift:
        return None
    try:
        solved = solve_increment(system, begin, stroke, guess, method, balance=balance)
    except ConvergenceError:
        return None
    new = accepted(system, solved, begin, stroke)
    ledger = whole_ledger(opening.ledger, stand.before.ledger)
    ledger, increment = make_increment(system, ledger, begin, new, solved, last.increment.cuts, 0.0)
    jump = np.abs(increment.forces - last.increment.forces)
    peaks = jump if ledger.peaks is None else ledger.peaks
    share = jump_share(jump, peaks, system.problem.contact.least_force)
    if share > windows.worst_jump:
        return None
    sync = Sync(columns=condensed.span.count, increments=stand.count, drift=balance.norm, jump=jump)
    trend = _trend(condensed, last.front.trend)
    return Synced(Front(new, trend, ledger), begin, replace(increment, sync=sync), share)


def _followed(system: System, condensed: Condensed, stand: Stand) -> tuple[Floats, Floats]:
    """Displacement of all columns and positions where a part has come to."""
    u = condensed.follow(stand.state.u)
    return prescribed(system, stand.state.stroke, u, stand.state.positions)


def _begin(system: System, opening: State, condensed: Condensed, stand: Stand) -> State:
    """State the last increment began from: of the columns beyond, where the window was opened.

    Tools that have become stiffer or softer bear on these as they did: were contact settled there
    in one go, the forces would jump.
    """
    begin, softness = stand.last.begin, system.problem.contact.softness
    grip = same_pressure(opening.grip, begin.grip.log_stiffness, softness)
    return widened(replace(opening, grip=grip), condensed.span, begin)


def _trend(condensed: Condensed, part: Trend) -> Trend:
    """Rates of all columns; those beyond follow the part."""
    rate, bend = condensed.carry_on(part.rate), condensed.carry_on(part.bend)
    return Trend(part.travel, rate, bend, part.positions)
