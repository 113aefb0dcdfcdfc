"""Which columns are worked on: those that flow or that a moving tool touches, and a margin.

A forming stage is busy in few columns at a time. While they are worked on, the rest follows as
elastic ends of the part (``condense.py``), and ``synchronise.py`` puts all columns in equilibrium
again before anything has drifted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats, Ints
from formsim.kernels import kernel
from formsim.solver.newton import System
from formsim.solver.part import Span, columns_of, span_of
from formsim.solver.problem import Press
from formsim.solver.state import State


@dataclass(frozen=True)
class Windows:
    """How windows are chosen and how long they last.

    Attributes
    ----------
    flowing : plastic strain per travel of a thickness from which a column flows
    settled : growth of the force that drives the tools in a thickness of travel, over the force,
        down to which a stage has not settled yet
    margin_before, margin_behind : columns added towards the centre and towards the rim [-]
    quiet : columns at the ends of a window in which nothing may begin
    worth : largest share of all columns for which a window pays
    early : the same before the stage has settled; of little else than a ring are so few busy
    near : columns to an end of the strip that are taken in as well
    after : increments of all columns before the first window, and after one was undone
    first, fewest, most : increments of a window
    check : increments after which the residual of all columns is looked at first
    drift : that residual, over their forces, that ends a window
    jump : change of a tool force, over its peak, that asks for shorter windows
    worst_jump : jump at which a window is undone
    worst_drift : residual from which it is undone without trying; far below, tools have only sunk
        micrometres into columns that did not give way yet
    longest_after : increments of all columns at most between windows that do not hold
    """

    flowing: float = 2e-4
    settled: float = 0.04
    margin_before: int = 8
    margin_behind: int = 10
    quiet: int = 3
    worth: float = 0.85
    early: float = 0.3
    near: int = 8
    after: int = 4
    first: int = 4
    fewest: int = 3
    most: int = 90
    check: int = 5
    drift: float = 0.1
    jump: float = 0.003
    worst_drift: float = 20.0
    worst_jump: float = 0.005
    longest_after: int = 128

    def next_length(self, length: int, jump: float) -> int:
        """Increments at most of the next window, after one that ended with a jump."""
        if jump < 0.3 * self.jump:
            return min(self.most, 2 * length)
        if jump < self.jump:
            return min(self.most, length + 1)
        return max(self.fewest, int(length * max(0.4, self.jump / jump)))


def moving_tools(system: System, old: State, new: State) -> Bools:
    """Tools that moved from one state to another or are free to, (n_tools)."""
    free = [isinstance(tool.motion, Press) for tool in system.problem.tools]
    n = len(free)
    moved: Bools = np.array(free, dtype=bool) | (old.positions[:n] != new.positions[:n])
    return moved


def busy_columns(
    system: System, old: State, new: State, moving: Bools, windows: Windows, travel: Floats | float
) -> Bools:
    """Columns that flow or that a moving tool touches, (n_columns); none where nothing flows.

    Parameters
    ----------
    travel : stroke in which the plastic strain from ``old`` to ``new`` came about, of each column
        or of all [mm]
    """
    columns, touch = columns_of(system.problem.body), system.touch
    least, busy = np.empty(columns.count), np.empty(columns.count, dtype=bool)
    least[:] = windows.flowing / system.problem.scales.length * travel
    flowing_columns(old.plastic, new.plastic, least, busy)
    if busy.any():
        touched_columns(touch.element, columns.layers, new.grip.pressure, moving, busy)
    return busy


@kernel
def flowing_columns(old: Floats, new: Floats, least: Floats, busy: Bools) -> None:
    """Mark columns whose plastic strain grew by more than ``least``, the others not; set."""
    layers = old.shape[0] // len(busy)
    for c in range(len(busy)):
        busy[c] = False
        for e in range(c * layers, (c + 1) * layers):
            for q in range(old.shape[1]):
                if new[e, q, 3] - old[e, q, 3] > least[c]:
                    busy[c] = True


@kernel
def touched_columns(
    element: Ints, layers: int, pressure: Floats, tools: Bools, busy: Bools
) -> None:
    """Mark columns that some of the tools touch, in addition."""
    for t in range(pressure.shape[0]):
        if tools[t]:
            for f in range(pressure.shape[1]):
                for g in range(pressure.shape[2]):
                    if pressure[t, f, g] > 0.0:
                        busy[element[f] // layers] = True


def choose_span(system: System, busy: Bools, windows: Windows, worth: float) -> Span | None:
    """Span around the busy columns; None where it takes more than a share ``worth`` of all."""
    count = len(busy)
    where = np.flatnonzero(busy)
    if not where.size:
        return None
    first = max(0, int(where[0]) - windows.margin_before)
    last = min(count, int(where[-1]) + 1 + windows.margin_behind)
    first = 0 if first < windows.near else first
    last = count if count - last < windows.near else last
    return span_of(system, first, last) if last - first < worth * count else None


def crowded(span: Span, count: int, busy: Bools, windows: Windows) -> bool:
    """Whether something has begun close to an end of a window beyond which the strip goes on."""
    before = span.first > 0 and busy[: windows.quiet].any()
    behind = span.last < count and busy[len(busy) - windows.quiet :].any()
    return bool(before or behind)


def unmoved(part: System, target: float, positions: Floats) -> bool:
    """Whether tools that touch columns beyond a window stand still up to the stroke ``target``."""
    beyond = part.problem.beyond
    for k, tool in enumerate(part.problem.tools):
        if (
            beyond
            and beyond.shared[k]
            and (isinstance(tool.motion, Press) or tool.motion(target) != positions[k])
        ):
            return False
    return True
