"""A border along one input, between a value that fulfils and the next one that does not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from formsim.study.trial import Trial, best_of

AIM = 0.4
"""Share of the wanted width that a step aims beside the border, so that two steps enclose it."""

INNER = 0.2
"""Least distance of a step from both ends, as a share of the wanted width."""


@dataclass(frozen=True)
class Bracket:
    """Two neighbours with the border between them.

    Attributes
    ----------
    inner : the preferred one of those that fulfil
    outer : the nearest one that does not, further towards what is preferred
    """

    inner: Trial
    outer: Trial

    @property
    def width(self) -> float:
        """Share of the whole range between both."""
        return abs(self.inner.place[0] - self.outer.place[0])


def bracket_of(trials: Sequence[Trial]) -> Bracket | None:
    """The border next to the best value; None where nothing fulfils, or nothing better fails."""
    inner = best_of(trials)
    if inner is None or inner.wish is None:
        return None
    better = [one for one in trials if one.wish is not None and one.wish < inner.wish]
    if not better:
        return None
    outer = min(better, key=lambda one: abs(one.place[0] - inner.place[0]))
    return Bracket(inner, outer)


def step_into(bracket: Bracket, within: float, trials: Sequence[Trial]) -> float:
    """The next place in a bracket, strictly between its ends.

    Every third step bisects, the others interpolate, so that three together at least halve the
    bracket. Those that interpolate aim a little beside the border: with a smooth measure two of
    them enclose it.

    Parameters
    ----------
    within : wanted width, as a share of the whole range
    trials : all so far, the two ends of the bracket among them
    """
    inner, outer = bracket.inner.place[0], bracket.outer.place[0]
    border = _border(bracket, trials)
    if border is None or (len(trials) > 2 and len(trials) % 3 == 2):
        return 0.5 * (inner + outer)
    way = inner - outer
    aim, least = (min(share * within / abs(way), 0.5) for share in (AIM, INNER))
    # From the border inwards as long as the inner end is far from it, then outwards.
    border += aim if 1.0 - border > 1.5 * aim else -aim
    return outer + min(max(border, least), 1.0 - least) * way


def _border(bracket: Bracket, trials: Sequence[Trial]) -> float | None:
    """Where the border should be, from 0 at the outer end to 1; None where nothing tells.

    Inverse interpolation through both ends and the trial next to the border beside them; through
    both ends alone where that leads out of the bracket.
    """
    ends = (bracket.outer, bracket.inner)
    start, way = ends[0].place[0], ends[1].place[0] - ends[0].place[0]
    known = [(one.worst, (one.place[0] - start) / way) for one in trials if one not in ends]
    points = [(one.worst, share) for one, share in zip(ends, (0.0, 1.0), strict=True)]
    (broken, _), (kept, _) = points
    if broken is None or kept is None or broken <= kept:
        return None
    others = [(value, share) for value, share in known if value not in (None, broken, kept)]
    if others:
        third = min(others, key=lambda one: abs(one[0] or 0.0))
        found = _at_zero([(broken, 0.0), (kept, 1.0), (third[0] or 0.0, third[1])])
        if 0.0 < found < 1.0:
            return found
    return broken / (broken - kept)


def _at_zero(points: Sequence[tuple[float, float]]) -> float:
    """Value at 0 of the polynomial through points of argument and value (Lagrange)."""
    total = 0.0
    for own, value in points:
        for other, _ in points:
            value *= 1.0 if other == own else other / (other - own)
        total += value
    return total
