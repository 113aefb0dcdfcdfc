"""A Gaussian process through a few numbers: the smooth law they suggest, and how sure it is."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any

import numpy as np

from formsim.arrays import Floats
from formsim.errors import DependencyError

LENGTHS, NOISES, HEIGHTS = (0.05, 20.0), (1e-8, 1.0), (1e-2, 1e2)
"""Bounds of lengths of the law in the unit cube, of the variance of noise, of that of the law."""

STARTS, JITTER = 2, 1e-10


@dataclass(frozen=True)
class Gaussian:
    """A Gaussian process with its lengths, its height and its noise chosen.

    Attributes
    ----------
    points : (n, inputs) it goes through
    values : (n) there, in their own unit
    centre, scale : mean and standard deviation taken off the values
    model : ``sklearn.gaussian_process.GaussianProcessRegressor`` of what is left
    """

    points: Floats
    values: Floats
    centre: float
    scale: float
    model: Any

    def at(self, points: Floats) -> tuple[Floats, Floats]:
        """Value and standard deviation of one more run at points (m, inputs), each (m).

        Source: C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning,
        2006, eq. 2.25 and 2.26 (memory), noise included.
        """
        with warnings.catch_warnings():
            # A variance of -1e-17 is rounding; the library sets it to 0 and warns.
            warnings.simplefilter("ignore", UserWarning)
            mean, deviation = self.model.predict(points, return_std=True)
        return self.centre + self.scale * mean, self.scale * deviation

    @property
    def noise(self) -> float:
        """Standard deviation of what no smooth law explains, in the unit of the values."""
        return float(self.scale * np.sqrt(self.model.kernel_.k2.noise_level))

    def left_out(self) -> tuple[Floats, Floats]:
        """What all other points say of each point: value and standard deviation, each (n).

        The lengths stay as chosen with all points, so the errors are somewhat too kind.

        Source: Rasmussen and Williams 2006, eq. 5.10 to 5.12 (memory).
        """
        whole = self.model.kernel_(self.points) + JITTER * np.eye(len(self.points))
        inverse = np.linalg.inv(whole)
        own = np.diag(inverse)
        bare = (self.values - self.centre) / self.scale
        mean = bare - inverse @ bare / own
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
    return Gaussian(points, values, centre, scale, model)
