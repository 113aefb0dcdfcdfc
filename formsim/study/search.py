"""Which places a search tries next, from those it has tried: a border first, then a law."""

from __future__ import annotations

from collections.abc import Sequence

from formsim.study.bracket import bracket_of, step_into
from formsim.study.guided import guided, start
from formsim.study.sought import Sought
from formsim.study.trial import Trial, is_monotone

HUNDREDTH = 0.01
"""Wanted width where the call names none, as a share of the range of what is preferred."""

INSIDE = (0.5, 0.25, 0.75)
"""Places looked at between two ends that both fail."""


def width_of(sought: Sought, trials: Sequence[Trial]) -> float:
    """Wanted width of what is preferred, as ``Trial.wish`` has it."""
    wish = sought.wish
    place = wish.place if wish else 0
    if place is not None:
        change = sought.changes[place]
        whole = change.high - change.low
        asked = HUNDREDTH if sought.within is None else sought.within / whole
        return asked if change.step is None else max(asked, 1.001 * change.step / whole)
    if sought.within is not None:
        return sought.within
    found = [one.wish for one in trials if one.wish is not None]
    return HUNDREDTH * (max(found) - min(found)) if found else 0.0


def next_places(sought: Sought, trials: Sequence[Trial]) -> list[tuple[float, ...]]:
    """Places to try next, as shares of the ranges; none where the search is settled.

    They follow from the trials alone, so a search that is called again takes the same way.
    """
    if sought.is_border:
        return _along(sought, trials)
    if not trials:
        return [tuple(place) for place in start(len(sought.changes), sought.most).tolist()]
    return guided(sought, trials, width_of(sought, trials))


def _along(sought: Sought, trials: Sequence[Trial]) -> list[tuple[float, ...]]:
    """Places along one input: both ends, the border between them, else what a law suggests."""
    if not trials:
        return [(0.0,), (1.0,)]
    fulfilled = any(one.fulfils for one in trials)
    if fulfilled and sought.wish is None:
        return []
    if not fulfilled and len(trials) < 2 + len(INSIDE):
        return [(place,) for place in INSIDE[len(trials) - 2 :]]
    if not is_monotone(trials):
        suggested = guided(sought, trials, width_of(sought, trials))
        if suggested:
            return suggested
    return _between(sought, trials)


def _between(sought: Sought, trials: Sequence[Trial]) -> list[tuple[float, ...]]:
    """The next place in the bracket; none where it is narrow enough."""
    bracket = bracket_of(trials)
    within = width_of(sought, trials)
    if bracket is None or bracket.width <= within:
        return []
    tried = {one.numbers for one in trials}
    middle = 0.5 * (bracket.inner.place[0] + bracket.outer.place[0])
    for place in (step_into(bracket, within, trials), middle):
        if (sought.changes[0].number(place),) not in tried:
            return [(place,)]
    return []
