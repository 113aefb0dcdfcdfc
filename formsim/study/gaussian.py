"""Gaussian processes through a few numbers: the smooth law they suggest, and how sure it is.

A handful of numbers cannot tell which lengths and how much noise of the mesh are behind them. So no
single process is chosen: many are weighed by how likely they make the numbers, and all answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formsim.arrays import Floats

LENGTH, GRAIN = (-0.3, 1.0), (-5.0, 2.5)
"""Mean and deviation of the logarithm, before any number is known: of a length in the unit cube,
and of the variance of noise over that of the law."""

TRIES, MEMBERS, ROWS = 256, 24, 200
"""Processes tried in each of two rounds, those that are kept, most rows they are weighed by."""

JITTER, SEED, LEAST_FREE = 1e-8, 1, 3.0
"""Added to the noise; of samples; degrees of freedom a deviation is taken with at least."""

TAIL, HALVINGS = 60.0, 60
"""Deviations within which the ends of an interval are looked for, and how often that is halved."""


@dataclass(frozen=True)
class Process:
    """One process of unknown mean and height, both integrated out, so that it answers Student's t.

    Matern covariance of order 5/2.

    Attributes
    ----------
    points : (n, inputs) of the unit cube
    values : (n) there
    lengths : (inputs) of the covariance
    grain : variance of the noise over that of the law

    Source: Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, section 2.7;
    Santner, Williams and Notz, The Design and Analysis of Computer Experiments, 2003, section 4.1
    (both memory).
    """

    points: Floats
    values: Floats
    lengths: Floats
    grain: float

    @cached_property
    def root(self) -> Floats:
        """Lower Cholesky root of the covariance of the points with their noise, (n, n)."""
        noise = (self.grain + JITTER) * np.eye(len(self.points))
        return np.linalg.cholesky(self.covariance(self.points) + noise).astype(np.float64)

    @cached_property
    def ones(self) -> Floats:
        """The root solved for ones, (n)."""
        return np.linalg.solve(self.root, np.ones(len(self.points))).astype(np.float64)

    @cached_property
    def mean(self) -> float:
        """Mean of the law, by generalised least squares."""
        return float(self.ones @ np.linalg.solve(self.root, self.values) / (self.ones @ self.ones))

    @cached_property
    def rest(self) -> Floats:
        """The root solved for the values without the mean, (n)."""
        return np.linalg.solve(self.root, self.values - self.mean).astype(np.float64)

    @property
    def height(self) -> float:
        """Variance of the law, by the values."""
        return float(self.rest @ self.rest) / (len(self.points) - 1)

    @property
    def likelihood(self) -> float:
        """Logarithm of the probability of the values but for a constant, mean and height open."""
        free = len(self.points) - 1
        missed = max(float(self.rest @ self.rest), 1e-300)
        sizes = np.log(np.diag(self.root)).sum() + 0.5 * np.log(self.ones @ self.ones)
        return float(-sizes - 0.5 * free * np.log(missed))

    def covariance(self, points: Floats) -> Floats:
        """Covariance of points, (m, inputs), with those it goes through, over the height, (m, n).

        Source: Rasmussen and Williams 2006, eq. 4.17 (memory).
        """
        away = (points[:, None, :] - self.points[None, :, :]) / self.lengths
        root: Floats = np.sqrt(5.0 * np.square(away).sum(axis=-1))
        found: Floats = (1.0 + root + root**2 / 3.0) * np.exp(-root)
        return found

    def at(self, points: Floats) -> tuple[Floats, Floats]:
        """Middle and width of Student's t of one more run at points (m, inputs), each (m)."""
        across = np.linalg.solve(self.root, self.covariance(points).T)
        middle = self.mean + across.T @ self.rest
        unsure = np.square(1.0 - across.T @ self.ones) / (self.ones @ self.ones)
        spread = 1.0 + self.grain - np.square(across).sum(axis=0) + unsure
        return middle, np.sqrt(self.height * spread.clip(0.0))

    def left_out(self) -> tuple[Floats, Floats]:
        """What all other points say of each point: middle and width, each (n).

        Source: O. Dubrule, Mathematical Geology 15, 1983 (memory).
        """
        half = np.linalg.inv(self.root)
        weights = half.T @ self.ones
        inverse = half.T @ half - np.outer(weights, weights) / (self.ones @ self.ones)
        own, pull = np.diag(inverse), inverse @ self.values
        left = (float(self.rest @ self.rest) - pull**2 / own).clip(0.0) / max(len(own) - 2, 1)
        return self.values - pull / own, np.sqrt(left / own)


@dataclass(frozen=True)
class Gaussian:
    """Processes through the same values, each with its weight.

    Attributes
    ----------
    points : (n, inputs) they go through
    values : (n) there, in their own unit
    lengths : (m, inputs) of every process
    grains, weights : (m) of every process, see ``Process``; weights sum to 1
    """

    points: Floats
    values: Floats
    lengths: Floats
    grains: Floats
    weights: Floats

    @property
    def centre(self) -> float:
        """Mean of the values, which is taken off them."""
        return float(self.values.mean())

    @property
    def scale(self) -> float:
        """Standard deviation of the values, by which they are divided; 1 where all are alike."""
        return float(self.values.std()) or 1.0

    @cached_property
    def members(self) -> tuple[Process, ...]:
        """Every process, through the values without their mean over their deviation."""
        bare = (self.values - self.centre) / self.scale
        sizes = zip(self.lengths, self.grains, strict=True)
        return tuple(Process(self.points, bare, own, float(grain)) for own, grain in sizes)

    @property
    def noise(self) -> float:
        """Standard deviation of what no smooth law explains, in the unit of the values."""
        found = np.array([one.height * one.grain for one in self.members])
        return float(self.scale * np.sqrt(_wider(len(self.points) - 1) * (self.weights @ found)))

    def at(self, points: Floats) -> tuple[Floats, Floats]:
        """Value and standard deviation of one more run at points (m, inputs), each (m)."""
        return self._together([one.at(points) for one in self.members], len(self.points) - 1)

    def left_out(self) -> tuple[Floats, Floats]:
        """What all other points say of each point: value and standard deviation, each (n).

        Processes and weights stay as found with all points, so the errors are somewhat too kind.
        """
        return self._together([one.left_out() for one in self.members], len(self.points) - 2)

    def _together(self, told: Sequence[tuple[Floats, Floats]], free: int) -> tuple[Floats, Floats]:
        """Mean and deviation of what all processes tell, in the unit of the values."""
        middle, width = np.array(told).transpose(1, 0, 2)
        mean = self.weights @ middle
        variance = self.weights @ (_wider(free) * width**2 + (middle - mean) ** 2)
        return self.centre + self.scale * mean, self.scale * np.sqrt(variance)

    def within(self, points: Floats, share: float = 0.95) -> tuple[Floats, Floats]:
        """Ends that hold one more run with a probability, at points (m, inputs), each (m)."""
        middle, width = np.array([one.at(points) for one in self.members]).transpose(1, 0, 2)
        low, high = (self._quantile(p, middle, width) for p in (0.5 - share / 2, 0.5 + share / 2))
        return self.centre + self.scale * low, self.centre + self.scale * high

    def _quantile(self, share: float, middle: Floats, width: Floats) -> Floats:
        """Quantile of the processes together, (m), by halving."""
        width = np.maximum(width, 1e-12)
        low, high = (middle - TAIL * width).min(axis=0), (middle + TAIL * width).max(axis=0)
        for _ in range(HALVINGS):
            half = 0.5 * (low + high)
            reached = self.weights @ below(len(self.points) - 1, (half - middle) / width)
            low, high = np.where(reached < share, half, low), np.where(reached < share, high, half)
        found: Floats = 0.5 * (low + high)
        return found


def below(free: int, places: Floats) -> Floats:
    """Probability of Student's t of some degrees of freedom, from 1, below places of any shape.

    In closed form, as a call that loads scipy for it takes a tenth of a second longer.

    Source: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, eqs. 26.7.3
    and 26.7.4 (memory).
    """
    angle = np.arctan(places / np.sqrt(free))
    odd = free % 2
    steps = np.arange(1, (free - odd) // 2)
    terms = np.cumprod(np.r_[1.0, (2 * steps - 1 + odd) / (2 * steps + odd)])[: (free - odd) // 2]
    cosine = np.cos(angle)[..., None] ** (2 * np.arange(len(terms)) + odd)
    central = np.sin(angle) * (cosine @ terms)
    found: Floats = 0.5 + (angle + central) / np.pi if odd else 0.5 + 0.5 * central
    return found


def _wider(free: int) -> float:
    """Variance of Student's t over the square of its width."""
    count = max(float(free), LEAST_FREE)
    return count / (count - 2.0)


def fit_gaussian(points: Floats, values: Floats) -> Gaussian:
    """Processes through values, (n), at points of the unit cube, (n, inputs).

    Lengths and noise are drawn twice, from what is held likely beforehand and from around those
    that the values then make likely; each weighs as likelihood times prior over how often it is
    drawn. Many rows are weighed by some of them.

    Source: importance sampling, Rasmussen and Williams 2006, section 5.2 (memory).
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    inputs = points.shape[1]
    centre, wide = np.array([[*[LENGTH[k]] * inputs, GRAIN[k]] for k in (0, 1)])
    rows = np.arange(len(values))
    if len(rows) > ROWS:
        rows = np.sort(np.random.default_rng(SEED).choice(rows, ROWS, replace=False))
    some = values[rows]
    bare = (some - some.mean()) / (float(some.std()) or 1.0)
    normal = ndtri(qmc.Sobol(inputs + 1, rng=SEED).random(TRIES).clip(1e-6, 1.0 - 1e-6))
    first = centre + wide * normal
    weights = _weights(_likelihoods(points[rows], bare, first))
    middle = weights @ first
    away = first - middle
    spread = away.T @ (away * weights[:, None]) + np.diag(np.square(0.15 * wide))
    drawn = middle + 1.3 * normal @ np.linalg.cholesky(spread).T
    prior = -0.5 * np.square((drawn - centre) / wide).sum(axis=1)
    often = -0.5 * np.square(normal).sum(axis=1)
    weights = _weights(_likelihoods(points[rows], bare, drawn) + prior - often)
    places = np.cumsum(weights).searchsorted((np.arange(MEMBERS) + 0.5) / MEMBERS)
    chosen, counts = np.unique(places.clip(0, TRIES - 1), return_counts=True)
    sizes = np.exp(drawn[chosen])
    return Gaussian(points, values, sizes[:, :-1], sizes[:, -1], counts / MEMBERS)


def _likelihoods(points: Floats, values: Floats, logarithms: Floats) -> Floats:
    """Logarithm of the likelihood of lengths and grains, (tries), given by their logarithms."""
    sizes = np.exp(logarithms)
    return np.array([Process(points, values, own[:-1], own[-1]).likelihood for own in sizes])


def _weights(logarithms: Floats) -> Floats:
    sizes = np.exp(logarithms - logarithms.max())
    found: Floats = sizes / sizes.sum()
    return found
