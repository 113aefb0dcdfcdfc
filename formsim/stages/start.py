"""Corners of the mesh of a tube or cup that a case starts from."""

from __future__ import annotations

import math

import numpy as np

from formsim.arrays import Floats
from formsim.case.start import Cup, Tube

CORNER_COLUMNS = 6
"""Fewest columns round the corner of a cup."""


def start_length(start: Tube | Cup, thickness: float) -> float:
    """Length of the middle of the sheet from the axis or the lower end to the rim [mm]."""
    if isinstance(start, Tube):
        return start.length
    return sum(_cup_lengths(start, thickness))


def _cup_lengths(cup: Cup, thickness: float) -> tuple[float, float, float]:
    """Base, corner and wall along the middle of the sheet [mm]."""
    corner = cup.corner_radius + 0.5 * thickness
    flat = 0.5 * cup.diameter - thickness - cup.corner_radius
    return flat, 0.5 * math.pi * corner, cup.height - thickness - cup.corner_radius


def start_corners(start: Tube | Cup, thickness: float, columns: int, layers: int) -> Floats:
    """Lines of corners across the sheet, from its outside to its inside.

    The lower end of a tube or the base of a cup stands at z = 0, the rim is above.

    Returns
    -------
    Corners, (columns + 1, layers + 1, 2) [mm]; columns are about equally long.
    """
    if isinstance(start, Tube):
        middle = np.stack(
            [
                np.full(columns + 1, 0.5 * (start.diameter - thickness)),
                np.linspace(0.0, start.length, columns + 1),
            ],
            axis=1,
        )
        turn = np.full(columns + 1, 0.5 * math.pi)
    else:
        middle, turn = _cup_middle(start, thickness, columns)
    normal = np.stack([-np.sin(turn), np.cos(turn)], axis=1)
    across = thickness * (np.linspace(0.0, 1.0, layers + 1) - 0.5)
    corners: Floats = middle[:, None] + across[None, :, None] * normal[:, None]
    corners[np.abs(corners) < 1e-12 * start.diameter] = 0.0
    return corners


def _cup_middle(cup: Cup, thickness: float, columns: int) -> tuple[Floats, Floats]:
    """Points of the middle of a cup and the angle of the sheet there, (n, 2) [mm], (n) [rad]."""
    flat, bend, wall = _cup_lengths(cup, thickness)
    length = (flat + bend + wall) / columns
    n_bend = max(CORNER_COLUMNS, round(bend / length))
    n_flat = max(1, round((columns - n_bend) * flat / (flat + wall)))
    corner = cup.corner_radius + 0.5 * thickness
    base = np.linspace(0.0, flat, n_flat + 1)
    angle = np.linspace(0.0, 0.5 * math.pi, n_bend + 1)[1:]
    rise = np.linspace(0.0, wall, columns - n_bend - n_flat + 1)[1:]
    top = 0.5 * thickness + corner
    parts = [
        np.stack([base, np.full(base.shape, 0.5 * thickness)], axis=1),
        np.stack([flat + corner * np.sin(angle), top - corner * np.cos(angle)], axis=1),
        np.stack([np.full(rise.shape, flat + corner), top + rise], axis=1),
    ]
    turn = np.concatenate([0.0 * base, angle, np.full(rise.shape, 0.5 * math.pi)])
    return np.concatenate(parts), turn
