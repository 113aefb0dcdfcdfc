"""A comparison in sentences: who is best, at which price, what cannot be told, what is missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields
from typing import NamedTuple

from formsim.report.comparison.bars import has_error_bars
from formsim.report.comparison.inputs import Difference
from formsim.report.comparison.judge import Trade, Win
from formsim.report.comparison.numbers import LESS, Compared
from formsim.report.comparison.side import Side
from formsim.report.comparison.stages import marks
from formsim.report.page_top import Failure, top
from formsim.report.words import counted

COMMAND = "formsim run CASE --error-bars"
_MEANT = "Two numbers are told apart where they differ by more than both their error bars together."
_NOISE = (
    "the noise of the solver by its trust checks stands for them: it knows nothing of the mesh, the"
    " material or the press, so a small difference may be none"
)
OTHER_LIMITS = "The limits differ, so what is left of the nearest limit is not compared."
SLIGHT = "less than another mesh may change"
PARTS = ("better", "at the price of", "other changes", SLIGHT, "not told apart", "equal")
NOT_COMPARED, NOTHING = "not compared", "nothing that can be told"
NO_INPUTS = "No input differs in those cases that could be read."
_KINDS = {"trust": "trust check", "limit": "limit", "expectation": "expectation"}


def verdict(side: Side) -> str:
    """How a run ended, in a few words."""
    if side.passed:
        return "passed"
    failed = [one.kind for one in top(side.summary).failures]
    told = [counted(failed.count(kind), name) for kind, name in _KINDS.items() if kind in failed]
    if not side.finished:
        return str(side.summary.get("ended", "not finished")).upper()
    if side.unsound and not told:
        return "STARTS FROM A RESULT THAT DID NOT PASS"
    return f"NOT PASSED: {', '.join(told) or 'no check was made'}"


def passed_text(sides: Sequence[Side]) -> str:
    """How many of the results passed."""
    bad = [side for side in sides if not side.passed]
    if not bad:
        return f"All {len(sides)} results passed all their checks."
    return (
        f"{len(bad)} of {counted(len(sides), 'result')} did not pass: {marks(bad)}."
        " They are not taken for the best at anything."
    )


def untrusted(sides: Sequence[Side]) -> Iterator[tuple[Side, Failure]]:
    """Checks that failed, with the result they belong to; trust checks of a result first."""
    for side in sides:
        for one in top(side.summary).failures:
            yield side, one


def failure_text(side: Side, one: Failure) -> str:
    """A failed check in a sentence."""
    told = f"{side.label}, {_KINDS[one.kind]}: {one.name}: {one.found}, wanted {one.wanted}"
    return f"{told}: {one.consequence}" if one.consequence else told


def warnings(sides: Sequence[Side], found: Sequence[Difference]) -> Iterator[str]:
    """What to know before numbers are compared."""
    for side in sides:
        if side.finished and not side.passed:
            yield f"{side.label} did not pass: {top(side.summary).ending.verdict}"
        if side.unsound:
            told = "; ".join(side.summary["start"]["failed"])
            yield f"{side.label} starts from a result that did not pass: {told}"
    made_by: dict[str, list[Side]] = {}
    for side in sides:
        made_by.setdefault(str(side.summary.get("version", "unknown")), []).append(side)
    if len(made_by) > 1:
        told = "; ".join(f"{marks(of)} by {version}" for version, of in made_by.items())
        yield f"The results come from different versions of formsim: {told}."
    same: dict[str, list[Side]] = {}
    for side in sides:
        same.setdefault(str(side.summary.get("digest", "")), []).append(side)
    for digest, of in same.items():
        if len(of) > 1:
            yield f"{marks(of)} are the same case by its numbers (digest {digest})."
    exact = [side for side in sides if side.summary.get("exact")]
    if exact and len(exact) < len(sides):
        yield f"{marks(exact)} was run with --exact, the others were not."
    if any(one.key.startswith("mesh.") for one in found):
        yield "The meshes differ, so part of every difference may be that of the mesh."


def how_known(sides: Sequence[Side]) -> str:
    """What the error bars are, and what is missing."""
    without = [side for side in sides if not has_error_bars(side.summary)]
    if not without:
        return _MEANT
    if len(without) == len(sides):
        return f"No error bars are known; {_NOISE}. {_MEANT} Error bars come with: {COMMAND}"
    return (
        f"No error bars are known for {marks(without)}; {_NOISE}. {_MEANT}"
        f" Error bars come with: {COMMAND}"
    )


def win_text(sides: Sequence[Side], win: Win) -> str:
    """Who is best in one measure, by how much, and who did not pass."""
    name, row = named(win.row), win.row
    if win.best is None:
        return f"{name}: no result passed, so none is best{_unfit(sides, win)}."
    if row.same:
        return f"{name}: the same everywhere{_unfit(sides, win)}."
    best = f"{sides[win.best].label}, {value_text(row, win.best)}"
    fit = sum(
        side.passed and number is not None for side, number in zip(sides, row.numbers, strict=True)
    )
    if fit == 1:
        told = f"only {best} passed, so nothing was won"
    elif not win.equal:
        told = f"{best} {'is best' if win.clear else 'is ahead'}{_lead(sides, win)}"
    elif win.second is None:
        told = f"{marks([sides[k] for k in sorted((win.best, *win.equal))])} cannot be told apart"
    else:
        equal = marks([sides[k] for k in win.equal])
        alike = all(row.equal(win.best, k) for k in win.equal)
        verb = "has" if len(win.equal) == 1 else "have"
        told = f"{best} is best, and {equal} {verb} the same"
        if not alike:
            told = f"{best} is best, but {equal} cannot be told from it"
    return f"{name}: {told}{_unfit(sides, win)}."


def _lead(sides: Sequence[Side], win: Win) -> str:
    if win.best is None or win.second is None:
        return ""
    lead = abs(win.row.difference(win.best, win.second) or 0.0)
    measure = win.row.measure
    way = "below" if measure.better == LESS else "above"
    known = not (win.row.unsure(win.best) or win.row.unsure(win.second))
    doubt = "" if known else ", but nothing is known of how far these numbers may be off"
    by = f"{lead:.{measure.digits}f} {measure.difference_unit}"
    if not win.clear:
        doubt = f": {SLIGHT}, and no error bars tell"
    return f", {by} {way} {sides[win.second].label}{doubt}"


def _unfit(sides: Sequence[Side], win: Win) -> str:
    """Results with a better number that did not pass."""
    told = [f"{sides[k].label} with {value_text(win.row, k)}" for k in win.unfit]
    if not told:
        return ""
    word = "the best number is that of" if win.best is None else "BETTER BUT DID NOT PASS:"
    return f"; {word} {', '.join(told)}"


class Told(NamedTuple):
    """What a result gains over another and at which price: a head, and what with its words."""

    head: str
    parts: tuple[tuple[str, str], ...]


def trade_told(sides: Sequence[Side], found: Trade, against: int) -> Told:
    """What a result gains over another and at which price."""
    side = sides[found.side]
    warned = "" if side.passed else f" ({verdict(side)})"
    head = f"{side.label}{warned} against {sides[against].label}"

    def changes(rows: Sequence[Compared]) -> str:
        return ", ".join(change_text(row, found.side, against) for row in rows)

    if not any(getattr(found, field.name) for field in fields(Trade)[1:]):
        return Told(head, ((NOT_COMPARED, "it has none of these numbers"),))
    texts = (
        changes(found.gains) or NOTHING,
        changes(found.prices) or NOTHING,
        changes(found.changes),
        changes(found.slight),
        ", ".join(named(row) for row in found.unsure),
        ", ".join(named(row) for row in found.equal),
    )
    return Told(head, tuple((what, text) for what, text in zip(PARTS, texts, strict=True) if text))


def change_text(row: Compared, k: int, against: int) -> str:
    """A measure and how much higher or lower it is, such as ``height 1.20 mm higher``."""
    difference, measure = row.difference(k, against) or 0.0, row.measure
    way = "higher" if difference > 0.0 else "lower"
    return f"{named(row)} {abs(difference):.{measure.digits}f} {measure.difference_unit} {way}"


def named(row: Compared) -> str:
    """A measure with its stage."""
    measure = row.measure
    return f"{measure.label} ({measure.stage})" if measure.stage else measure.label


def value_text(row: Compared, k: int) -> str:
    """Value of a result with its unit."""
    number, measure = row.numbers[k], row.measure
    return "-" if number is None else f"{number.value:.{measure.digits}f} {measure.unit}"
