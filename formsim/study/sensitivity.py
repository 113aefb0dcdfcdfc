"""How much a number hangs on the inputs: slopes with their error, ranks, shares of the variance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal
from warnings import catch_warnings, simplefilter

import numpy as np

from formsim.arrays import Floats


@dataclass(frozen=True)
class Slope:
    """Change of a number with one input.

    Attributes
    ----------
    value : derivative, in the unit of the number over that of the input
    error : standard error of a regression; of a difference how much it bends; None for unknown
    """

    value: float
    error: float | None


@dataclass(frozen=True)
class Regression:
    """Straight law of a number in all inputs together.

    Attributes
    ----------
    slopes : of the inputs, in their order
    determination : share of the variance of the number, within the groups, that the slopes explain
    """

    slopes: tuple[Slope, ...]
    determination: float


def regression(inputs: Floats, values: Floats, offsets: Floats | None = None) -> Regression | None:
    """Least squares of ``values = constant + slopes . inputs``; None without points to spare.

    Parameters
    ----------
    inputs : (n, inputs), every column with two values at least
    values : (n)
    offsets : (n, k) of 0 and 1, further constants for groups of points, such as a material

    Source: any textbook of statistics; the errors assume alike and independent residuals, which
    numbers of a simulation only have where the law is straight.
    """
    count, terms = inputs.shape
    centre, width = inputs.mean(axis=0), inputs.std(axis=0)
    groups = np.empty((count, 0)) if offsets is None else offsets
    matrix = np.column_stack([(inputs - centre) / width, np.ones(count), groups])
    spare = count - int(np.linalg.matrix_rank(matrix))
    if spare < 1 or int(np.linalg.matrix_rank(matrix[:, : terms + 1])) < terms + 1:
        return None
    inverse = np.linalg.pinv(matrix)
    found = inverse @ values
    residual = float(np.square(values - matrix @ found).sum())
    around = matrix[:, terms:]
    total = float(np.square(values - around @ (np.linalg.pinv(around) @ values)).sum())
    spread = np.sqrt(residual / spare * np.square(inverse).sum(axis=1))
    slopes = tuple(
        Slope(float(found[k] / width[k]), float(spread[k] / width[k])) for k in range(terms)
    )
    return Regression(slopes, 1.0 - residual / total if total > 0.0 else 1.0)


def difference(base: tuple[float, float], others: Floats) -> Slope | None:
    """Derivative at a base point from points in which one input alone is changed.

    Parameters
    ----------
    base : input and number there
    others : (n, 2) inputs and numbers; the nearest ones on both sides count

    The parabola through three points; its error is half the difference of the slopes to both
    sides. With points on one side only the slope to the nearest, its error unknown.
    """
    steps = others - np.array(base)
    steps = steps[np.argsort(np.abs(steps[:, 0]))]
    above, below = steps[steps[:, 0] > 0.0][:1], steps[steps[:, 0] < 0.0][:1]
    sides = [float(side[0, 1] / side[0, 0]) for side in (above, below) if len(side)]
    if not sides:
        return None
    if len(sides) == 1:
        return Slope(sides[0], None)
    up, down = float(above[0, 0]), -float(below[0, 0])
    middle = (sides[0] * down + sides[1] * up) / (up + down)
    return Slope(middle, 0.5 * abs(sides[0] - sides[1]))


def rank_correlation(inputs: Floats, values: Floats) -> float:
    """Spearman's rank correlation, from -1 to 1; 0 where one of both does not vary."""
    from scipy.stats import spearmanr

    if len(values) < 3 or np.ptp(inputs) == 0.0 or np.ptp(values) == 0.0:
        return 0.0
    return float(spearmanr(inputs, values).statistic)


@dataclass(frozen=True)
class Shares:
    """Shares of the variance of a number that inputs cause, each (inputs).

    Attributes
    ----------
    first, total : of an input alone; with all it does together with others
    first_low, first_high, total_low, total_high : 95 % intervals of both, not a number for an input
        that moves nothing
    samples : behind them
    """

    first: Floats
    total: Floats
    first_low: Floats
    first_high: Floats
    total_low: Floats
    total_high: Floats
    samples: int


def sobol_shares(values: Floats, seed: int = 1) -> Shares | None:
    """Sobol indices from the rows of a pick-and-freeze design.

    Parameters
    ----------
    values : (inputs + 2, samples): samples A, B, then A with one column of B after the other; not
        a number where a variant did not come to its end. The first samples whose row is full are
        taken, as many as the largest power of 2; None below 8, or where nothing varies.

    Source: A. Saltelli et al., Computer Physics Communications 181, 2010, through
    ``scipy.stats.sobol_indices``.
    """
    from scipy.stats import DegenerateDataWarning, sobol_indices

    full = values[:, np.isfinite(values).all(axis=0)]
    if full.shape[1] < 8 or np.ptp(full) == 0.0:
        return None
    count = 1 << int(math.log2(full.shape[1]))
    taken = full[:, :count] - full[:, :count].mean()
    parts: dict[Literal["f_A", "f_B", "f_AB"], Floats] = {
        "f_A": taken[None, 0],
        "f_B": taken[None, 1],
        "f_AB": taken[2:, None],
    }
    found = sobol_indices(func=parts, n=count, rng=np.random.default_rng(seed))
    with np.errstate(invalid="ignore"), catch_warnings():
        # Of an input that moves nothing all resamples are 0: it has no interval.
        simplefilter("ignore", DegenerateDataWarning)
        again = found.bootstrap(confidence_level=0.95, n_resamples=999)
    first, total = again.first_order, again.total_order
    return Shares(
        np.ravel(found.first_order),
        np.ravel(found.total_order),
        np.ravel(first.confidence_interval.low),
        np.ravel(first.confidence_interval.high),
        np.ravel(total.confidence_interval.low),
        np.ravel(total.confidence_interval.high),
        count,
    )
