"""Outline of a punch as the case describes or draws it."""

from __future__ import annotations

import math

from formsim.case.tools import Punch
from formsim.geometry.outline import Outline
from formsim.stages import shapes
from formsim.stages.drawn import outline_of
from formsim.stages.roles import PUNCH


def punch_outline(punch: Punch) -> Outline:
    """Drawn, or with a flat, hemispherical, hollow or ringed nose; lowest point at z = 0."""
    return outline_of(punch.outline, PUNCH, lambda: _built(punch))


def _built(punch: Punch) -> Outline:
    step, plain = punch.step, _plain(punch)
    if step is None:
        return plain
    return shapes.stepped(plain, step.height, 0.5 * step.diameter, step.length)


def _plain(punch: Punch) -> Outline:
    radius, nose = 0.5 * punch.diameter, punch.nose_radius
    ring, cavity = punch.nose_ring, punch.cavity
    if ring is not None:
        depth = ring.height if cavity is None else cavity.depth
        return shapes.ring_punch(radius, nose, 0.5 * ring.diameter, ring.radius, ring.height, depth)
    if cavity is not None and cavity.diameter is not None and cavity.radius is not None:
        return shapes.cavity_punch(radius, nose, 0.5 * cavity.diameter, cavity.radius, cavity.depth)
    if math.isclose(nose, radius):
        return shapes.round_punch(radius)
    return shapes.flat_punch(radius, nose)
