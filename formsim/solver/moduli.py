"""Stress and stiffness over the deformation gradient, from those over the metric variables.

With ``y = (m, p, s, c)`` they are ``P = Y^T S`` and ``A = Y^T D Y`` plus the second derivatives of
``y``, where ``Y = dy/dF``. Written in ``m + p``, ``m - p`` and ``s`` each entry of ``Y`` is one
component of ``F``.
"""

from __future__ import annotations

from formsim.arrays import Floats
from formsim.kernels import kernel
from formsim.solver import lanes as at


@kernel
def pulls(w: Floats, n: int) -> None:
    """Forces ``P = dW/dF`` of ``8 n`` points, times their volume."""
    for q in range(at.VECTOR * n):
        f11, f12, f21, f22, ft = (
            w[at.F11 + q],
            w[at.F12 + q],
            w[at.F21 + q],
            w[at.F22 + q],
            w[at.FT + q],
        )
        v = w[at.VOLUME + q]
        t11 = v * (w[at.SM + q] + w[at.SP + q])
        t22 = v * (w[at.SM + q] - w[at.SP + q])
        t12 = v * w[at.SS + q]
        w[at.P11 + q] = t11 * f11 + t12 * f12
        w[at.P12 + q] = t22 * f12 + t12 * f11
        w[at.P21 + q] = t11 * f21 + t12 * f22
        w[at.P22 + q] = t22 * f22 + t12 * f21
        w[at.PT + q] = 2 * v * w[at.SC + q] * ft


@kernel
def moduli(w: Floats, n: int) -> None:
    """Stiffness ``A = dP/dF`` of ``8 n`` points, times their volume."""
    for q in range(at.VECTOR * n):
        f11, f12, f21, f22, ft = (
            w[at.F11 + q],
            w[at.F12 + q],
            w[at.F21 + q],
            w[at.F22 + q],
            w[at.FT + q],
        )
        v = w[at.VOLUME + q]
        t11 = v * (w[at.SM + q] + w[at.SP + q])
        t22 = v * (w[at.SM + q] - w[at.SP + q])
        t12 = v * w[at.SS + q]
        dmm, dmp, dpp = v * w[at.DMM + q], v * w[at.DMP + q], v * w[at.DPP + q]
        dms, dps = v * w[at.DMS + q], v * w[at.DPS + q]
        e11 = dmm + 2 * dmp + dpp
        e12 = dmm - dpp
        e22 = dmm - 2 * dmp + dpp
        e13 = dms + dps
        e23 = dms - dps
        e33 = v * w[at.DSS + q]
        hoop = 2 * ft * v
        e1c = hoop * (w[at.DMC + q] + w[at.DPC + q])
        e2c = hoop * (w[at.DMC + q] - w[at.DPC + q])
        e3c = hoop * w[at.DSC + q]
        a1 = e11 * f11 + e13 * f12
        b1 = e13 * f11 + e33 * f12
        c1 = e12 * f11 + e23 * f12
        c2 = e12 * f21 + e23 * f22
        a2 = e11 * f21 + e13 * f22
        b2 = e13 * f21 + e33 * f22
        d1 = e22 * f12 + e23 * f11
        g1 = e23 * f12 + e33 * f11
        d2 = e22 * f22 + e23 * f21
        g2 = e23 * f22 + e33 * f21
        w[at.A11_11 + q] = a1 * f11 + b1 * f12 + t11
        w[at.A11_12 + q] = c1 * f12 + b1 * f11 + t12
        w[at.A11_21 + q] = a1 * f21 + b1 * f22
        w[at.A11_22 + q] = c1 * f22 + b1 * f21
        w[at.A12_12 + q] = d1 * f12 + g1 * f11 + t22
        w[at.A12_21 + q] = c2 * f12 + b2 * f11
        w[at.A12_22 + q] = d1 * f22 + g1 * f21
        w[at.A21_21 + q] = a2 * f21 + b2 * f22 + t11
        w[at.A21_22 + q] = c2 * f22 + b2 * f21 + t12
        w[at.A22_22 + q] = d2 * f22 + g2 * f21 + t22
        w[at.A11_T + q] = e1c * f11 + e3c * f12
        w[at.A12_T + q] = e2c * f12 + e3c * f11
        w[at.A21_T + q] = e1c * f21 + e3c * f22
        w[at.A22_T + q] = e2c * f22 + e3c * f21
        w[at.AT_T + q] = 2 * hoop * ft * w[at.DCC + q] + 2 * v * w[at.SC + q]
