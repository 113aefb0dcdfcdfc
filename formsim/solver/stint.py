"""A window: some increments of the busy columns, watched, then the synchronisation of all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from formsim.arrays import Bools
from formsim.solver.body import Body
from formsim.solver.condense import Condensed
from formsim.solver.lookout import Lookout
from formsim.solver.newton import System
from formsim.solver.pace import Pace
from formsim.solver.part import columns_of, widened
from formsim.solver.rest import wake
from formsim.solver.state import Increment, State
from formsim.solver.stepping import Front
from formsim.solver.synchronise import Stand, Synced, drift, narrowed_front, synchronise
from formsim.solver.window import Windows, busy_columns, crowded, unmoved

SHORT = 0.07
"""Increment, in thicknesses, below which a window is left: whatever happens there needs all."""

Done = Callable[[State, Increment], bool]
Look = Callable[[Body, State, slice], bool]
"""Whether to look at all columns, from the body and state of a part and its columns."""


@dataclass(frozen=True)
class Stint:
    """What came of a window.

    Attributes
    ----------
    rows : its increments, the last one of all columns; none where it was undone
    synced : all columns after it, None where it was undone
    lost : increments that were undone
    """

    rows: tuple[Increment, ...]
    synced: Synced | None
    lost: int


def work_window(
    system: System,
    opening: Front,
    work: Condensed,
    pace: Pace,
    mark: float,
    moving: Bools,
    windows: Windows,
    length: int,
    done: Done | None,
    look: Look | None,
) -> Stint:
    """Increments of a part until it must or may be synchronised.

    Parameters
    ----------
    mark : stroke to stop at [mm]
    moving : tools that move, (n_tools)
    length : increments at most
    done : whether the stage has ended; asked where the rim is in the window
    look : whether to end the window
    """
    part, span = work.part, work.span
    count = columns_of(system.problem.body).count
    least = SHORT * system.problem.scales.length
    lookout = Lookout(system, opening.state, work, mark)
    if not lookout.clear(work.start):
        return Stint((), None, 0)
    front, rows = narrowed_front(work, opening), list[Increment]()
    good = stand = None
    check, interval = windows.check, windows.check
    while len(rows) < length and front.state.stroke < mark - 1e-12:
        if not unmoved(part, min(front.state.stroke + pace.size, mark), front.state.positions):
            break
        taken = pace.try_step(part, front, mark, least)
        if taken is None:
            wake(system.scratch.rest, span.elements)
            break
        rows.append(taken.increment)
        stand, front = Stand(front, taken, len(rows)), taken.front
        if _is_busy_at_an_end(work, stand, moving, windows, count) or not lookout.clear(
            stand.state
        ):
            break
        if _is_asked_to_end(done, look, system, opening, work, stand):
            break
        if len(rows) == check:
            away = drift(system, opening, work, stand)
            if away > windows.drift:
                break
            good = stand
            interval = 2 * interval if away < 0.3 * windows.drift else interval
            check += interval
    for last in filter(None, (stand, None if good is stand else good)):
        synced = synchronise(system, opening, work, last, pace.strict, windows)
        if synced is not None:
            kept = tuple(rows[: last.count - 1])
            return Stint((*kept, synced.increment), synced, len(rows) - last.count)
        wake(system.scratch.rest, span.elements)
    return Stint((), None, len(rows))


def _is_busy_at_an_end(
    work: Condensed, stand: Stand, moving: Bools, windows: Windows, count: int
) -> bool:
    old, new = stand.before.state, stand.state
    busy = busy_columns(work.part, old, new, moving, windows, new.stroke - old.stroke)
    return crowded(work.span, count, busy, windows)


def _is_asked_to_end(
    done: Done | None,
    look: Look | None,
    system: System,
    opening: Front,
    work: Condensed,
    stand: Stand,
) -> bool:
    """Whether all columns are to be looked at, or the stage ends with the rim in the window."""
    span, last = work.span, stand.last
    if look is not None and look(work.part.problem.body, stand.state, slice(span.first, span.last)):
        return True
    if done is None or span.last < columns_of(system.problem.body).count:
        return False
    return done(widened(opening.state, span, stand.state), last.increment)
