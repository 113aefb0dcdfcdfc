"""Logarithm, its ratio and the flow curve without calls or branches, for loops of vector code."""

from __future__ import annotations

import math

import numpy as np

from formsim.kernels import inlined

LN2 = math.log(2.0)
MANTISSA_BITS = 52
ROOT_HALF = int(np.float64(math.sqrt(0.5)).view(np.int64))
"""Bits of the smallest number whose logarithm is taken without a power of two."""


@inlined
def log(x: float) -> float:
    """Natural logarithm of a positive number, to two units of the last place.

    The power of two is taken from the bits; ``log m = 2 atanh((m - 1)/(m + 1))`` for the rest
    between the roots of 1/2 and 2, as a series.
    """
    bits = np.float64(x).view(np.int64)
    power = (bits - ROOT_HALF) >> MANTISSA_BITS
    rest = np.int64(bits - (power << MANTISSA_BITS)).view(np.float64)
    z = (rest - 1) / (rest + 1)
    y = z * z
    h = 1 / 15 + y * (1 / 17 + y * (1 / 19 + y * (1 / 21)))
    h = 1 / 7 + y * (1 / 9 + y * (1 / 11 + y * (1 / 13 + y * h)))
    h = y * (1 / 3 + y * (1 / 5 + y * h))
    return power * LN2 + 2 * (z + z * h)


@inlined
def log_ratio(x: float) -> tuple[float, float, float]:
    """``h = atanh(sqrt x)/sqrt x`` and its first two derivatives, for 0 <= x < 1."""
    n = 1 / 15 + x * (1 / 17 + x * (1 / 19))
    n = 1 / 9 + x * (1 / 11 + x * (1 / 13 + x * n))
    n = 1 + x * (1 / 3 + x * (1 / 5 + x * (1 / 7 + x * n)))
    n1 = 6 / 13 + x * (7 / 15 + x * (8 / 17 + x * (9 / 19)))
    n1 = 1 / 3 + x * (2 / 5 + x * (3 / 7 + x * (4 / 9 + x * (5 / 11 + x * n1))))
    n2 = 30 / 13 + x * (42 / 15 + x * (56 / 17 + x * (72 / 19)))
    n2 = 2 / 5 + x * (6 / 7 + x * (12 / 9 + x * (20 / 11 + x * n2)))
    d = math.sqrt(x)
    f = 0.5 * log((1 + d) / (1 - d)) / d
    i = 1 / (1 - x)
    half = 0.5 / x
    f1 = (i - f) * half
    f2 = (i * i - 3 * f1) * half
    near = x < 0.02
    return (n if near else f), (n1 if near else f1), (n2 if near else f2)


@inlined
def flow_cell(step: float, last: int, ep: float) -> float:
    """Row of a flow table where a plastic strain lies, as a number that is safe to index with."""
    place = math.sqrt(max(ep, 0.0)) / step
    # Bounded before it is rounded: the integer of what is not a number can be anything.
    return float(math.floor(place if place < last else float(last)))


@inlined
def flow_stress(
    y0: float, s0: float, y1: float, s1: float, step: float, cell: float, last: int, ep: float
) -> tuple[float, float]:
    """Yield stress and its slope from a table over ``sqrt(ep)`` (cubic Hermite) [MPa].

    Parameters
    ----------
    y0, s0, y1, s1 : rows ``cell`` and ``cell + 1`` of the table, stress and slope over the root
    step : distance of the rows
    cell, last : from ``flow_cell``; the last cell of the table. Beyond it the curve is straight.
    """
    root = math.sqrt(max(ep, 0.0))
    t = root / step - cell
    d0 = s0 * step
    d1 = s1 * step
    rise = y1 - y0
    c2 = 3 * rise - 2 * d0 - d1
    c3 = d0 + d1 - 2 * rise
    value = y0 + t * (d0 + t * (c2 + t * c3))
    # The slope over ep has a factor 1/root; at zero it is only the first term that has a limit.
    per = 0.5 / (step * max(root, 1e-9 * step))
    share = 0.5 / (step * step) if cell == 0.0 else t * per
    slope = d0 * per + (2 * c2 + 3 * t * c3) * share
    end = (last + 1) * step
    straight = s1 / (2 * end)
    beyond = root >= end
    return (y1 + straight * (ep - end * end) if beyond else value), (straight if beyond else slope)
