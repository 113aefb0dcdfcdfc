"""How a number scatters over the variants of a study, and how many of these are rejects."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats

LEVEL = 0.95
"""Confidence of an interval."""


@dataclass(frozen=True)
class Spread:
    """Distribution of a number over samples, in its own unit.

    Attributes
    ----------
    count : samples
    mean, deviation : and the standard deviation, None of a single sample
    low, median, high : 5, 50 and 95 % of the samples lie below
    least, most : ends
    """

    count: int
    mean: float
    deviation: float | None
    low: float
    median: float
    high: float
    least: float
    most: float


def spread(values: Floats) -> Spread | None:
    """Distribution of values that are numbers, (n); None where there is none."""
    found = values[np.isfinite(values)]
    if not len(found):
        return None
    low, median, high = (float(one) for one in np.quantile(found, (0.05, 0.5, 0.95)))
    deviation = float(found.std(ddof=1)) if len(found) > 1 else None
    ends = float(found.min()), float(found.max())
    return Spread(len(found), float(found.mean()), deviation, low, median, high, *ends)


@dataclass(frozen=True)
class Rate:
    """Share of rejects.

    Attributes
    ----------
    rejects, count : of so many judged samples
    low, high : 95 % interval of the share, by Clopper and Pearson
    """

    rejects: int
    count: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Share found."""
        return self.rejects / self.count


def reject_rate(rejects: int, count: int) -> Rate | None:
    """Share of rejects with its interval; None where nothing was judged.

    The interval holds for independent samples; of a Latin hypercube and of Sobol points it is
    wider than need be where the number follows the inputs smoothly.

    Source: C. J. Clopper and E. S. Pearson, Biometrika 26, 1934, through ``scipy.stats.binomtest``.
    """
    from scipy.stats import binomtest

    if count < 1:
        return None
    ends = binomtest(rejects, count).proportion_ci(LEVEL, method="exact")
    return Rate(rejects, count, float(ends.low), float(ends.high))
