"""Several results compared: everything that tables, sentences and figures are made from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from formsim.errors import StoreError
from formsim.report.comparison import words
from formsim.report.comparison.headlines import have_same_limits, headlines
from formsim.report.comparison.inputs import Difference, differences, short_names
from formsim.report.comparison.judge import Win, trade, wins
from formsim.report.comparison.numbers import Compared, of_stages
from formsim.report.comparison.side import Side, load_sides
from formsim.report.comparison.stages import Aligned, align


@dataclass(frozen=True)
class Comparison:
    """Several results and what came out of comparing them.

    Attributes
    ----------
    sides : the results
    against : number of the one that differences are taken to
    aligned : their stages beside each other
    inputs : inputs that differ
    short : what tells each result apart in a few words; may be empty
    numbers, of_stages : numbers to look at first, and those of every stage
    wins : who is best in each of the first
    told : sentences on what is missing where and on what to know first
    """

    sides: tuple[Side, ...]
    against: int
    aligned: Aligned
    inputs: tuple[Difference, ...]
    short: tuple[str, ...]
    numbers: tuple[Compared, ...]
    of_stages: tuple[Compared, ...]
    wins: tuple[Win, ...]
    told: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """How many of the results passed, in a sentence."""
        return words.passed_text(self.sides)

    @property
    def best(self) -> tuple[str, ...]:
        """Who is best at what, in sentences."""
        return tuple(words.win_text(self.sides, win) for win in self.wins)

    @property
    def trades(self) -> tuple[words.Told, ...]:
        """What every result gains over the one differences are taken to, and at which price."""
        others = [k for k in range(len(self.sides)) if k != self.against]
        found = [trade(self.numbers, k, self.against) for k in others]
        return tuple(words.trade_told(self.sides, one, self.against) for one in found)


def compare_results(
    folders: Sequence[Path], against: Path | None = None, *, faults: Sequence[StoreError] = ()
) -> Comparison:
    """Compare results.

    Parameters
    ----------
    folders : of the results
    against : the one that differences are taken to; it joins where it is not among the others;
        None for the first
    faults : what else is wrong with a call, to be told with all that is wrong with its results

    Raises
    ------
    StoreError : results that cannot be compared, or other faults, all at once
    """
    places = [folder.resolve() for folder in folders]
    if against is not None and against.resolve() not in places:
        folders, places = (against, *folders), [against.resolve(), *places]
    first = places.index(against.resolve()) if against is not None else 0
    sides = load_sides(folders, faults)
    try:
        return compared(sides, first)
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        message = f"the summary of a result is damaged: {type(error).__name__} {error}"
        raise StoreError(
            message, hint="formsim show RESULT says which; run its case again"
        ) from error


def compared(sides: Sequence[Side], against: int = 0) -> Comparison:
    """Comparison of results that have been read; ``against`` from 0."""
    aligned, inputs = align(sides), differences(sides)
    same_limits = have_same_limits(sides, inputs)
    numbers = headlines(sides, aligned, same_limits=same_limits)
    limits = () if same_limits else (words.OTHER_LIMITS,)
    lacking = [text for side in sides for text in side.lacks]
    return Comparison(
        sides=tuple(sides),
        against=against,
        aligned=aligned,
        inputs=inputs,
        short=short_names(inputs, len(sides)),
        numbers=numbers,
        of_stages=of_stages(sides, aligned),
        wins=wins(sides, numbers),
        told=(*words.warnings(sides, inputs), *limits, *aligned.told, *lacking),
    )
