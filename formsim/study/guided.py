"""The next place of a search, guided by Gaussian processes through all places so far."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from formsim.arrays import Floats
from formsim.study.gaussian import Gaussian, fit_gaussian
from formsim.study.sought import Change, Sought
from formsim.study.trial import Trial, best_of

SEED, CANDIDATES, NEAR = 1, 1024, 256
"""Seed of all samples; candidates over the whole range and around the best place."""

HOPELESS = 0.01
"""Probability to fulfil below which, everywhere, a search without success is given up."""

WORTH = 0.5
"""Expected gain, as a share of the wanted width, below which a search is settled."""

APART = 1e-3
"""Least distance between two places of a search, in shares of the ranges."""


def start(inputs: int, most: int) -> Floats:
    """First places, (n, inputs): a Latin hypercube of three for each input and two more."""
    from scipy.stats import qmc

    count = max(2, min(3 * inputs + 2, most))
    points: Floats = qmc.LatinHypercube(inputs, rng=SEED).random(count)
    return points


def guided(sought: Sought, trials: Sequence[Trial], within: float) -> list[tuple[float, ...]]:
    """The most promising place, or none where nothing promises enough.

    Expected gain beyond the wanted width times probability to keep all bounds; the probability
    alone as long as nothing keeps them.

    Parameters
    ----------
    within : wanted width of what is preferred, as ``Trial.wish`` has it

    Source: D. R. Jones, M. Schonlau and W. J. Welch, Journal of Global Optimization 13, 1998, for
    the expected improvement; M. Schonlau, W. J. Welch and D. R. Jones, 1998, for its product with
    the probability of feasibility (both memory).
    """
    best = best_of(trials)
    if sought.wish is None and best is not None:
        return []
    places = _candidates(sought.changes, trials, best)
    if not len(places):
        return []
    laws = _laws(trials)
    if not laws and best is None:
        return [_loneliest(places, trials)]
    chance = _chance(laws, places)
    if best is None or best.wish is None:
        worth, least = chance, HOPELESS
    else:
        gain = _gain(sought, trials, places, best.wish - within)
        worth, least = chance * gain, WORTH * within
    choice = int(worth.argmax())
    return [tuple(places[choice].tolist())] if worth[choice] > least else []


def _candidates(changes: Sequence[Change], trials: Sequence[Trial], best: Trial | None) -> Floats:
    """Places that could be tried, (n, inputs), on their steps and away from those that were."""
    from scipy.stats import qmc

    inputs = len(changes)
    points = qmc.Sobol(inputs, rng=SEED + len(trials)).random(CANDIDATES)
    ends = np.array(np.meshgrid(*[[0.0, 1.0]] * min(inputs, 6))).reshape(min(inputs, 6), -1).T
    if ends.shape[1] == inputs:
        points = np.vstack([points, ends])
    if best is not None:
        drawn = np.random.default_rng(SEED + len(trials)).standard_normal((NEAR, inputs))
        points = np.vstack([points, np.clip(best.place + 0.05 * drawn, 0.0, 1.0)])
    made = [[c.share(c.number(x)) for x in points[:, k]] for k, c in enumerate(changes)]
    points = np.array(made, dtype=np.float64).T
    free: Floats = points[_away(points, trials) > APART]
    return free


def _away(points: Floats, trials: Sequence[Trial]) -> Floats:
    """Distance of points to the nearest trial, (n), the largest over the inputs."""
    tried = np.array([one.place for one in trials]).reshape(-1, points.shape[1])
    away: Floats = np.abs(points[:, None, :] - tried[None, :, :]).max(axis=2).min(axis=1)
    return away


def _loneliest(places: Floats, trials: Sequence[Trial]) -> tuple[float, ...]:
    """The place furthest from all trials, for want of numbers to go by."""
    return tuple(places[int(_away(places, trials).argmax())].tolist())


def _laws(trials: Sequence[Trial]) -> list[Gaussian]:
    """A law for each bound, and one for whether a variant comes to trusted numbers at all.

    None where too few trials came to numbers. The last one goes through 1 for those that did not
    and -1 for those that did (least squares for classes, Rasmussen and Williams 2006, section 6.5,
    memory), so it reads as one more bound to keep.
    """
    known = [one for one in trials if one.excesses is not None]
    if len(known) < 2:
        return []
    points = np.array([one.place for one in known])
    rows = np.array([one.excesses for one in known], dtype=np.float64)
    laws = [fit_gaussian(points, column) for column in rows.T]
    if len(known) < len(trials):
        states = np.array([1.0 if one.excesses is None else -1.0 for one in trials])
        laws.append(fit_gaussian(np.array([one.place for one in trials]), states))
    return laws


def _chance(laws: Sequence[Gaussian], places: Floats) -> Floats:
    """Probability that one more run keeps all bounds, as if they were independent, (n)."""
    from scipy.special import ndtr

    chance: Floats = np.ones(len(places))
    for law in laws:
        mean, deviation = law.at(places)
        chance = chance * ndtr(-mean / np.maximum(deviation, 1e-12))
    return chance


def _gain(sought: Sought, trials: Sequence[Trial], places: Floats, best: float) -> Floats:
    """Expected gain over the best so far in what is preferred, (n)."""
    wish = sought.wish
    if wish is not None and wish.place is not None:
        gain: Floats = np.maximum(best - wish.sign * places[:, wish.place], 0.0)
        return gain
    known = [one for one in trials if one.wish is not None]
    if len(known) < 2:
        return np.ones(len(places))
    points = np.array([one.place for one in known])
    law = fit_gaussian(points, np.array([one.wish for one in known], dtype=np.float64))
    mean, deviation = law.at(places)
    return expected_gain(best - mean, np.sqrt(np.maximum(deviation**2 - law.noise**2, 0.0)))


def expected_gain(gain: Floats, deviation: Floats) -> Floats:
    """Expected positive part of a normal distribution with this mean and deviation, (n)."""
    from scipy.special import ndtr

    spread = np.maximum(deviation, 1e-12)
    z = np.clip(gain / spread, -30.0, 30.0)
    density = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    found: Floats = np.where(deviation > 1e-12, gain * ndtr(z) + spread * density, gain.clip(0.0))
    return found
