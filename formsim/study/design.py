"""Which values the inputs of a study take together, variant by variant."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from formsim.arrays import Floats
from formsim.case.study import (
    MOST,
    Design,
    Lognormal,
    Normal,
    Scatter,
    Study,
    Triangular,
    Uniform,
    Vary,
)
from formsim.errors import CaseError, Fault

UNCHANGED = None
"""Stands for the value of the base case, whatever that is."""

ONE_DEVIATION = 0.158655
"""Share of a normal distribution below its mean less one standard deviation."""

_DIGITS = ".10g"

Row = tuple[Any, ...]


def rows_of(study: Study, name: str) -> list[Row]:
    """Values of all inputs for every variant, in the order of the table.

    Raises
    ------
    CaseError : more variants than a study may have; ``name`` is what messages call it
    """
    inputs, design = study.vary, study.design
    count = variant_count(inputs, design)
    if count > MOST:
        fault = Fault("design", design.kind, f"makes {count} variants; expected at most {MOST}")
        raise CaseError(name, [fault], hint="fewer values, or samples instead of a grid")
    levels = [one.levels for one in inputs]
    if design.kind == "grid":
        return list(itertools.product(*levels))
    if design.kind == "list":
        return list(zip(*levels, strict=True))
    if design.kind == "one_at_a_time":
        return _one_at_a_time(inputs)
    shares = _shares(design, len(inputs))
    return [tuple(map(_at, inputs, row)) for row in shares.tolist()]


def variant_count(inputs: Sequence[Vary], design: Design) -> int:
    """Number of variants a design makes."""
    counts = [len(one.levels) or 2 for one in inputs]
    samples = design.samples or 0
    match design.kind:
        case "grid":
            return math.prod(counts)
        case "list":
            return counts[0]
        case "one_at_a_time":
            return 1 + sum(counts)
        case "pick_freeze":
            return samples * (len(inputs) + 2)
        case _:
            return samples


def _one_at_a_time(inputs: Sequence[Vary]) -> list[Row]:
    rows: list[Row] = [(UNCHANGED,) * len(inputs)]
    for place, one in enumerate(inputs):
        levels = one.levels or tuple(_at(one, q) for q in (ONE_DEVIATION, 1.0 - ONE_DEVIATION))
        for level in levels:
            row: list[Any] = [UNCHANGED] * len(inputs)
            row[place] = level
            rows.append(tuple(row))
    return rows


def _shares(design: Design, inputs: int) -> Floats:
    """Points of the unit cube, (variants, inputs): shares of the distributions below the values.

    Source: pick and freeze after A. Saltelli et al., Computer Physics Communications 181, 2010
    (memory): samples A, samples B, then A with one column of B after the other.
    """
    from scipy.stats import qmc

    samples = design.samples or 0
    match design.kind:
        case "latin_hypercube":
            points = qmc.LatinHypercube(inputs, rng=design.seed).random(samples)
        case "sobol":
            points = qmc.Sobol(inputs, rng=design.seed).random(samples)
        case "pick_freeze":
            both = qmc.Sobol(2 * inputs, rng=design.seed).random(samples)
            first, second = both[:, :inputs], both[:, inputs:]
            mixed = []
            for place in range(inputs):
                taken = first.copy()
                taken[:, place] = second[:, place]
                mixed.append(taken)
            points = np.concatenate([first, second, *mixed])
        case _:
            points = np.random.default_rng(design.seed).random((samples, inputs))
    inside: Floats = np.clip(points, 1e-9, 1.0 - 1e-9)
    return inside


def _at(one: Vary, share: float) -> Any:
    """Value of an input with so much of its distribution below; listed values have equal shares."""
    if one.scatter is None:
        return one.levels[int(share * len(one.levels))]
    return float(format(quantile(one.scatter, share), _DIGITS))


def quantile(scatter: Scatter, share: float) -> float:
    """Value with a share of a distribution below it."""
    from scipy import stats

    match scatter:
        case Normal():
            whole = stats.norm(scatter.mean, scatter.deviation)
            low = 0.0 if scatter.low is None else whole.cdf(scatter.low)
            high = 1.0 if scatter.high is None else whole.cdf(scatter.high)
            return float(whole.ppf(low + share * (high - low)))
        case Uniform():
            return scatter.low + share * (scatter.high - scatter.low)
        case Lognormal():
            return float(stats.lognorm(scatter.deviation, scale=scatter.median).ppf(share))
        case Triangular():
            width = scatter.high - scatter.low
            mode = (scatter.mode - scatter.low) / width
            return float(stats.triang(mode, scatter.low, width).ppf(share))
