"""Watching that no tool comes to touch a column beyond a window that it did not touch before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from formsim.arrays import Floats
from formsim.geometry.distance import gaps, least_gap
from formsim.solver.balance import DEEPEST
from formsim.solver.beyond import End
from formsim.solver.condense import Condensed
from formsim.solver.newton import System
from formsim.solver.problem import Press
from formsim.solver.state import State

NEAR = 6.0
"""Gap, in units of the contact softness, at which a tool is about to touch."""

HORIZON = 2.0
"""Travel, in sheet thicknesses, for which nodes far from the tools are not looked at again."""


@dataclass(frozen=True)
class _Ahead:
    """Nodes beyond one end of a window that a tool may come to touch.

    Attributes
    ----------
    tool : number of the tool
    end : end of the window they move with
    places : where they were when the window was opened, (n, 2) [mm]
    """

    tool: int
    end: End
    places: Floats


class Lookout:
    """Watches the tools that touch nothing beyond a window and move before the stroke ``mark``.

    Gaps change no faster than twice the travel, so most increments need no look. The columns beyond
    move with the ends of the window.
    """

    def __init__(self, system: System, opening: State, condensed: Condensed, mark: float) -> None:
        self._tools = system.problem.tools
        self._least = NEAR * system.problem.contact.softness
        self._ahead = tuple(_ahead(system, opening, condensed, mark))
        self._behind = -DEEPEST * system.problem.scales.length
        self._near, self._horizon = self._ahead, HORIZON * system.problem.scales.length
        self._stroke = self._until = opening.stroke
        self._room = -np.inf
        self._look_round(condensed.start)

    def clear(self, state: State) -> bool:
        """Whether the tools are still clear of the columns beyond at a state of the part."""
        if 2.0 * (state.stroke - self._stroke) < self._room - self._least:
            return True
        if state.stroke > self._until:
            self._look_round(state)
        else:
            rooms = [self._room_before(ahead, state) for ahead in self._near]
            self._stroke, self._room = state.stroke, min(rooms, default=np.inf)
        return self._room > self._least

    def _look_round(self, state: State) -> None:
        """Look at all nodes, and remember those that may come near in a travel of some length."""
        found = [self._gaps(ahead, state) for ahead in self._ahead]
        rooms = [gap[gap > self._behind].min(initial=np.inf) for gap in found]
        self._stroke, self._room = state.stroke, float(min(rooms, default=np.inf))
        self._until = state.stroke + self._horizon
        reach = self._least + 2.0 * self._horizon
        self._near = tuple(
            replace(ahead, places=ahead.places[gap < reach])
            for ahead, gap in zip(self._ahead, found, strict=True)
        )

    def _gaps(self, ahead: _Ahead, state: State) -> Floats:
        return gaps(self._tools[ahead.tool].outline, ahead.places + _moved(ahead, state))

    def _room_before(self, ahead: _Ahead, state: State) -> float:
        """Smallest gap between a tool and the columns beyond that may come near it [mm]."""
        pieces = self._tools[ahead.tool].outline.pieces
        return float(least_gap(pieces, ahead.places, *_moved(ahead, state), self._behind))


def _moved(ahead: _Ahead, state: State) -> tuple[float, float]:
    """How far the nodes beyond an end have moved against their tool, radial and axial [mm]."""
    moved = state.u[ahead.end.line] - ahead.end.at
    n = len(moved) // 2
    axial = float(moved[1::2].sum()) / n - float(state.positions[ahead.tool])
    return float(moved[0::2].sum()) / n, axial


def _ahead(system: System, opening: State, condensed: Condensed, mark: float) -> Iterator[_Ahead]:
    beyond, span = condensed.part.problem.beyond, condensed.span
    places, touch = opening.places(system.problem.body), system.touch
    if beyond is None:
        return
    tools, now = system.problem.tools, opening.stroke
    moving = [isinstance(t.motion, Press) or t.motion(now) != t.motion(mark) for t in tools]
    for tool in np.flatnonzero(moving & ~beyond.shared):
        first, last = touch.face_start[tool]
        nodes = np.unique(touch.nodes[first:last])
        for end, its in (
            (beyond.before, nodes[nodes < span.nodes.start]),
            (beyond.behind, nodes[nodes >= span.nodes.stop]),
        ):
            if end is not None and len(its):
                yield _Ahead(int(tool), end, places[its])
