"""What a stage hands to the solver: tools, loads, supports and how far to go."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from formsim.arrays import Floats
from formsim.errors import ConvergenceError
from formsim.geometry.distance import gaps
from formsim.geometry.outline import Outline
from formsim.solver.body import Body
from formsim.solver.problem import Path, Press, Pressure, Support, Tie, Tool
from formsim.solver.state import Increment, State

NEAR = 3.0
"""Starting gap of a tool the sheet lies on, in units of the contact softness: just touching."""

APART = 0.05
"""Starting gap of a tool that comes later, in sheet thicknesses: safely out of reach."""

PRESS_OUT = 2.0
"""Travel in which a sprung-in wall is pressed out before other tools move, in thicknesses."""

APPROACH = 200
"""Places a tool is tried at on its way to the sheet."""

SQUEEZE = 0.6
"""Travel of a press spring until it has its full force, in sheet thicknesses."""


Lid = Literal["", "support", "tie"]

Gauge = Callable[[State], float]
"""Something that is read off at every increment."""

Fails = Callable[[State, tuple[Increment, ...]], ConvergenceError | None]


GivesWay = Callable[[State, ConvergenceError], ConvergenceError]
"""What to say of a failure in the words of the stage, from the last state."""


@dataclass(frozen=True)
class Plan:
    """A stage in the solver's words.

    Attributes
    ----------
    tools, pressures, supports, ties : what acts on the sheet
    begin, end : first stroke, negative while pressed tools close, and the latest last one [mm]
    reach : stroke at which the stage will end by estimate [mm]
    frame : tool that stands still in the press; travel and work are told relative to it
    done : ends the stage earlier when true
    fails : why the part cannot be made, None as long as it can; from a state and the increments
        since the last one
    gives_way : says why the stage cannot go on where the solver cannot or the sheet tears
    gentle : tools that overlap the sheet at first, a sprung-in wall say, and press it out softly
    kept : supports that stay during springback
    stride : longest increment over the usual one
    jerky : elements pass an edge one by one, so that rates of the last increment mislead
    guard : strength of the resistance to hourglass modes at the free rim, in yield stresses
    gauges : what is read off at every increment, by name; all columns are worked on then
    lid : what acts for a lid at the rim, the ``support`` or the first ``tie``; empty without one
    load : what a test of the body goes by, from an increment; None for other stages
    specimen : the body is tested until it gives way, and the line goes on with one like it
    squeezed : thickness the tools squeeze the sheet to, infinite where they do not [mm]
    """

    tools: tuple[Tool, ...]
    end: float
    frame: str
    begin: float = 0.0
    reach: float = 0.0
    pressures: tuple[Pressure, ...] = ()
    supports: tuple[Support, ...] = ()
    ties: tuple[Tie, ...] = ()
    done: Callable[[State, Increment], bool] | None = None
    fails: Fails | None = None
    gives_way: GivesWay | None = None
    gentle: tuple[str, ...] = ()
    kept: tuple[Support, ...] = ()
    stride: float = 1.0
    jerky: bool = False
    guard: float = 0.0
    gauges: Mapping[str, Gauge] = field(default_factory=dict)
    lid: Lid = ""
    load: Callable[[Increment], float] | None = None
    specimen: bool = False
    squeezed: float = np.inf

    @property
    def idle(self) -> bool:
        """Whether nothing acts on the sheet, as when it is only cut or baked."""
        return self.end <= self.begin


def face_points(body: Body, state: State, edge: str) -> Floats:
    """Current positions of the contact points of an edge, (n, 2) [mm]."""
    faces = body.faces[edge]
    places = state.places(body)[faces.nodes]
    points: Floats = np.einsum("fqa,fad->fqd", faces.shape, places).reshape(-1, 2)
    return points


@dataclass(frozen=True)
class Seat:
    """Where a tool stands inside a cup.

    Attributes
    ----------
    at : axial position at which it rests on the base [mm]
    tight : whether the wall has sprung in over it, so that it must be pressed out
    """

    at: float
    tight: bool


def seat_inside(outline: Outline, inside: Floats, flat: float, near: float) -> Seat:
    """Seat of a punch or sleeve on the base of a cup.

    Parameters
    ----------
    inside : contact points of the inner face, (n, 2) [mm]
    flat : radius within which the tool rests on the base [mm]
    near : gap it keeps [mm]
    """
    at = rest_height(outline, inside[inside[:, 0] < flat], near, above=True)
    return Seat(at, -float(gaps(outline, inside - [0.0, at]).min()) > near)


def closing_press(
    force: float, thickness: float, path: Path, begin: float, stop: Path | None = None
) -> Press:
    """Press whose seat leaves its path at the stroke ``begin``, towards the sheet, and goes on.

    Parameters
    ----------
    force : axial force of the sheet on the tool, upwards positive [N]
    path : position of the tool at rest over the stroke [mm]
    stop : lowest position over the stroke [mm]
    """
    towards = -1.0 if force > 0 else 1.0

    def seat(stroke: float) -> float:
        return path(stroke) + towards * max(0.0, stroke - begin)

    return Press(force, seat, abs(force) / (SQUEEZE * thickness), stop)


def rest_height(outline: Outline, points: Floats, gap: float, *, above: bool) -> float:
    """Axial position at which a tool comes within ``gap`` of the points.

    The tool approaches from above or from below and stops at the first point it meets; behind that
    it may be clear again, as a ring above a low cup is.
    """
    span = float(np.ptp(points[:, 1])) + 1.0
    middle = float(points[:, 1].mean())
    sign = 1.0 if above else -1.0

    def clear(at: float) -> bool:
        return bool(gaps(outline, points - [0.0, at]).min() > gap)

    way = middle + sign * span * np.linspace(3.0, -3.0, APPROACH)
    met = next((k for k, at in enumerate(way) if not clear(float(at))), len(way) - 1)
    far, near = float(way[max(met - 1, 0)]), float(way[met])
    for _ in range(60):
        trial = 0.5 * (far + near)
        far, near = (trial, near) if clear(trial) else (far, trial)
    return far
