"""Gaussian processes of a study: closed forms, brute force, a library, how often they are right."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import t as student

from formsim.study.gaussian import JITTER, LEAST_FREE, MEMBERS, Process, below, fit_gaussian


def matern(first, second, lengths):
    """Covariance of order 5/2; Rasmussen and Williams 2006, eq. 4.17 (memory)."""
    away = (first[:, None, :] - second[None, :, :]) / lengths
    root = np.sqrt(5.0) * np.sqrt(np.square(away).sum(axis=-1))
    return (1.0 + root + root**2 / 3.0) * np.exp(-root)


def samples(seed=1, count=14, inputs=2):
    rng = np.random.default_rng(seed)
    points = rng.random((count, inputs))
    return points, 3.0 + np.sin(4.0 * points[:, 0]) + points[:, -1] ** 2


def closed(process, points, values, others):
    """Middle and width of ordinary kriging by its equations with a multiplier.

    Source: N. Cressie, Statistics for Spatial Data, 1993, section 3.2 (memory); the height is that
    of generalised least squares over n - 1.
    """
    n = len(points)
    whole = matern(points, points, process.lengths) + (process.grain + JITTER) * np.eye(n)
    across = matern(others, points, process.lengths)
    bordered = np.block([[whole, np.ones((n, 1))], [np.ones((1, n)), np.zeros((1, 1))]])
    right = np.vstack([across.T, np.ones(len(others))])
    weights = np.linalg.solve(bordered, right)
    middle = weights[:n].T @ values
    inverse = np.linalg.inv(whole)
    mean = inverse.sum(axis=0) @ values / inverse.sum()
    height = (values - mean) @ inverse @ (values - mean) / (n - 1)
    spread = 1.0 + process.grain - (weights * right).sum(axis=0)
    return middle, np.sqrt(height * spread)


def one_process(seed=1, noise=0.0):
    points, values = samples(seed)
    values = values + noise * np.random.default_rng(4).standard_normal(len(values))
    return Process(points, values, np.array([0.6, 0.9]), 0.01)


def test_value_and_width_are_those_of_kriging_with_an_unknown_mean():
    process, others = one_process(), np.random.default_rng(2).random((6, 2))
    middle, width = closed(process, process.points, process.values, others)
    found, wide = process.at(others)
    assert found == pytest.approx(middle, rel=1e-6)
    assert wide == pytest.approx(width, rel=1e-4, abs=1e-6)


def test_the_law_alone_answers_as_a_library_does():
    """scikit-learn's own prediction with the same lengths, height, noise and mean."""
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    process, others = one_process(9), np.random.default_rng(10).random((20, 2))
    kernel = ConstantKernel(1.0) * Matern(process.lengths, nu=2.5) + WhiteKernel(process.grain)
    model = GaussianProcessRegressor(kernel, alpha=JITTER, optimizer=None)
    model.fit(process.points, process.values - process.mean)
    mean, deviation = model.predict(others, return_std=True)
    found, wide = process.at(others)
    across = np.linalg.solve(process.root, process.covariance(others).T)
    unsure = (1.0 - across.T @ process.ones) ** 2 / (process.ones @ process.ones)
    assert found == pytest.approx(process.mean + mean, rel=1e-6)
    assert wide**2 == pytest.approx(process.height * (deviation**2 + unsure), rel=1e-4)


def test_the_likelihood_is_that_of_a_library_with_mean_and_height_integrated_out():
    """scikit-learn's likelihood, integrated by sums over the mean and the height.

    Flat in the mean and in the logarithm of the height; only ratios count.
    """
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

    points, values = samples(3, count=6, inputs=1)
    means, heights = np.linspace(-30.0, 36.0, 401), np.geomspace(1e-3, 1e4, 201)

    def summed(length, grain):
        logs = []
        for height in heights:
            kernel = ConstantKernel(height) * Matern(length, nu=2.5) + WhiteKernel(height * grain)
            model = GaussianProcessRegressor(kernel, alpha=1e-12, optimizer=None)
            model.fit(points, values)
            inverse = np.linalg.inv(kernel(points))
            base, ones = model.log_marginal_likelihood_value_, inverse.sum()
            pull = inverse.sum(axis=0) @ values
            logs.append(np.logaddexp.reduce(base + means * pull - 0.5 * means**2 * ones))
        return float(np.logaddexp.reduce(logs))

    sizes = [(0.3, 0.01), (1.0, 0.1)]
    ours = [Process(points, values, np.array([a]), b).likelihood for a, b in sizes]
    theirs = [summed(*one) for one in sizes]
    assert ours[0] - ours[1] == pytest.approx(theirs[0] - theirs[1], abs=0.02)


def test_leaving_one_out_is_brute_force():
    """The closed form against a process that never saw the point."""
    process = one_process(3, noise=0.05)
    middle, width = process.left_out()
    for k in range(len(process.points)):
        rest = np.arange(len(process.points)) != k
        sizes = process.points[rest], process.values[rest]
        one, wide = closed(process, *sizes, process.points[[k]])
        assert middle[k] == pytest.approx(one[0], rel=1e-6)
        # The point itself has its jitter too.
        assert width[k] == pytest.approx(wide[0], rel=1e-4)


def test_processes_answer_together():
    """Mean, deviation and ends of a mixture of Student's t, drawn at random."""
    points, values = samples(11, count=9, inputs=1)
    law, place = fit_gaussian(points, values), np.array([[0.37]])
    rng = np.random.default_rng(12)
    which = rng.choice(len(law.weights), 200_000, p=law.weights)
    told = np.array([one.at(place) for one in law.members])[:, :, 0]
    drawn = told[which, 0] + told[which, 1] * student.rvs(8, size=len(which), random_state=rng)
    drawn = law.centre + law.scale * drawn
    mean, deviation = law.at(place)
    assert mean[0] == pytest.approx(drawn.mean(), abs=0.02 * drawn.std())
    assert deviation[0] == pytest.approx(drawn.std(), rel=0.03)
    ends = [end[0] for end in law.within(place)]
    assert ends == pytest.approx(np.quantile(drawn, [0.025, 0.975]), abs=0.05 * drawn.std())
    assert len(law.members) <= MEMBERS and law.weights.sum() == pytest.approx(1.0)


def test_a_smooth_law_is_found_between_the_points():
    points, values = samples(5, count=40)
    others, true = samples(6, count=50)
    law = fit_gaussian(points, values)
    low, high = law.within(others)
    assert np.abs(law.at(others)[0] - true).max() < 0.05
    assert ((low < true) & (true < high)).mean() > 0.9


def test_noise_is_told_as_noise():
    rng = np.random.default_rng(7)
    points = rng.random((60, 1))
    values = points[:, 0] + 0.1 * rng.standard_normal(60)
    assert fit_gaussian(points, values).noise == pytest.approx(0.1, rel=0.3)


@pytest.mark.slow
@pytest.mark.parametrize("count", [7, 15])
@pytest.mark.parametrize("noise", [0.0, 0.01, 0.1])
def test_few_numbers_with_noise_hold_what_is_promised(count, noise):
    """Of new numbers of invented laws 95 % lie within the ends; 4 in 100 fewer are forgiven."""
    inside = []
    for seed in range(40):
        rng = np.random.default_rng(100 + seed)
        points = (np.arange(count)[:, None] + rng.random((count, 1))) / count
        others = rng.uniform(points.min(), points.max(), (20, 1))
        phase, bend = rng.uniform(0.0, 6.0), rng.uniform(1.0, 5.0)
        both = np.vstack([points, others])[:, 0]
        values = np.sin(phase + bend * both) + noise * rng.standard_normal(len(both))
        low, high = fit_gaussian(points, values[:count]).within(others)
        inside.append(((low <= values[count:]) & (values[count:] <= high)).mean())
    assert np.mean(inside) > 0.91


@settings(max_examples=25)
@given(st.floats(-1e3, 1e3), st.floats(0.1, 1e3))
def test_another_unit_changes_nothing(shift, factor):
    points, values = samples(8, count=8, inputs=1)
    plain, spread = fit_gaussian(points, values).at(points + 0.03)
    other, wide = fit_gaussian(points, shift + factor * values).at(points + 0.03)
    assert (other - shift) / factor == pytest.approx(plain, rel=1e-2, abs=1e-2)
    assert wide / factor == pytest.approx(spread, rel=0.1, abs=1e-2)


@pytest.mark.parametrize("count", [2, 5])
def test_values_that_are_all_alike_are_no_fault(count):
    law = fit_gaussian(np.linspace(0, 1, count)[:, None], np.full(count, 2.0))
    place = np.array([[0.4]])
    assert law.at(place)[0][0] == pytest.approx(2.0)
    assert [end[0] for end in law.within(place)] == pytest.approx([2.0, 2.0])


def test_two_numbers_are_no_fault_and_hardly_sure():
    law = fit_gaussian(np.array([[0.0], [1.0]]), np.array([1.0, 2.0]))
    place = np.array([[0.5]])
    (low,), (high,) = law.within(place)
    assert law.at(place)[0][0] == pytest.approx(1.5)
    assert high - low > 4.0 and np.isfinite(law.at(place)[1][0])
    assert LEAST_FREE > 2.0


@pytest.mark.slow
def test_of_very_many_rows_some_choose_the_lengths_and_all_answer():
    points, values = samples(13, count=260)
    law = fit_gaussian(points, values)
    assert len(law.members[0].points) == 260
    others, true = samples(14, count=30)
    assert law.at(others)[0] == pytest.approx(true, abs=5e-3)


@pytest.mark.parametrize("free", [1, 2, 3, 4, 5, 6, 17, 40, 199, 200, 999])
def test_students_t_is_that_of_a_library(free):
    """Against scipy.stats, far out into the tails."""
    places = np.linspace(-60.0, 60.0, 243).reshape(-1, 3)
    assert below(free, places) == pytest.approx(student.cdf(places, free), rel=0.0, abs=2e-14)


def test_students_t_by_a_table():
    """0.975 of 1, 2, 5 and 10 degrees: 12.706, 4.303, 2.571, 2.228 (tables of every handbook)."""
    for free, place in ((1, 12.706), (2, 4.303), (5, 2.571), (10, 2.228)):
        assert below(free, np.array([place]))[0] == pytest.approx(0.975, abs=2e-5)
