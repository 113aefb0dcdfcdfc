"""Which result is better at what, at which price, and what cannot be told apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

from formsim.report.comparison.numbers import NEITHER, Compared, Number
from formsim.report.comparison.side import Side


@dataclass(frozen=True)
class Win:
    """Who is best in one measure; only results that passed can be.

    Attributes
    ----------
    row : the measure in all results
    best : result with the best number among those that passed; None where none did
    equal : results that passed and cannot be told from the best
    second : the best of the others that passed; None where there is none
    unfit : results that did not pass although their number is better than the best
    """

    row: Compared
    best: int | None
    equal: tuple[int, ...]
    second: int | None
    unfit: tuple[int, ...]

    @property
    def clear(self) -> bool:
        """Whether one result alone is best, by more than another mesh may change."""
        if self.best is None or self.second is None or self.equal:
            return False
        return not self.row.slight(self.best, self.second)


@dataclass(frozen=True)
class Trade:
    """One result against another, by the measures that can be told apart.

    Attributes
    ----------
    side : number of the result
    gains, prices : measures in which it is better, and worse
    changes : measures that have no better way
    slight : measures that differ by less than another mesh may change, without error bars
    unsure : measures that cannot be told apart
    equal : measures that are the same in both results
    """

    side: int
    gains: tuple[Compared, ...]
    prices: tuple[Compared, ...]
    changes: tuple[Compared, ...]
    slight: tuple[Compared, ...]
    unsure: tuple[Compared, ...]
    equal: tuple[Compared, ...]


def wins(sides: Sequence[Side], rows: Sequence[Compared]) -> tuple[Win, ...]:
    """The best result in every measure that has a better way."""
    return tuple(_win(sides, row) for row in rows if row.measure.better != NEITHER)


def _win(sides: Sequence[Side], row: Compared) -> Win:
    ranked = sorted(
        (k for k, number in enumerate(row.numbers) if number is not None),
        key=lambda k: -_worth(row, k),
    )
    fit = [k for k in ranked if sides[k].passed]
    if not fit:
        return Win(row, None, (), None, tuple(ranked[:1]))
    best, others = fit[0], fit[1:]
    equal = tuple(k for k in others if not row.apart(k, best))
    behind = [k for k in others if k not in equal]
    unfit = [
        k
        for k in ranked
        if not sides[k].passed and _worth(row, k) > _worth(row, best) and row.apart(k, best)
    ]
    return Win(row, best, equal, behind[0] if behind else None, tuple(unfit))


def _worth(row: Compared, k: int) -> float:
    """Value with the sign that makes more of it better."""
    number = row.numbers[k]
    return row.measure.better * (number or Number(0.0)).value


def trade(rows: Sequence[Compared], side: int, against: int) -> Trade:
    """What a result gains over another, and at which price."""
    groups: dict[str, list[Compared]] = {field.name: [] for field in fields(Trade)[1:]}
    for row in rows:
        difference = row.difference(side, against)
        if difference is None:
            continue
        if row.equal(side, against):
            kind = "equal"
        elif not row.apart(side, against):
            kind = "unsure"
        elif row.slight(side, against):
            kind = "slight"
        elif row.measure.better == NEITHER:
            kind = "changes"
        else:
            kind = "gains" if row.measure.better * difference > 0.0 else "prices"
        groups[kind].append(row)
    return Trade(side, **{name: tuple(group) for name, group in groups.items()})
