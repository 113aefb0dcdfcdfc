"""Repeats of a test and tests at other angles put together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from formsim.tensile.evaluate import Values


@dataclass(frozen=True)
class Scatter:
    """Mean and spread of one value over repeats.

    Attributes
    ----------
    mean : of the tests that have it
    deviation : standard deviation, None for fewer than two
    count : how many have it
    """

    mean: float
    deviation: float | None
    count: int


@dataclass(frozen=True)
class Tests:
    """Tests of one sheet.

    Attributes
    ----------
    angle : to the rolling direction of the tests the flow curve is fitted to [deg]
    along : these tests
    across : tests at other angles, by angle, for the r-values [deg]
    """

    angle: float
    along: tuple[Values, ...]
    across: Mapping[float, tuple[Values, ...]]

    def r_by_angle(self) -> dict[float, Scatter]:
        """r-values that were measured, by rising angle."""
        groups = {self.angle: self.along, **self.across}
        found = {angle: scatter(groups[angle], lambda one: one.r) for angle in sorted(groups)}
        return {angle: one for angle, one in found.items() if one is not None}


def scatter(tests: Sequence[Values], value: Callable[[Values], float | None]) -> Scatter | None:
    """Mean and standard deviation of a value over tests; None where no test has it."""
    found = [one for one in map(value, tests) if one is not None]
    if not found:
        return None
    deviation = float(np.std(found, ddof=1)) if len(found) > 1 else None
    return Scatter(float(np.mean(found)), deviation, len(found))


def mean_of(tests: Sequence[Values], value: Callable[[Values], float]) -> float:
    """Mean of a value that every test has."""
    return float(np.mean([value(one) for one in tests]))
