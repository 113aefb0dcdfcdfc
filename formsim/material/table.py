"""A flow curve as a table that compiled kernels read by cubic Hermite interpolation."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats
from formsim.material.flow import FlowCurve


def flow_table(curve: FlowCurve, top: float = 10.0, points: int = 4096) -> Floats:
    """Stress and its slope at equal steps of the root of the plastic strain.

    The root packs the points where curves bend most, and makes the slope
    ``d(stress)/d(root) = 2 root d(stress)/d(strain)`` finite at zero.

    Parameters
    ----------
    curve : flow curve
    top : plastic strain of the last row [-]
    points : number of rows

    Returns
    -------
    Rows of stress [MPa] and d(stress)/d(root) [MPa], (points, 2), at
    ``root = linspace(0, sqrt(top), points)``.

    With the default rows Hermite interpolation holds to 1e-6 of the stress for Voce
    curves, and for Swift and Hollomon curves that start at a strain of 1e-4 or more.
    Ludwik and Hockett-Sherby curves with an exponent below 1, and Swift curves of a smaller
    prestrain, are as good from a plastic strain of 1e-4 on and coarser below (0.7 % of the
    stress below 1e-6 at an exponent of 0.25, 16 % at a prestrain of 1e-8). An exponent below
    one half is vertical at zero even in the root: that slope is cut to the steepest that
    keeps the cubic monotone.
    Source of the cut: F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic
    interpolation", SIAM J. Numer. Anal. 17, 1980: a slope of at most three chords (memory).
    """
    root = np.linspace(0.0, np.sqrt(top), points)
    # A curve vertical in strain has a slope in the root that only shows off zero.
    near = np.maximum(root, 1e-7)
    table = np.column_stack([curve.stress(root**2), 2.0 * near * curve.slope(near**2)])
    chord = (table[1, 0] - table[0, 0]) / root[1]
    table[0, 1] = min(table[0, 1], 3.0 * chord)
    return table
