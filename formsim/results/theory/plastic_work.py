"""Work of plastic flow along a flow curve, and the plane strain that walls are kept in."""

from __future__ import annotations

from math import sqrt

import numpy as np

from formsim.material.flow import FlowCurve
from formsim.results.theory.limits import require, require_positive

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(24)


def work_density(curve: FlowCurve, before: float, after: float) -> float:
    """Plastic work per volume between two strains [MPa], which is N mm per mm3.

    Parameters
    ----------
    curve : flow curve
    before, after : equivalent plastic strains, not falling [-]

    Source: definition, the area under the flow curve; Gauss points of order 24.
    """
    require(0.0 <= before <= after, "the plastic strain must not fall")
    strains = before + 0.5 * (after - before) * (1.0 + _POINTS)
    return float(0.5 * (after - before) * np.dot(_WEIGHTS, curve.stress(strains)))


def mean_flow_stress(curve: FlowCurve, before: float, after: float) -> float:
    """Flow stress that does the same work at constant height [MPa].

    Parameters
    ----------
    curve : flow curve
    before, after : equivalent plastic strains, not falling [-]

    Source: ``work_density`` over the strain.
    """
    if after == before:
        require(before >= 0.0, "the plastic strain must not be negative")
        return float(curve.stress(before))
    return work_density(curve, before, after) / (after - before)


def plane_strain_factor(r_bar: float = 1.0) -> float:
    """Yield stress in plane strain over that in simple tension [-].

    Also the equivalent strain of a unit strain along the sheet when the width is held.

    Parameters
    ----------
    r_bar : mean r-value, above zero [-]

    Source: R. Hill, "A theory of the yielding and plastic flow of anisotropic metals", Proc.
    Roy. Soc. A 193, 1948 (memory; re-derived): ``(1 + r)/sqrt(1 + 2 r)``; 2/sqrt3 for r = 1.
    """
    require_positive(r_bar=r_bar)
    return (1.0 + r_bar) / sqrt(1.0 + 2.0 * r_bar)
