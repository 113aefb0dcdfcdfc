"""Cup with flat bottom and constant thickness: area of the mid-surface against the blank.

Punch radius Rp, nose rp, wall mid-radius Rm = Rp + t/2:
A0 = pi (Rp - rp)**2 + 2 pi [(Rp - rp)(rp + t/2) pi/2 + (rp + t/2)**2], wall h above the nose
(pi Rb**2 - A0)/(2 pi Rm). Sharp corner: (D**2 - d**2)/(4 d).

Source: geometry; the area of the nose is checked here by integrating the ring.
"""

import numpy as np
from scipy.integrate import quad


def nose_area(punch_radius: float, nose_radius: float, thickness: float) -> float:
    """Mid-surface area of the rounded nose by integration of 2 pi r ds."""
    rho = nose_radius + thickness / 2.0
    centre = punch_radius - nose_radius
    return quad(lambda angle: 2.0 * np.pi * (centre + rho * np.sin(angle)) * rho, 0.0, np.pi / 2)[0]


def rim_height(
    blank_radius: float, punch_radius: float, nose_radius: float, thickness: float
) -> float:
    """Height of the rim above the outer face of the bottom."""
    flat = np.pi * (punch_radius - nose_radius) ** 2
    base = flat + nose_area(punch_radius, nose_radius, thickness)
    wall = (np.pi * blank_radius**2 - base) / (2.0 * np.pi * (punch_radius + thickness / 2.0))
    return wall + nose_radius + thickness
