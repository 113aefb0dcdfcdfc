"""Gaussian process of a study: closed forms, brute force, what it must not do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formsim.errors import DependencyError
from formsim.study.gaussian import JITTER, fit_gaussian


def matern(first, second, lengths):
    """Covariance of order 5/2; Rasmussen and Williams 2006, eq. 4.17 (memory)."""
    away = (first[:, None, :] - second[None, :, :]) / lengths
    root = np.sqrt(5.0) * np.sqrt(np.square(away).sum(axis=-1))
    return (1.0 + root + root**2 / 3.0) * np.exp(-root)


def samples(seed=1, count=14, inputs=2):
    rng = np.random.default_rng(seed)
    points = rng.random((count, inputs))
    return points, 3.0 + np.sin(4.0 * points[:, 0]) + points[:, -1] ** 2


def closed(law, points, values, others):
    """Mean and deviation by Rasmussen and Williams 2006, eq. 2.25 and 2.26 (memory)."""
    height, lengths, noise = law.height, law.lengths, law.grain
    whole = height * matern(points, points, lengths) + (noise + JITTER) * np.eye(len(points))
    across = height * matern(others, points, lengths)
    solved = np.linalg.solve(whole, across.T)
    mean = solved.T @ ((values - law.centre) / law.scale)
    variance = height + noise - np.einsum("ij,ji->i", across, solved)
    return law.centre + law.scale * mean, law.scale * np.sqrt(variance)


def test_value_and_deviation_are_those_of_the_closed_form():
    points, values = samples()
    others = np.random.default_rng(2).random((6, 2))
    law = fit_gaussian(points, values)
    mean, deviation = closed(law, points, values, others)
    found, spread = law.at(others)
    assert found == pytest.approx(mean, rel=1e-6)
    assert spread == pytest.approx(deviation, rel=1e-4, abs=1e-6)


def test_it_answers_as_the_library_does():
    """scikit-learn's own prediction with the same lengths, height and noise."""
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    points, values = samples(9, inputs=3)
    others = np.random.default_rng(10).random((20, 3))
    law = fit_gaussian(points, values)
    kernel = ConstantKernel(law.height) * Matern(law.lengths, nu=2.5) + WhiteKernel(law.grain)
    model = GaussianProcessRegressor(kernel, alpha=JITTER, optimizer=None)
    model.fit(points, (values - law.centre) / law.scale)
    mean, deviation = model.predict(others, return_std=True)
    found, spread = law.at(others)
    assert found == pytest.approx(law.centre + law.scale * mean, rel=1e-6)
    assert spread == pytest.approx(law.scale * deviation, rel=1e-4, abs=1e-6)


def test_leaving_one_out_is_brute_force():
    """The closed form against a process that never saw the point."""
    points, values = samples(3)
    values = values + 0.05 * np.random.default_rng(4).standard_normal(len(values))
    law = fit_gaussian(points, values)
    mean, deviation = law.left_out()
    for k in range(len(points)):
        rest = np.arange(len(points)) != k
        one, spread = closed(law, points[rest], values[rest], points[[k]])
        assert mean[k] == pytest.approx(one[0], rel=1e-6)
        assert deviation[k] == pytest.approx(spread[0], rel=1e-4)


def test_a_smooth_law_is_found_between_the_points():
    points, values = samples(5, count=40)
    others, true = samples(6, count=50)
    found, spread = fit_gaussian(points, values).at(others)
    assert np.abs(found - true).max() < 0.05
    assert (np.abs(found - true) < 4.0 * spread + 1e-3).all()


def test_noise_is_told_as_noise():
    rng = np.random.default_rng(7)
    points = rng.random((60, 1))
    values = points[:, 0] + 0.1 * rng.standard_normal(60)
    assert fit_gaussian(points, values).noise == pytest.approx(0.1, rel=0.3)


@given(st.floats(-1e3, 1e3), st.floats(0.1, 1e3))
def test_another_unit_changes_nothing(shift, factor):
    points, values = samples(8, count=8, inputs=1)
    plain, spread = fit_gaussian(points, values).at(points + 0.03)
    other, wide = fit_gaussian(points, shift + factor * values).at(points + 0.03)
    assert (other - shift) / factor == pytest.approx(plain, rel=1e-2, abs=1e-2)
    assert wide / factor == pytest.approx(spread, rel=0.1, abs=1e-2)


def test_values_that_are_all_alike_are_no_fault():
    mean, _ = fit_gaussian(np.linspace(0, 1, 5)[:, None], np.full(5, 2.0)).at(np.array([[0.4]]))
    assert mean[0] == pytest.approx(2.0)


def test_without_the_library_a_command_is_told(monkeypatch):
    monkeypatch.setattr("formsim.study.gaussian.find_spec", lambda _: None)
    with pytest.raises(DependencyError) as error:
        fit_gaussian(np.zeros((3, 1)), np.zeros(3))
    assert "formsim[surrogate]" in error.value.hint
