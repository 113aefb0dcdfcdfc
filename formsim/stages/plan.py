"""What a stage hands to the solver: tools, loads, supports and how far to go."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.geometry.distance import gaps
from formsim.geometry.outline import Outline
from formsim.solver.body import Body
from formsim.solver.problem import Pressure, Support, Tool
from formsim.solver.state import State


@dataclass(frozen=True)
class Plan:
    """A stage in the solver's words.

    Attributes
    ----------
    tools, pressures, supports : what acts on the sheet
    end : stroke at which the stage ends at the latest [mm]
    frame : tool that stands still in the press; travel and work are told relative to it
    done : ends the stage earlier when true
    kept : supports that stay during springback
    """

    tools: tuple[Tool, ...]
    end: float
    frame: str
    pressures: tuple[Pressure, ...] = ()
    supports: tuple[Support, ...] = ()
    done: Callable[[State], bool] | None = None
    kept: tuple[Support, ...] = ()


def face_points(body: Body, state: State, edge: str) -> Floats:
    """Current positions of the contact points of an edge, (n, 2) [mm]."""
    faces = body.faces[edge]
    places = state.places(body)[faces.nodes]
    return np.einsum("fqa,fad->fqd", faces.shape, places).reshape(-1, 2)


def rest_height(outline: Outline, points: Floats, gap: float, *, above: bool) -> float:
    """Axial position at which a tool comes within ``gap`` of the points.

    The tool approaches from above or from below and stops at the first point it meets.
    """
    span = float(np.ptp(points[:, 1])) + 1.0
    middle = float(points[:, 1].mean())
    sign = 1.0 if above else -1.0
    far, near = middle + sign * 3.0 * span, middle - sign * 3.0 * span
    for _ in range(60):
        trial = 0.5 * (far + near)
        clear = gaps(outline, points - [0.0, trial]).min() > gap
        far, near = (trial, near) if clear else (far, trial)
    return far
