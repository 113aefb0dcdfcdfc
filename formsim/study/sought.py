"""What a search is after: inputs that may change, conditions to keep, and what is preferred."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formsim.case.expect import Wanted

DIGITS = ".10g"
"""Digits of a value that a search makes."""


@dataclass(frozen=True)
class Change:
    """An input that may change.

    Attributes
    ----------
    keys : that take its value
    low, high : ends, in ``unit``
    step : between values that can be made; None for any value
    unit : behind the numbers; empty for that of the key
    whole : whether low, high and step are written without a decimal point
    asked : high as it was asked for; steps may not lead there
    """

    keys: tuple[str, ...]
    low: float
    high: float
    step: float | None
    unit: str
    whole: bool
    asked: float

    @property
    def name(self) -> str:
        """The first of its keys."""
        return self.keys[0]

    def number(self, share: float) -> float:
        """Value at a share of the way from low to high, on a step where there are steps."""
        if self.step is None:
            return float(format(self.low + share * (self.high - self.low), DIGITS))
        count = round(share * (self.high - self.low) / self.step)
        return float(format(self.low + count * self.step, DIGITS))

    def share(self, number: float) -> float:
        """Share of the way from low to high."""
        return (number - self.low) / (self.high - self.low)

    def value(self, number: float) -> Any:
        """A number as a case file has it."""
        if self.unit:
            return f"{number:.10g} {self.unit}"
        return int(number) if self.whole and self.step is not None else number


@dataclass(frozen=True)
class Wish:
    """What is preferred among all that keeps the conditions.

    Attributes
    ----------
    word : ``smallest`` or ``largest``
    place : number of the input; None where a measure is preferred
    measure : None where an input is preferred
    """

    word: str
    place: int | None
    measure: Wanted | None

    @property
    def sign(self) -> float:
        """1 where less is better, -1 where more is."""
        return 1.0 if self.word == "smallest" else -1.0


@dataclass(frozen=True)
class Sought:
    """A search.

    Attributes
    ----------
    case : file of the base case
    title, source : of the base case
    changes : inputs
    conditions : measures with the bounds they have to keep
    wish : None for any place that keeps them
    within : wanted width, in the unit of what is preferred; None for a hundredth of its range
    most : variants at most
    tables : the call as nested tables, by which it is known again
    longest : time a variant may take, as written; None for any
    """

    case: Path
    title: str
    source: str
    changes: tuple[Change, ...]
    conditions: tuple[Wanted, ...]
    wish: Wish | None
    within: float | None
    most: int
    keep: str
    tables: Mapping[str, Any]
    longest: str | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences on ranges that end before their last value."""
        return tuple(
            f"{one.name} ends at {one.high:g}{f' {one.unit}' if one.unit else ''}:"
            f" steps of {one.step:g} do not lead to {one.asked:g}"
            for one in self.changes
            if one.step is not None and abs(one.asked - one.high) > 1e-6 * one.step
        )

    @property
    def is_border(self) -> bool:
        """Whether one input changes and a border along it is sought."""
        return len(self.changes) == 1 and (self.wish is None or self.wish.place is not None)

    @property
    def measures(self) -> tuple[Wanted, ...]:
        """Measures of every variant: those with bounds, then what is preferred if it is another."""
        wished = self.wish.measure if self.wish else None
        names = [(one.measure, one.stage) for one in self.conditions]
        more = wished is not None and (wished.measure, wished.stage) not in names
        return (*self.conditions, wished) if more and wished else self.conditions

    @property
    def wish_column(self) -> int:
        """Number of the preferred measure among the measures."""
        wished = self.wish.measure if self.wish else None
        names = [(one.measure, one.stage) for one in self.measures]
        return names.index((wished.measure, wished.stage)) if wished else 0


def study_tables(sought: Sought, numbers: Sequence[tuple[float, ...]]) -> dict[str, Any]:
    """The study file of a search: a list of values that go together."""
    vary: list[dict[str, Any]] = [
        {"key": list(change.keys), "values": [change.value(row[k]) for row in numbers]}
        for k, change in enumerate(sought.changes)
    ]
    return {
        "title": sought.title,
        "source": sought.source,
        "case": sought.case.name,
        "design": {"kind": "list"},
        "vary": vary,
        "measure": [one.model_dump(exclude_none=True) for one in sought.measures],
        "keep": sought.keep,
        **({} if sought.longest is None else {"longest": sought.longest}),
    }
