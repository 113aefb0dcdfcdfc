"""How deep contact points go into their tool: in a trial of Newton, and in an accepted increment.

A point that just begins to bear meets next to no stiffness, so a full Newton step may drive it in
deep; and a tool on which the load comes within one increment has had no travel to become stiff on.
"""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.kernels import kernel
from formsim.solver.contact import FAR, STIFFEST, Grip, same_pressure

SINK = 4.0
"""Depth of a loaded point, in units of the contact softness, that asks for a stiffer tool; the
trust table allows 5."""

RAISED = 3.0
"""Depth it is to have with the stiffer tool, at the same pressure."""


@kernel
def shallow_share(
    face_start: Ints, before: Floats, gap: Floats, offset: Floats, pressure: Floats, softness: float
) -> float:
    """Share of a step up to which no point goes in by more than the contact softness, at most 1.

    Parameters
    ----------
    face_start : first and last facet of each tool, (n_tools, 2)
    before, gap : gaps before the step and after all of it, (n_tools, n_faces, n_points) [mm]
    offset, pressure : offsets [mm], and pressures after it [MPa], likewise
    """
    share = 1.0
    for t in range(face_start.shape[0]):
        for f in range(face_start[t, 0], face_start[t, 1]):
            for g in range(gap.shape[2]):
                if pressure[t, f, g] <= 0.0:
                    continue
                was = before[t, f, g] - offset[t, f, g]
                now = gap[t, f, g] - offset[t, f, g]
                allowed = min(was, 0.0) - softness
                if now < allowed:
                    share = min(share, (was - allowed) / (was - now))
    return share


@kernel
def _newly_sunk(
    face_start: Ints, before: Floats, gap: Floats, pressure: Floats, limit: float
) -> Floats:
    """Depth of the deepest point of each tool that came below a limit, 0 for none, (n_tools)."""
    depth = np.zeros(face_start.shape[0])
    for t in range(face_start.shape[0]):
        for f in range(face_start[t, 0], face_start[t, 1]):
            for g in range(gap.shape[2]):
                is_deep = pressure[t, f, g] > 0.0 and gap[t, f, g] < -limit
                if is_deep and -limit <= before[t, f, g] < FAR:
                    depth[t] = max(depth[t], -gap[t, f, g])
    return depth


def firmer(
    grip: Grip, face_start: Ints, gap: Floats, pressure: Floats, softness: float
) -> Grip | None:
    """Contact settings with stiffer tools where points have sunk in, None where none has.

    Points that bore before keep their pressure. Points that were deep before the increment, or that
    had no gap yet, do not count: a tool set into a sprung wall is to press it out gently.

    Parameters
    ----------
    grip : settings and memory the increment was solved with
    face_start : first and last facet of each tool, (n_tools, 2)
    gap, pressure : of the solved increment, (n_tools, n_faces, n_points) [mm], [MPa]
    """
    depth = _newly_sunk(face_start, grip.gap, gap, pressure, SINK * softness)
    sunk = (depth > 0.0) & (grip.log_stiffness < STIFFEST)
    if not sunk.any():
        return None
    stiffer = grip.log_stiffness + np.log(np.where(sunk, depth / (RAISED * softness), 1.0))
    return same_pressure(grip, np.minimum(stiffer, STIFFEST), softness)
