"""The elastic line of a tensile test."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from formsim.arrays import Floats

LEAST = 5
"""Fewest points of the line."""

_LOW = np.arange(0.05, 0.51, 0.05)
_SPAN = np.arange(0.30, 0.86, 0.05)
_NOISE = 2e-4
"""Share of the stress below which scatter about a line does not tell two lines apart."""

_OFFSET = 0.002
"""Plastic strain of the proof stress Rp0.2 [-]."""


@dataclass(frozen=True)
class ElasticLine:
    """Straight part of the curve.

    Attributes
    ----------
    slope : of stress over strain [MPa]
    origin : strain at which the line meets zero stress [-]
    r2 : squared correlation coefficient [-]
    low, high : stresses between which the line was taken [MPa]
    points : how many lie there
    error : standard error of the slope [MPa]
    """

    slope: float
    origin: float
    r2: float
    low: float
    high: float
    points: int
    error: float


def elastic_line(strain: Floats, stress: Floats) -> ElasticLine | None:
    """Straight part of a curve, clear of the toe below it and of first yielding above.

    Of all stretches that begin at 5 to 50 % of the proof stress, are at least 30 % of it long and
    end below 90 %, that whose slope is known best: with the narrowest confidence interval for its
    size. The proof stress follows from the line, so both are found in turn.

    Parameters
    ----------
    strain, stress : engineering values, (n)

    Returns
    -------
    None where no stretch has five points.

    Source: ISO 6892-1, slope of the elastic part of the curve; the choice of the stretch is our
    own.
    """
    proof = 0.5 * float(stress.max())
    line = None
    for _ in range(6):
        found = _best(strain, stress, proof)
        if found is None:
            return line
        line = found
        new = proof_stress(strain, stress, line)
        if new is None:
            return line
        if abs(new - proof) < 1e-3 * proof:
            break
        proof = new
    return line


def proof_stress(
    strain: Floats, stress: Floats, line: ElasticLine, offset: float = _OFFSET
) -> float | None:
    """Stress at which the curve crosses the elastic line moved by an offset [MPa].

    Parameters
    ----------
    strain, stress : engineering values, (n)
    offset : plastic strain, 0.002 for Rp0.2 [-]

    Returns
    -------
    None where it is not crossed.

    Source: ISO 6892-1, proof strength, plastic extension.
    """
    index = proof_index(strain, stress, line, offset)
    if index is None:
        return None
    above = stress - line.slope * (strain - line.origin - offset)
    share = above[index - 1] / (above[index - 1] - above[index])
    return float(stress[index - 1] + share * (stress[index] - stress[index - 1]))


def proof_index(
    strain: Floats, stress: Floats, line: ElasticLine, offset: float = _OFFSET
) -> int | None:
    """First row at or beyond the crossing of ``proof_stress``; None where there is none."""
    above = stress - line.slope * (strain - line.origin - offset)
    beyond = np.flatnonzero((above <= 0.0) & (strain > line.origin + offset))
    return int(beyond[0]) if len(beyond) and beyond[0] > 0 else None


def _best(strain: Floats, stress: Floats, proof: float) -> ElasticLine | None:
    best, least = None, np.inf
    for low in _LOW * proof:
        for high in low + _SPAN * proof:
            if high > 0.9001 * proof:
                break
            line = _line(strain, stress, float(low), float(high))
            if line is None or line.slope <= 0.0:
                continue
            width = stdtrit(line.points - 2, 0.975) * line.error / line.slope
            if width < least:
                best, least = line, float(width)
    return best


def _line(strain: Floats, stress: Floats, low: float, high: float) -> ElasticLine | None:
    """Regression between two stresses, on the way up."""
    end = int(np.argmax(stress > high)) or len(stress)
    begin = int(np.argmax(stress[:end] >= low))
    x, y = strain[begin:end], stress[begin:end]
    inside = (y >= low) & (y <= high)
    x, y = x[inside], y[inside]
    if len(x) < LEAST or np.ptp(x) <= 0.0:
        return None
    middle, mean = float(x.mean()), float(y.mean())
    sxx, sxy = float(((x - middle) ** 2).sum()), float(((x - middle) * (y - mean)).sum())
    slope = sxy / sxx
    rest = y - mean - slope * (x - middle)
    squares = float(rest @ rest)
    total = float(((y - mean) ** 2).sum())
    scatter = squares / (len(x) - 2) + (_NOISE * high) ** 2
    return ElasticLine(
        slope,
        middle - mean / slope,
        1.0 - squares / total,
        low,
        high,
        len(x),
        float(np.sqrt(scatter / sxx)),
    )
