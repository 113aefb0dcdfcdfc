"""March through a stage: increments of all columns, or windows of the busy ones.

A failed trial changes nothing. Growth and cuts follow the iteration count; scheduled strokes are
hit exactly, so that what is reported there does not depend on the path of the increments.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.solver.condense import Condensed, condense
from formsim.solver.newton import Newton, System
from formsim.solver.pace import Pace
from formsim.solver.part import columns_of, separable
from formsim.solver.settle import Settling
from formsim.solver.state import Increment, State
from formsim.solver.stepping import Front, Step, Steps, open_front
from formsim.solver.stint import Done, Look, Stint, work_window
from formsim.solver.window import (
    Windows,
    busy_columns,
    choose_span,
    moving_tools,
)

Advance = tuple[State, tuple[Increment, ...]]
"""A state of all columns in equilibrium, and the increments since the last one."""


def march(
    system: System,
    start: State,
    end: float,
    steps: Steps,
    *,
    method: Newton | None = None,
    scheduled: tuple[float, ...] = (),
    done: Done | None = None,
    look: Look | None = None,
    windows: Windows | None = None,
) -> Iterator[Advance]:
    """Accepted states from the stroke of ``start`` to ``end``.

    Parameters
    ----------
    scheduled : strokes to be hit exactly [mm]
    done : ends the march early when true
    look : asked after every increment of a window; ends it when true
    windows : how to work on the busy columns alone; None for all columns always

    Raises
    ------
    StepFloorError : an increment at the floor does not converge
    """
    pace = Pace(steps, method or Newton(), system.problem.scales)
    marks = sorted({*(s for s in scheduled if start.stroke < s < end), end})
    front = open_front(system, start)
    watch, undone = Watch(system, windows), 0
    while marks:
        work = watch.window(front) if pace.viscosity == 0.0 else None
        if work is None:
            taken = pace.step(system, front, marks[0])
            watch.see_step(front.state, taken)
            front, rows = taken.front, [taken.increment]
        else:
            stint = work_window(
                system,
                front,
                work,
                pace,
                marks[0],
                watch.moving,
                watch.windows,
                watch.length,
                done,
                look,
            )
            watch.see_window(front, work, stint)
            undone += stint.lost
            if stint.synced is None:
                continue
            front, rows = stint.synced.front, list(stint.rows)
        rows[0] = replace(rows[0], undone=undone)
        undone = 0
        yield front.state, tuple(rows)
        if done is not None and done(front.state, rows[-1]):
            return
        if front.state.stroke >= marks[0] - 1e-12:
            marks.pop(0)


class Watch:
    """Keeps track of which columns are busy and how long windows may be."""

    def __init__(self, system: System, windows: Windows | None) -> None:
        self.system = system
        self.windows = windows or Windows()
        self.moving: Bools = np.zeros(len(system.problem.tools), dtype=bool)
        self.length = self.windows.first
        self._on = windows is not None and separable(system.problem)
        self._wait = self._after = self.windows.after
        self._busy: Bools | None = None
        self._settling = Settling(system, self.windows.settled)

    def window(self, front: Front) -> Condensed | None:
        """Window to work on next, None for all columns."""
        if not self._on or self._wait > 0 or self._busy is None:
            return None
        worth = self.windows.worth if self._settling.done else self.windows.early
        span = choose_span(self.system, self._busy, self.windows, worth)
        travel = front.trend.travel
        work = None
        if span is not None:
            work = condense(self.system, front.state, span, self.moving, travel)
        if work is None:
            self._pause()
        return work

    def see_step(self, old: State, taken: Step) -> None:
        """An increment of all columns."""
        self._wait -= 1
        if not self._on:
            return
        new = taken.front.state
        self._settling.see(old, new, taken.increment.forces)
        if self._wait > 0:
            return
        travel = np.full(columns_of(self.system.problem.body).count, new.stroke - old.stroke)
        self._look(old, new, travel)

    def see_window(self, opening: Front, work: Condensed, stint: Stint) -> None:
        """A window, synchronised or undone."""
        synced = stint.synced
        if synced is None:
            self.length = max(self.windows.fewest, self.length // 3)
            self._after = min(2 * self._after, self.windows.longest_after)
            self._pause()
            return
        self._after = self.windows.after
        self.length = self.windows.next_length(self.length, synced.jump)
        if stint.lost:
            self.length = max(self.windows.fewest, len(stint.rows))
        new, old = synced.front.state, synced.old
        count = columns_of(self.system.problem.body).count
        travel = np.full(count, new.stroke - opening.state.stroke)
        travel[work.span.first : work.span.last] = new.stroke - old.stroke
        self._settling.see(opening.state, new, synced.increment.forces)
        self._look(old, new, travel)

    def _look(self, old: State, new: State, travel: Floats) -> None:
        self.moving = moving_tools(self.system, old, new)
        self._busy = busy_columns(self.system, old, new, self.moving, self.windows, travel)

    def _pause(self) -> None:
        """Go on with all columns for a while."""
        self._wait, self._busy = self._after, None
