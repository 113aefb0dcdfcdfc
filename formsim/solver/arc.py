"""Loads that follow the path of a body: an increment is a length of way, not of load.

Past a limit point the load falls, and both the displacements and the enclosed volume may turn back
(a clamped cap of lambda 6 does so in either). The length of way never does: of each increment the
root mean square of all nodal displacements and the change of the load, as the sides of a right
angle, make up its length (Crisfield, Computers and Structures 13, 1981, pages 55-62).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from formsim.arrays import Floats

STANDING = 1e-9
"""Way, in thicknesses, below which nothing has moved yet: only the load can go first."""


@dataclass(frozen=True)
class Arc:
    """Way and its derivatives.

    Attributes
    ----------
    way : length of the increment [mm]
    by_displacement : its derivative, (n_unknowns) [-]
    by_load : its derivative with respect to the load [mm/MPa]
    """

    way: float
    by_displacement: Floats
    by_load: float


def arc(du: Floats, load: float, unit: float, length: float) -> Arc:
    """Way of an increment.

    Parameters
    ----------
    du : displacement in the increment, (n_unknowns) [mm]
    load : change of the load in the increment [MPa]
    unit : load that counts as much as a displacement of ``length`` [MPa]
    length : sheet thickness or a like length [mm]
    """
    nodes = 0.5 * len(du)
    scaled = length * load / unit
    way = math.sqrt(float(du @ du) / nodes + scaled * scaled)
    if way < STANDING * length:
        return Arc(0.0, 0.0 * du, length / unit)
    return Arc(way, du / (nodes * way), length * scaled / (unit * way))


def stopped(found: Arc, travel: float, short: float, unit: float, length: float) -> Arc:
    """Way of an increment that ends earlier where its load is reached.

    Whichever comes first is the end: a load ``short`` of nothing counts as the whole way.

    Parameters
    ----------
    travel : way the increment is to take [mm]
    short : what the load lacks, infinite where none is asked for [MPa]
    unit, length : see ``arc``
    """
    left = length * short / unit
    if left >= travel - found.way:
        return found
    return Arc(travel - left, 0.0 * found.by_displacement, length / unit)
