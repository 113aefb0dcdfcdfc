"""Load to push a thin tube through a conical die or over a cone, by the work it takes.

Steady flow: of every axial way ``dz`` of the tool a volume ``2 pi r0 t0 dz`` enters the cone.

- Hoop strain: each volume takes ``w = int sigma de`` up to its hoop strain ``|ln(r1/r0)|``; the
  meridional stress is small, so the stress is uniaxial (Hill 1948: r-value of no account).
- Friction: the hoop stress needs a pressure ``p = sigma t cos(a)/r`` on the cone; with the speed
  of the sheet ``v r0 t0/(r t)`` the power of ``mu p`` over the area ``2 pi r dr/sin(a)`` is that
  of the hoop strain times ``mu/tan(a)``.
- Bending: on every arc the wall is bent and straightened, ``Yp t^2/(2 rho)`` per length of ring,
  ``Yp = 2 Y/sqrt3``; an upper bound, since a wall that is pushed bends on a larger radius than
  the tool's.

Source: work balance as in textbooks on tube nosing and flaring, K. Lange, Handbook of Metal
Forming, 1985 (memory); derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

Flow = Callable[[np.ndarray], np.ndarray]


def hoop_work(flow: Flow, first: float, last: float) -> float:
    """Plastic work per volume of uniaxial hoop strain from one radius to another [MPa]."""
    strain = np.linspace(0.0, abs(np.log(last / first)), 401)
    return float(np.trapezoid(flow(strain), strain))


def cone_load(
    flow: Flow, radius: float, rim: float, thickness: float, angle: float, friction: float
) -> float:
    """Load without bending [N].

    Parameters
    ----------
    flow : flow stress over plastic strain [MPa]
    radius, rim : middle of the wall before the cone and at its end [mm]
    thickness : of the tube [mm]
    angle : of the cone to the axis [deg]
    """
    share = 1.0 + friction / np.tan(np.radians(angle))
    return 2.0 * np.pi * radius * thickness * hoop_work(flow, radius, rim) * float(share)


def bending_load(
    flow: Flow, radius: float, rim: float, thickness: float, arcs: Sequence[float]
) -> float:
    """Largest load that bending over arcs of given radii adds [N]."""
    mean = hoop_work(flow, radius, rim) / abs(np.log(rim / radius))
    pull = sum(2.0 / np.sqrt(3.0) * mean * thickness**2 / (2.0 * arc) for arc in arcs)
    return float(2.0 * np.pi * radius * pull)
