"""When a stage that goes through its tools has ended: the rim has left the last of them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from formsim.case.tools import DrawDie
from formsim.solver.body import Body
from formsim.solver.problem import Path
from formsim.solver.state import Increment, State


def sharp_height(body: Body, diameter: float) -> float:
    """Height of a cup with sharp corners and constant thickness from all of the sheet [mm]."""
    blank = 2.0 * float(body.nodes[:, 0].max())
    if body.along[:, 1].any():
        rim = body.nodes[body.edge_nodes("rim")]
        area = float(body.volume.sum()) / float(np.hypot(*np.ptp(rim, axis=0)))
        blank = float(np.sqrt(4.0 * area / np.pi))
    return (blank**2 - diameter**2) / (4.0 * diameter)


def land_end(die: DrawDie) -> float:
    """Way from the face of a die to where its relief begins [mm]."""
    return die.radius + die.land - 0.5 * die.relief


def left_die(
    body: Body, die: DrawDie, face: Path, least_force: float
) -> Callable[[State, Increment], bool]:
    """Whether the rim is at the end of the land, or the die has stopped pulling at it before.

    Further on the free cup would slip off the punch. The die is the first tool and moves up.

    Parameters
    ----------
    face : position of the die face over the stroke [mm]
    least_force : force below which the die does not pull [N]
    """

    def done(now: State, row: Increment) -> bool:
        top = now.places(body)[body.edge_nodes("rim"), 1].max()
        in_land = top < face(now.stroke) - 0.5 * die.radius
        pulled = -float(row.forces[0]) > least_force
        return bool(top < face(now.stroke) - land_end(die) or (in_land and not pulled))

    return done
