"""Variants of a search: what became of each, and whether they follow one another in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from formsim.study.findings import is_number
from formsim.study.plan import Plan
from formsim.study.sought import Sought
from formsim.study.table import NOT_TRUSTED, StudyTable

BENT = 0.1
"""Way back of a measure, as a share of its whole range, beyond which it is not called monotone."""


@dataclass(frozen=True)
class Trial:
    """One variant of a search.

    Attributes
    ----------
    place : shares of the way from low to high, one for each input
    numbers : values of the inputs, in the unit of the call
    variant : number in the table
    status, verdict, reason : as the table has them
    values : of the measures, in the order of the table; None for none
    excesses : of the bounds, how far each is broken, as a share of it; below 0 where it is kept.
        None where the variant came to no trusted numbers
    wish : what is preferred, less is better; None where it came to no number
    """

    place: tuple[float, ...]
    numbers: tuple[float, ...]
    variant: int
    status: str
    verdict: str
    reason: str
    values: tuple[float | None, ...]
    excesses: tuple[float, ...] | None
    wish: float | None

    @property
    def worst(self) -> float | None:
        """Largest excess; None where it came to no trusted numbers."""
        return None if self.excesses is None else max(self.excesses, default=0.0)

    @property
    def fulfils(self) -> bool:
        """Whether it keeps all bounds."""
        return self.worst is not None and self.worst <= 0.0


def trials_of(
    sought: Sought, plan: Plan, table: StudyTable, numbers: Sequence[tuple[float, ...]]
) -> list[Trial]:
    """What became of the variants of a search, in the order they were chosen."""
    columns = table.columns
    rows = zip(columns["status"], columns["verdict"], columns["reason"], strict=True)
    trials = []
    for row, (status, verdict, reason) in enumerate(rows):
        cells = [columns[name][row] for name in table.measures]
        values = tuple(float(cell) if is_number(cell) else None for cell in cells)
        trusted = status == "done" and verdict != NOT_TRUSTED
        known = trusted and None not in values[: len(sought.measures)]
        own = numbers[row]
        place = tuple(c.share(x) for c, x in zip(sought.changes, own, strict=True))
        excesses = _excesses(plan, values) if known else None
        wish = _wished(sought, place, values if known else ())
        state = (columns["variant"][row], status, verdict, reason)
        trials.append(Trial(place, own, *state, values, excesses, wish))
    return trials


def _excesses(plan: Plan, values: Sequence[float | None]) -> tuple[float, ...]:
    """How far every bound is broken, as a share of the bound; of 0 in the unit of the measure."""
    found = []
    for one, value in zip(plan.wanted, values, strict=True):
        if value is not None and one.high is not None:
            found.append((value - one.high) / (abs(one.high) or 1.0))
        if value is not None and one.low is not None:
            found.append((one.low - value) / (abs(one.low) or 1.0))
    return tuple(found)


def _wished(sought: Sought, place: Sequence[float], values: Sequence[float | None]) -> float | None:
    """What is preferred, less is better: the share of an input, or a measure in its unit."""
    wish = sought.wish
    if wish is None:
        return 0.0
    if wish.place is not None:
        return wish.sign * place[wish.place]
    value = values[sought.wish_column] if values else None
    return None if value is None else wish.sign * value


def best_of(trials: Sequence[Trial]) -> Trial | None:
    """The preferred one of those that keep all bounds; None where none does."""
    kept = [one for one in trials if one.fulfils and one.wish is not None]
    return min(kept, key=lambda one: one.wish or 0.0, default=None)


def closest_of(trials: Sequence[Trial]) -> Trial | None:
    """The one that breaks the bounds least; None where none came to trusted numbers."""
    known = [one for one in trials if one.worst is not None]
    return min(known, key=lambda one: one.worst or 0.0, default=None)


def ordered(trials: Sequence[Trial]) -> list[Trial]:
    """Trials along their one input."""
    return sorted(trials, key=lambda one: one.place[0])


def is_mixed(trials: Sequence[Trial]) -> bool:
    """Whether keeping and breaking change more than once along the one input."""
    states = [one.fulfils for one in ordered(trials)]
    return sum(a != b for a, b in zip(states, states[1:], strict=False)) > 1


def way_back(trials: Sequence[Trial]) -> float:
    """How far the excess goes against its trend along the one input, as a share of its range."""
    values = [one.worst for one in ordered(trials) if one.worst is not None]
    if len(values) < 3 or max(values) == min(values):
        return 0.0
    rises = [b - a for a, b in zip(values, values[1:], strict=False)]
    up, down = sum(max(x, 0.0) for x in rises), sum(max(-x, 0.0) for x in rises)
    return min(up, down) / (max(values) - min(values))


def is_monotone(trials: Sequence[Trial]) -> bool:
    """Whether what was found so far is monotone along the one input, small ways back forgiven."""
    return not is_mixed(trials) and way_back(trials) <= BENT
