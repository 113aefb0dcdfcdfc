"""Stress of one material point: logarithmic strain, return mapping, consistent tangent.

Additive plasticity in logarithmic strain (Miehe, Apel and Lambrecht, Comput. Methods Appl. Mech.
Eng. 191, 2002), written without eigenvectors in the metric variables

    m = (C11 + C22)/2,  p = (C11 - C22)/2,  s = C12,  c = C33  with C = F^T F,

so that no case of equal eigenvalues exists. Axis 1 runs along the sheet, axis 2 is its normal (R
and Z in a flat blank), axis 3 the hoop. The strain is split into four orthonormal modes: one
volumetric and three deviatoric; the first belongs to the normal. Yield follows Hill (1948) with
normal anisotropy, ``sum_i mu_i x_i^2 = sy^2`` in the deviatoric stress modes.
"""

from __future__ import annotations

import math

from formsim.arrays import Floats
from formsim.kernels import kernel

S2, S3, S6 = math.sqrt(2.0), math.sqrt(3.0), math.sqrt(6.0)
YIELD_TOLERANCE = 1e-10
K3, G2, MU1, MU2, MU3, TABLE_STEP = range(6)


@kernel
def log_ratio(x: float) -> tuple[float, float, float]:
    """``h = atanh(sqrt x)/sqrt x`` and its first two derivatives, for 0 <= x < 1."""
    if x < 0.02:
        h = 1 / 15 + x * (1 / 17 + x * (1 / 19))
        h = 1 / 9 + x * (1 / 11 + x * (1 / 13 + x * h))
        h = 1 + x * (1 / 3 + x * (1 / 5 + x * (1 / 7 + x * h)))
        h1 = 6 / 13 + x * (7 / 15 + x * (8 / 17 + x * (9 / 19)))
        h1 = 1 / 3 + x * (2 / 5 + x * (3 / 7 + x * (4 / 9 + x * (5 / 11 + x * h1))))
        h2 = 30 / 13 + x * (42 / 15 + x * (56 / 17 + x * (72 / 19)))
        h2 = 2 / 5 + x * (6 / 7 + x * (12 / 9 + x * (20 / 11 + x * h2)))
        return h, h1, h2
    d = math.sqrt(x)
    h = 0.5 * math.log((1 + d) / (1 - d)) / d
    i = 1 / (1 - x)
    h1 = (i - h) / (2 * x)
    return h, h1, (i * i - 3 * h1) / (2 * x)


@kernel
def flow_stress(table: Floats, step: float, ep: float) -> tuple[float, float]:
    """Yield stress and its slope from a table over ``sqrt(ep)`` (cubic Hermite) [MPa]."""
    s = math.sqrt(max(ep, 0.0))
    i = int(s / step)
    last = table.shape[0] - 2
    if i > last:
        end = (last + 1) * step
        slope = table[last + 1, 1] / (2 * end)
        return table[last + 1, 0] + slope * (ep - end * end), slope
    t = s / step - i
    y0 = table[i, 0]
    d0 = table[i, 1] * step
    rise = table[i + 1, 0] - y0
    c2 = 3 * rise - 2 * d0 - table[i + 1, 1] * step
    c3 = d0 + table[i + 1, 1] * step - 2 * rise
    value = y0 + t * (d0 + t * (c2 + t * c3))
    if i == 0:
        return value, (c2 + 1.5 * c3 * t) / (step * step) + 0.5 * d0 / (max(t, 1e-9) * step * step)
    return value, (d0 + t * (2 * c2 + 3 * t * c3)) / (2 * s * step)


@kernel
def return_map(
    x1: float, x2: float, x3: float, ep: float, material: Floats, table: Floats
) -> tuple[float, float, float, float, float]:
    """Plastic increment of a trial stress beyond yield: equivalent strain, flow factor, dampings.

    Returns ``(dep, f, d1, d2, d3)`` with ``x_i = d_i x_i_trial`` and modal plastic strain
    increments ``f mu_i x_i``; a negative ``dep`` means that no solution was found.
    """
    g2 = material[G2]
    mu1, mu2, mu3 = material[MU1], material[MU2], material[MU3]
    trial2 = mu1 * x1 * x1 + mu2 * x2 * x2 + mu3 * x3 * x3
    sy, slope = flow_stress(table, material[TABLE_STEP], ep)
    pull = (mu1 * mu1 * x1 * x1 + mu2 * mu2 * x2 * x2 + mu3 * mu3 * x3 * x3) / trial2
    dep = (math.sqrt(trial2) - sy) / (g2 * pull + max(slope, 0.0))
    for _ in range(60):
        sy, slope = flow_stress(table, material[TABLE_STEP], ep + dep)
        isy = 1 / sy
        f = dep * isy
        d1 = 1 + g2 * f * mu1
        d2 = 1 + g2 * f * mu2
        d3 = 1 + g2 * f * mu3
        both = d1 * d2
        inverse = 1 / (both * d3)
        d1, d2, d3 = d2 * d3 * inverse, d1 * d3 * inverse, both * inverse
        a1 = mu1 * x1 * x1 * d1 * d1
        a2 = mu2 * x2 * x2 * d2 * d2
        a3 = mu3 * x3 * x3 * d3 * d3
        seq = math.sqrt(a1 + a2 + a3)
        miss = seq - sy
        if abs(miss) < YIELD_TOLERANCE * sy:
            return dep, f, d1, d2, d3
        beta = (1 - slope * f) * isy
        down = -g2 * beta * (mu1 * a1 * d1 + mu2 * a2 * d2 + mu3 * a3 * d3) / seq - slope
        new = dep - miss / down
        dep = new if new > 0 else 0.1 * dep
    return -1.0, 0.0, 1.0, 1.0, 1.0


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
    material : ``[3K, 2G, mu1, mu2, mu3, table step]``
    table : flow curve over the square root of plastic strain, (n, 2)
    old, new : plastic strain of the three modes and equivalent plastic strain, (4); ``new`` is set
    force : work conjugate of ``(m, p, s, c)``, then trial stress over yield stress, (5); set
    stiff : its derivative, (4, 4); set when ``want``

    Returns
    -------
    Stored elastic energy per reference volume [MPa], negative where the point is turned inside
    out or the return mapping fails.
    """
    m = 0.5 * (f11 * f11 + f21 * f21 + f12 * f12 + f22 * f22)
    p = 0.5 * (f11 * f11 + f21 * f21 - f12 * f12 - f22 * f22)
    s = f11 * f12 + f21 * f22
    c = ft * ft
    area = f11 * f22 - f12 * f21
    if not (area > 1e-6) or not (ft > 1e-6):
        return -1.0
    det = area * area
    im = 1 / m
    x = (p * p + s * s) * im * im
    if not (x < 1.0):
        return -1.0
    h, h1, h2 = log_ratio(x)
    i2 = 0.5 * im
    g = h * i2
    la = 0.25 * math.log(det)
    le = 0.5 * math.log(c)
    e0 = (2 * la + le) / S3
    e1 = (la - 3 * g * p - le) / S6 - old[0]
    e2 = (la + g * p - le) / S2 - old[1]
    e3 = S2 * g * s - old[2]
    k3 = material[K3]
    g2 = material[G2]
    mu1, mu2, mu3 = material[MU1], material[MU2], material[MU3]
    x0 = k3 * e0
    x1 = g2 * e1
    x2 = g2 * e2
    x3 = g2 * e3
    seq = math.sqrt(mu1 * x1 * x1 + mu2 * x2 * x2 + mu3 * x3 * x3)
    ep = old[3]
    new[0], new[1], new[2], new[3] = old[0], old[1], old[2], ep
    d11 = g2
    d22 = g2
    d33 = g2
    d12 = 0.0
    d13 = 0.0
    d23 = 0.0
    load = seq / flow_stress(table, material[TABLE_STEP], ep)[0]
    force[4] = load
    if load > 1 + 1e-12:
        dep, f, r1, r2, r3 = return_map(x1, x2, x3, ep, material, table)
        if dep < 0.0:
            return -1.0
        x1 *= r1
        x2 *= r2
        x3 *= r3
        new[0] += f * mu1 * x1
        new[1] += f * mu2 * x2
        new[2] += f * mu3 * x3
        new[3] = ep + dep
        if want:
            sy, slope = flow_stress(table, material[TABLE_STEP], ep + dep)
            beta = (sy - slope * dep) / (sy * sy)
            n1 = mu1 * x1 * r1
            n2 = mu2 * x2 * r2
            n3 = mu3 * x3 * r3
            den = sy * slope + g2 * beta * (mu1 * x1 * n1 + mu2 * x2 * n2 + mu3 * x3 * n3)
            q = g2 * g2 * beta / den
            d11 = g2 * r1 - q * n1 * n1
            d22 = g2 * r2 - q * n2 * n2
            d33 = g2 * r3 - q * n3 * n3
            d12 = -q * n1 * n2
            d13 = -q * n1 * n3
            d23 = -q * n2 * n3
    ta = 2 * x0 / S3 + x1 / S6 + x2 / S2
    tb = -3 * x1 / S6 + x2 / S2
    td = S2 * x3
    te = x0 / S3 - x1 / S6 - x2 / S2
    im2 = im * im
    xm = -2 * x * im
    xp = 2 * p * im2
    xs = 2 * s * im2
    gm = h1 * xm * i2 - h * 0.5 * im2
    gp = h1 * xp * i2
    gs = h1 * xs * i2
    id1 = 1 / det
    am = 0.5 * m * id1
    ap = -0.5 * p * id1
    as_ = -0.5 * s * id1
    bm = gm * p
    bp = g + gp * p
    bs = gs * p
    dm = gm * s
    dp = gp * s
    ds = g + gs * s
    ec = 0.5 / c
    force[0] = ta * am + tb * bm + td * dm
    force[1] = ta * ap + tb * bp + td * dp
    force[2] = ta * as_ + tb * bs + td * ds
    force[3] = te * ec
    if want:
        # strain tangent in (A, B, D, E): rows of the mode matrix are
        # (2/S3, 0, 0, 1/S3), (a1, b1, 0, -a1), (a2, a2, 0, -a2), (0, 0, S2, 0)
        a1 = 1 / S6
        b1 = -3 / S6
        a2 = 1 / S2
        k0 = 2 / S3
        k1 = 1 / S3
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
        tam = caa * am + cab * bm + cad * dm
        tap = caa * ap + cab * bp + cad * dp
        tas = caa * as_ + cab * bs + cad * ds
        tbm = cab * am + cbb * bm + cbd * dm
        tbp = cab * ap + cbb * bp + cbd * dp
        tbs = cab * as_ + cbb * bs + cbd * ds
        tdm = cad * am + cbd * bm + cdd * dm
        tdp = cad * ap + cbd * bp + cdd * dp
        tds = cad * as_ + cbd * bs + cdd * ds
        h1i = h1 * i2
        h2i = h2 * i2
        xmm = 6 * x * im2
        xmp = -4 * p * im2 * im
        xms = -4 * s * im2 * im
        xpp = 2 * im2
        gmm = h2i * xm * xm + h1i * xmm - h1 * xm * im2 + h * im2 * im
        gmp = h2i * xm * xp + h1i * xmp - h1 * xp * 0.5 * im2
        gms = h2i * xm * xs + h1i * xms - h1 * xs * 0.5 * im2
        gpp = h2i * xp * xp + h1i * xpp
        gps = h2i * xp * xs
        gss = h2i * xs * xs + h1i * xpp
        id2 = id1 * id1
        half = 0.5 * id1
        tq = tb * p + td * s
        stiff[0, 0] = am * tam + bm * tbm + dm * tdm + ta * (half - m * m * id2) + gmm * tq
        stiff[0, 1] = am * tap + bm * tbp + dm * tdp + ta * m * p * id2 + tb * gm + gmp * tq
        stiff[0, 2] = am * tas + bm * tbs + dm * tds + ta * m * s * id2 + td * gm + gms * tq
        stiff[1, 1] = (
            ap * tap + bp * tbp + dp * tdp - ta * (half + p * p * id2) + 2 * tb * gp + gpp * tq
        )
        stiff[1, 2] = (
            ap * tas + bp * tbs + dp * tds - ta * p * s * id2 + tb * gs + td * gp + gps * tq
        )
        stiff[2, 2] = (
            as_ * tas + bs * tbs + ds * tds - ta * (half + s * s * id2) + 2 * td * gs + gss * tq
        )
        stiff[0, 3] = ec * (cae * am + cbe * bm + cde * dm)
        stiff[1, 3] = ec * (cae * ap + cbe * bp + cde * dp)
        stiff[2, 3] = ec * (cae * as_ + cbe * bs + cde * ds)
        stiff[3, 3] = ec * ec * cee - 0.5 * te / (c * c)
        stiff[1, 0] = stiff[0, 1]
        stiff[2, 0] = stiff[0, 2]
        stiff[2, 1] = stiff[1, 2]
        stiff[3, 0] = stiff[0, 3]
        stiff[3, 1] = stiff[1, 3]
        stiff[3, 2] = stiff[2, 3]
    stored: float = 0.5 * (x0 * x0 / k3 + (x1 * x1 + x2 * x2 + x3 * x3) / g2)
    return stored
