"""A Gaussian process through a few numbers: the smooth law they suggest, and how sure it is."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import cached_property
from importlib.util import find_spec

import numpy as np

from formsim.arrays import Floats
from formsim.errors import DependencyError

LENGTHS, NOISES, HEIGHTS = (0.05, 20.0), (1e-8, 1.0), (1e-2, 1e2)
"""Bounds of lengths of the law in the unit cube, of the variance of noise, of that of the law."""

STARTS, JITTER = 2, 1e-10


@dataclass(frozen=True)
class Gaussian:
    """A Gaussian process with its lengths, its height and its noise chosen.

    Constant mean, Matern covariance of order 5/2.

    Attributes
    ----------
    points : (n, inputs) it goes through
    values : (n) there, in their own unit
    lengths : (inputs) of the covariance
    height, grain : variance of the law and of its noise, over that of the values
    """

    points: Floats
    values: Floats
    lengths: Floats
    height: float
    grain: float

    @property
    def centre(self) -> float:
        """Mean of the values, which is taken off them."""
        return float(self.values.mean())

    @property
    def scale(self) -> float:
        """Standard deviation of the values, by which they are divided; 1 where all are alike."""
        return float(self.values.std()) or 1.0

    @property
    def noise(self) -> float:
        """Standard deviation of what no smooth law explains, in the unit of the values."""
        return float(self.scale * np.sqrt(self.grain))

    @cached_property
    def root(self) -> Floats:
        """Lower Cholesky root of the covariance of the points with their noise, (n, n)."""
        noise = (self.grain + JITTER) * np.eye(len(self.points))
        return np.linalg.cholesky(self.covariance(self.points) + noise).astype(np.float64)

    @property
    def bare(self) -> Floats:
        """Values without their mean, over their deviation, (n)."""
        found: Floats = (self.values - self.centre) / self.scale
        return found

    def covariance(self, points: Floats) -> Floats:
        """Covariance of points, (m, inputs), with those it goes through, noise left out, (m, n).

        Source: C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning,
        2006, eq. 4.17 (memory).
        """
        away = (points[:, None, :] - self.points[None, :, :]) / self.lengths
        root: Floats = np.sqrt(5.0 * np.square(away).sum(axis=-1))
        found: Floats = self.height * (1.0 + root + root**2 / 3.0) * np.exp(-root)
        return found

    def at(self, points: Floats) -> tuple[Floats, Floats]:
        """Value and standard deviation of one more run at points (m, inputs), each (m).

        Source: Rasmussen and Williams 2006, eq. 2.25 and 2.26 (memory), noise included.
        """
        across = np.linalg.solve(self.root, self.covariance(points).T)
        mean = across.T @ np.linalg.solve(self.root, self.bare)
        variance = self.height + self.grain - np.square(across).sum(axis=0)
        return self.centre + self.scale * mean, self.scale * np.sqrt(variance.clip(0.0))

    def left_out(self) -> tuple[Floats, Floats]:
        """What all other points say of each point: value and standard deviation, each (n).

        The lengths stay as chosen with all points, so the errors are somewhat too kind.

        Source: Rasmussen and Williams 2006, eq. 5.10 to 5.12 (memory).
        """
        half = np.linalg.inv(self.root)
        inverse = half.T @ half
        own = np.diag(inverse)
        mean = self.bare - inverse @ self.bare / own
        return self.centre + self.scale * mean, self.scale / np.sqrt(own)


def check_library() -> None:
    """Refuse to go on without the library.

    Raises
    ------
    DependencyError : scikit-learn is not installed
    """
    if find_spec("sklearn") is None:
        message = "this needs scikit-learn, which is not installed"
        raise DependencyError(message, hint="pip install 'formsim[surrogate]'")


def fit_gaussian(points: Floats, values: Floats, seed: int = 0) -> Gaussian:
    """Gaussian process through values, (n), at points of the unit cube, (n, inputs).

    Constant mean, Matern covariance of order 5/2 with one length for each input, noise; all of
    them by the largest marginal likelihood, the search begun ``STARTS`` + 1 times.

    Raises
    ------
    DependencyError : scikit-learn is not installed
    """
    check_library()
    from sklearn.exceptions import ConvergenceWarning
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    lengths = np.full(points.shape[1], 0.5)
    law = ConstantKernel(1.0, HEIGHTS) * Matern(lengths, LENGTHS, nu=2.5)
    model = GaussianProcessRegressor(
        law + WhiteKernel(1e-3, NOISES),
        alpha=JITTER,
        n_restarts_optimizer=STARTS,
        random_state=seed,
    )
    centre, scale = float(values.mean()), float(values.std()) or 1.0
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        # A length at its bound is an input that does not matter: no fault.
        warnings.simplefilter("ignore", ConvergenceWarning)
        model.fit(points, (values - centre) / scale)
    found = model.kernel_
    height, lengths = found.k1.k1.constant_value, np.atleast_1d(found.k1.k2.length_scale)
    return Gaussian(points, values, lengths, float(height), float(found.k2.noise_level))
