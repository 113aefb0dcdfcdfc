"""Stress of material points: logarithmic strain, return mapping, consistent tangent.

Additive plasticity in logarithmic strain (Miehe, Apel and Lambrecht, Comput. Methods Appl. Mech.
Eng. 191, 2002), written without eigenvectors in the metric variables

    m = (C11 + C22)/2,  p = (C11 - C22)/2,  s = C12,  c = C33  with C = F^T F,

so that no case of equal eigenvalues exists. Axis 1 runs along the sheet, axis 2 is its normal (R
and Z in a flat blank), axis 3 the hoop. The strain is split into four orthonormal modes: one
volumetric and three deviatoric; the first belongs to the normal. Yield follows Hill (1948) with
normal anisotropy, ``sum_i mu_i x_i^2 = sy^2`` in the deviatoric stress modes.

Points are worked out side by side, see ``lanes.py``; no loop over them branches or calls, which
makes it vector code. ``n`` counts registers of ``VECTOR`` points.
"""

from __future__ import annotations

import math

import numpy as np

from formsim.arrays import Floats
from formsim.kernels import inlined, kernel
from formsim.solver import lanes as at
from formsim.solver.curves import log, log_ratio
from formsim.solver.return_map import BEYOND, return_map

S2, S3, S6 = math.sqrt(2.0), math.sqrt(3.0), math.sqrt(6.0)
K3, G2, MU1, MU2, MU3, TABLE_STEP = range(6)


@kernel
def _trial(w: Floats, n: int, material: Floats) -> None:
    """Metric, strain and trial stress modes from the deformation gradient."""
    k3, g2 = material[K3], material[G2]
    for q in range(at.VECTOR * n):
        f11, f12, f21, f22, ft = (
            w[at.F11 + q],
            w[at.F12 + q],
            w[at.F21 + q],
            w[at.F22 + q],
            w[at.FT + q],
        )
        first = f11 * f11 + f21 * f21
        second = f12 * f12 + f22 * f22
        m = 0.5 * (first + second)
        p = 0.5 * (first - second)
        s = f11 * f12 + f21 * f22
        c = ft * ft
        area = f11 * f22 - f12 * f21
        det = area * area
        im = 1 / m
        x = (p * p + s * s) * im * im
        h, h1, h2 = log_ratio(x)
        g = 0.5 * h * im
        la = 0.25 * log(det)
        le = 0.5 * log(c)
        sound = (area > 1e-6) & (ft > 1e-6) & (x < 1.0)
        w[at.STORED + q] = 0.0 if sound else -1.0
        w[at.X0 + q] = k3 * (2 * la + le) / S3
        w[at.X1 + q] = g2 * ((la - 3 * g * p - le) / S6 - w[at.OLD1 + q])
        w[at.X2 + q] = g2 * ((la + g * p - le) / S2 - w[at.OLD2 + q])
        w[at.X3 + q] = g2 * (S2 * g * s - w[at.OLD3 + q])
        w[at.M + q], w[at.P + q], w[at.S + q], w[at.C + q] = m, p, s, c
        w[at.INV_M + q], w[at.INV_DET + q] = im, 1 / det
        w[at.X + q], w[at.H + q], w[at.H1 + q], w[at.H2 + q] = x, h, h1, h2


@inlined
def _strain_slopes(
    m: float, p: float, s: float, im: float, x: float, h: float, h1: float
) -> tuple[float, float, float, float, float, float, float, float, float]:
    """``G = h/(2m)``, then slopes of x and of G over m, p and s, then ``1/m^2`` and ``1/(2m)``."""
    i2 = 0.5 * im
    im2 = im * im
    xm = -2 * x * im
    xp = 2 * p * im2
    xs = 2 * s * im2
    return h * i2, xm, xp, xs, h1 * xm * i2 - h * 0.5 * im2, h1 * xp * i2, h1 * xs * i2, im2, i2


@kernel
def _stresses(w: Floats, n: int, material: Floats) -> None:
    """New plastic state, work conjugates of ``(m, p, s, c)`` and stored energy."""
    ik3, ig2 = 0.5 / material[K3], 0.5 / material[G2]
    mu1, mu2, mu3 = material[MU1], material[MU2], material[MU3]
    for q in range(at.VECTOR * n):
        m, p, s, id1 = w[at.M + q], w[at.P + q], w[at.S + q], w[at.INV_DET + q]
        x0 = w[at.X0 + q]
        x1 = w[at.X1 + q] * w[at.R1 + q]
        x2 = w[at.X2 + q] * w[at.R2 + q]
        x3 = w[at.X3 + q] * w[at.R3 + q]
        f = w[at.FLOW + q]
        w[at.NEW1 + q] = w[at.OLD1 + q] + f * mu1 * x1
        w[at.NEW2 + q] = w[at.OLD2 + q] + f * mu2 * x2
        w[at.NEW3 + q] = w[at.OLD3 + q] + f * mu3 * x3
        w[at.NEW_EP + q] = w[at.EP + q] + w[at.DEP + q]
        ta = 2 * x0 / S3 + x1 / S6 + x2 / S2
        tb = -3 * x1 / S6 + x2 / S2
        td = S2 * x3
        te = x0 / S3 - x1 / S6 - x2 / S2
        g, _, _, _, gm, gp, gs, _, _ = _strain_slopes(
            m, p, s, w[at.INV_M + q], w[at.X + q], w[at.H + q], w[at.H1 + q]
        )
        tq = tb * p + td * s
        ha = 0.5 * ta * id1
        w[at.SM + q] = ha * m + gm * tq
        w[at.SP + q] = tb * g - ha * p + gp * tq
        w[at.SS + q] = td * g - ha * s + gs * tq
        w[at.SC + q] = 0.5 * te / w[at.C + q]
        stored = ik3 * x0 * x0 + ig2 * (x1 * x1 + x2 * x2 + x3 * x3)
        sound = (w[at.STORED + q] == 0.0) & (w[at.WAITS + q] == 0.0) & (stored >= 0.0)
        w[at.STORED + q] = stored if sound else -1.0


@kernel
def _tangents(w: Floats, n: int, material: Floats) -> None:
    """Derivatives of the work conjugates, consistent with the return mapping."""
    k3, g2 = material[K3], material[G2]
    mu1, mu2, mu3 = material[MU1], material[MU2], material[MU3]
    # strain tangent in (A, B, D, E): rows of the mode matrix are
    # (2/S3, 0, 0, 1/S3), (a1, b1, 0, -a1), (a2, a2, 0, -a2), (0, 0, S2, 0)
    a1 = 1 / S6
    b1 = -3 / S6
    a2 = 1 / S2
    k0 = 2 / S3
    k1 = 1 / S3
    for q in range(at.VECTOR * n):
        r1, r2, r3 = w[at.R1 + q], w[at.R2 + q], w[at.R3 + q]
        x0, x1, x2, x3 = w[at.X0 + q], w[at.X1 + q] * r1, w[at.X2 + q] * r2, w[at.X3 + q] * r3
        sy, slope = w[at.SY + q], w[at.SLOPE + q]
        beta = (sy - slope * w[at.DEP + q]) / (sy * sy)
        n1 = mu1 * x1 * r1
        n2 = mu2 * x2 * r2
        n3 = mu3 * x3 * r3
        den = sy * slope + g2 * beta * (mu1 * x1 * n1 + mu2 * x2 * n2 + mu3 * x3 * n3)
        flows = w[at.LOAD + q] > BEYOND
        soft = g2 * g2 * beta / den if flows else 0.0
        d11 = g2 * r1 - soft * n1 * n1
        d22 = g2 * r2 - soft * n2 * n2
        d33 = g2 * r3 - soft * n3 * n3
        d12 = -soft * n1 * n2
        d13 = -soft * n1 * n3
        d23 = -soft * n2 * n3
        p1a = d11 * a1 + d12 * a2
        p1b = d11 * b1 + d12 * a2
        p1d = d13 * S2
        p2a = d12 * a1 + d22 * a2
        p2b = d12 * b1 + d22 * a2
        p2d = d23 * S2
        p3a = d13 * a1 + d23 * a2
        dev = a1 * p1a + a2 * p2a
        caa = k3 * k0 * k0 + dev
        cab = a1 * p1b + a2 * p2b
        cad = a1 * p1d + a2 * p2d
        cbb = b1 * p1b + a2 * p2b
        cbd = b1 * p1d + a2 * p2d
        cdd = S2 * d33 * S2
        cae = k3 * k0 * k1 - dev
        cbe = -cab
        cde = -S2 * p3a
        cee = k3 * k1 * k1 + dev
        m, p, s, id1, h1, h2 = (
            w[at.M + q],
            w[at.P + q],
            w[at.S + q],
            w[at.INV_DET + q],
            w[at.H1 + q],
            w[at.H2 + q],
        )
        g, xm, xp, xs, gm, gp, gs, im2, i2 = _strain_slopes(
            m, p, s, w[at.INV_M + q], w[at.X + q], w[at.H + q], h1
        )
        am = 0.5 * m * id1
        ap = -0.5 * p * id1
        as_ = -0.5 * s * id1
        bm = gm * p
        bp = g + gp * p
        bs = gs * p
        dm = gm * s
        dp = gp * s
        ds = g + gs * s
        ec = 0.5 / w[at.C + q]
        tam = caa * am + cab * bm + cad * dm
        tap = caa * ap + cab * bp + cad * dp
        tas = caa * as_ + cab * bs + cad * ds
        tbm = cab * am + cbb * bm + cbd * dm
        tbp = cab * ap + cbb * bp + cbd * dp
        tbs = cab * as_ + cbb * bs + cbd * ds
        tdm = cad * am + cbd * bm + cdd * dm
        tdp = cad * ap + cbd * bp + cdd * dp
        tds = cad * as_ + cbd * bs + cdd * ds
        ta = 2 * x0 / S3 + x1 / S6 + x2 / S2
        tb = -3 * x1 / S6 + x2 / S2
        td = S2 * x3
        te = x0 / S3 - x1 / S6 - x2 / S2
        h1i = h1 * i2
        h2i = h2 * i2
        xmm = 6 * w[at.X + q] * im2
        xmp = -4 * p * im2 * w[at.INV_M + q]
        xms = -4 * s * im2 * w[at.INV_M + q]
        xpp = 2 * im2
        gmm = h2i * xm * xm + h1i * xmm - h1 * xm * im2 + w[at.H + q] * im2 * w[at.INV_M + q]
        gmp = h2i * xm * xp + h1i * xmp - h1 * xp * 0.5 * im2
        gms = h2i * xm * xs + h1i * xms - h1 * xs * 0.5 * im2
        gpp = h2i * xp * xp + h1i * xpp
        gps = h2i * xp * xs
        gss = h2i * xs * xs + h1i * xpp
        id2 = id1 * id1
        half = 0.5 * id1
        tq = tb * p + td * s
        w[at.DMM + q] = am * tam + bm * tbm + dm * tdm + ta * (half - m * m * id2) + gmm * tq
        w[at.DMP + q] = am * tap + bm * tbp + dm * tdp + ta * m * p * id2 + tb * gm + gmp * tq
        w[at.DMS + q] = am * tas + bm * tbs + dm * tds + ta * m * s * id2 + td * gm + gms * tq
        w[at.DPP + q] = (
            ap * tap + bp * tbp + dp * tdp - ta * (half + p * p * id2) + 2 * tb * gp + gpp * tq
        )
        w[at.DPS + q] = (
            ap * tas + bp * tbs + dp * tds - ta * p * s * id2 + tb * gs + td * gp + gps * tq
        )
        w[at.DSS + q] = (
            as_ * tas + bs * tbs + ds * tds - ta * (half + s * s * id2) + 2 * td * gs + gss * tq
        )
        w[at.DMC + q] = ec * (cae * am + cbe * bm + cde * dm)
        w[at.DPC + q] = ec * (cae * ap + cbe * bp + cde * dp)
        w[at.DSC + q] = ec * (cae * as_ + cbe * bs + cde * ds)
        w[at.DCC + q] = ec * ec * cee - 0.5 * te / (w[at.C + q] * w[at.C + q])


@kernel
def respond_all(
    w: Floats, n: int, material: Floats, table: Floats, want: bool, paced: bool
) -> None:
    """Response of ``8 n`` points to the deformation gradients in ``w``.

    Parameters
    ----------
    w : values of the points; gradient and old plastic state are read, all others set
    material, table, want : see ``respond``
    paced : whether rate and temperature change the flow curve, see ``tempo.py``
    """
    _trial(w, n, material)
    mu1, mu2, mu3 = material[MU1], material[MU2], material[MU3]
    g2, step = material[G2], material[TABLE_STEP]
    if paced:
        return_map(w, n, g2, mu1, mu2, mu3, step, table, material)
    else:
        return_map(w, n, g2, mu1, mu2, mu3, step, table, None)
    _stresses(w, n, material)
    if want:
        _tangents(w, n, material)


@kernel
def respond(
    f11: float,
    f12: float,
    f21: float,
    f22: float,
    ft: float,
    material: Floats,
    table: Floats,
    old: Floats,
    new: Floats,
    force: Floats,
    stiff: Floats,
    want: bool,
) -> float:
    """Response of one point to a deformation gradient.

    Parameters
    ----------
    f11, f12, f21, f22, ft : deformation gradient, ``ft`` along the hoop [-]
    material : ``[3K, 2G, mu1, mu2, mu3, table step]``, then the rate law, see ``rates.py``
    table : flow curve over the square root of plastic strain, (n, 2)
    old, new : plastic strain of the three modes and equivalent plastic strain, (4); ``new`` is set
    force : work conjugate of ``(m, p, s, c)``, then trial stress over yield stress, (5); set
    stiff : its derivative, (4, 4); set when ``want``

    Returns
    -------
    Stored elastic energy per reference volume [MPa], negative where the point is turned inside
    out or the return mapping fails.
    """
    w = np.empty(at.SIZE)
    for q in range(at.VECTOR):
        w[at.F11 + q], w[at.F12 + q], w[at.F21 + q], w[at.F22 + q], w[at.FT + q] = (
            f11,
            f12,
            f21,
            f22,
            ft,
        )
        w[at.OLD1 + q], w[at.OLD2 + q], w[at.OLD3 + q], w[at.EP + q] = (
            old[0],
            old[1],
            old[2],
            old[3],
        )
    respond_all(w, 1, material, table, want, False)
    for i in range(4):
        new[i] = w[at.NEW1 + i * at.LANES]
        force[i] = w[at.SM + i * at.LANES]
    force[4] = w[at.LOAD]
    if want:
        k = 0
        for i in range(4):
            for j in range(i, 4):
                stiff[i, j] = stiff[j, i] = w[at.DMM + k * at.LANES]
                k += 1
    stored: float = w[at.STORED]
    return stored
