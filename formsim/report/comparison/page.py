"""The page of a comparison as data, and as one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from formsim.report.comparison.compare import Comparison
from formsim.report.comparison.figures import Planned
from formsim.report.comparison.stages import marks
from formsim.report.comparison.tables import (
    WIDE,
    inputs_table,
    numbers_table,
    sides_table,
    trades_table,
)
from formsim.report.comparison.words import Told, failure_text, how_known, untrusted
from formsim.report.html import filled
from formsim.report.lines import Grid
from formsim.report.page_pictures import Picture, chosen, picture
from formsim.report.words import counted


class StagePart(NamedTuple):
    """A stage that several results have: its figures and its numbers."""

    name: str
    of: str
    pictures: tuple[Picture, ...]
    numbers: Grid


class ComparePage(NamedTuple):
    """Everything the page of a comparison shows.

    Attributes
    ----------
    tone : ``good`` where all results passed, else ``bad``
    verdict : how many passed, in a sentence
    failed : failed checks, each with its result
    told : sentences on what is missing where and on what to know before numbers are compared
    known : what the error bars are
    best, trades : who is best at what, and at which price; of many results as a table instead
    """

    title: str
    tone: str
    verdict: str
    sides: Grid
    failed: tuple[str, ...]
    told: tuple[str, ...]
    known: str
    best: tuple[str, ...]
    trades: tuple[Told, ...]
    many: Grid | None
    numbers: Grid
    inputs: Grid
    whole: tuple[Picture, ...]
    stages: tuple[StagePart, ...]
    left_out: tuple[str, ...]


def compare_page(
    one: Comparison, figures: Sequence[Planned], files: Mapping[str, Mapping[str, Path]]
) -> ComparePage:
    """Page of a comparison.

    Parameters
    ----------
    figures : planned ones
    files : name of a figure that was made -> ending -> file
    """
    taken = chosen(files)
    pictures = {
        figure.name: picture(taken[figure.name], figure.caption, _alt(one, figure))
        for figure in figures
        if figure.name in taken
    }
    many = len(one.sides) > WIDE
    passed = sum(side.passed for side in one.sides)
    return ComparePage(
        title=f"Comparison of {counted(len(one.sides), 'result')}",
        tone="good" if passed == len(one.sides) else "bad",
        verdict=one.verdict,
        sides=sides_table(one.sides, one.short, one.against, len(one.inputs)),
        failed=tuple(failure_text(side, failure) for side, failure in untrusted(one.sides)),
        told=one.told,
        known=how_known(one.sides),
        best=one.best,
        trades=() if many else one.trades,
        many=trades_table(one.trades, one.sides[one.against]) if many else None,
        numbers=_headlines(one),
        inputs=inputs_table(one.sides, one.inputs),
        whole=tuple(pictures[f.name] for f in figures if not f.stage and f.name in pictures),
        stages=tuple(_stages(one, figures, pictures)),
        left_out=tuple(name for name in files if name not in taken),
    )


def comparison_html(page: ComparePage) -> str:
    """A page of a comparison as HTML; every text is escaped, nothing is loaded from elsewhere."""
    return filled("compare.html", page)


def _headlines(one: Comparison) -> Grid:
    after = f", compared after {one.aligned.part[0]}" if one.aligned.part else ""
    return numbers_table(one.sides, one.numbers, one.against, f"Numbers{after}", one.wins)


def _stages(
    one: Comparison, figures: Sequence[Planned], pictures: Mapping[str, Picture]
) -> list[StagePart]:
    found = []
    for name, kind in one.aligned.shared:
        of = [side for side in one.sides if (name, kind) in side.begun()]
        open_ = [side for side in of if (name, kind) not in side.stages()]
        rows = [row for row in one.of_stages if row.measure.stage == name]
        grid = numbers_table(one.sides, rows, one.against, f"Numbers of {name}")
        shown = [f.name for f in figures if f.stage == name and f.name in pictures]
        who = [] if len(of) == len(one.sides) else [f"only {marks(of)}"]
        who += [f"{marks(open_)} as it ended"] if open_ else []
        found.append(StagePart(name, "; ".join(who), tuple(pictures[key] for key in shown), grid))
    return found


def _alt(one: Comparison, figure: Planned) -> str:
    """What a figure shows, with the numbers of its results."""
    stage = figure.stage or (one.aligned.part[0] if one.aligned.part else "")
    rows = [
        row
        for row in one.of_stages
        if row.measure.stage == stage and row.measure.label == "smallest thickness"
    ]
    told = [
        f"{side.label}: least {number.value:.4f} mm"
        for row in rows
        for side, number in zip(one.sides, row.numbers, strict=True)
        if number is not None
    ]
    return "; ".join([f"{figure.caption}, {len(one.sides)} results", *told])
