"""Which stages of several results are the same by name and kind, and which are missing where."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from formsim.report.comparison.side import Side
from formsim.report.page_top import made_stages, top

Key = tuple[str, str]
"""Name and kind of a stage."""

SINGLE = 2
"""Letters in a row that are told one by one."""


@dataclass(frozen=True)
class Aligned:
    """Stages of several results beside each other.

    Attributes
    ----------
    common : made to its end by all finished results, in the order of the first; by all where
        fewer than two are finished
    shared : begun by at least two, in the order in which they first come
    part : the last common stage that makes the part; None where there is none
    alike : whether all finished results made the same stages
    told : sentences on what is missing where
    """

    common: tuple[Key, ...]
    shared: tuple[Key, ...]
    part: Key | None
    alike: bool
    told: tuple[str, ...]


def align(sides: Sequence[Side]) -> Aligned:
    """Stages of the results by name and kind."""
    finished = [side for side in sides if side.finished]
    basis = finished if len(finished) > 1 else [side for side in sides if side.begun()]
    made = [list(side.stages()) for side in basis]
    every = list(dict.fromkeys(key for side in sides for key in side.stages()))
    common = tuple(key for key in made[0] if all(key in keys for keys in made))
    begun = dict.fromkeys(key for side in sides for key in side.begun())
    shared = tuple(key for key in begun if sum(key in side.begun() for side in sides) > 1)
    forming = [_forming(side) for side in basis]
    parts = [key for key in common if all(key in keys for keys in forming)] or list(common)
    told = [*_unfinished(sides), *_kinds(sides, every), *_missing(sides, every), *_order(made)]
    if not common:
        told.insert(0, "No stage was made by all results, so no part can be compared.")
    alike = len(finished) > 1 and all(keys == made[0] for keys in made)
    if parts and not alike:
        told.append(f'The parts are compared after "{parts[-1][0]}", their last common stage.')
    return Aligned(common, shared, parts[-1] if parts else None, alike, tuple(told))


def marks(sides: Sequence[Side]) -> str:
    """Letters of some results in words, such as ``A to D and F``."""
    runs: list[list[str]] = []
    for side in sorted(sides, key=lambda one: one.mark):
        if runs and ord(side.mark) == ord(runs[-1][-1]) + 1:
            runs[-1].append(side.mark)
        else:
            runs.append([side.mark])
    found: list[str] = []
    for run in runs:
        found += [f"{run[0]} to {run[-1]}"] if len(run) > SINGLE else run
    return " and ".join([", ".join(found[:-1]), found[-1]] if len(found) > 1 else found)


def quoted(names: Sequence[str]) -> str:
    """Names of stages in quotes."""
    return ", ".join(f'"{name}"' for name in names)


def _forming(side: Side) -> list[Key]:
    """Stages that make the part; those in which it is only tested left out."""
    return [(str(stage["name"]), str(stage["kind"])) for stage in made_stages(side.summary)]


def _unfinished(sides: Sequence[Side]) -> Iterator[str]:
    for side in sides:
        if side.finished:
            continue
        open_: list[Any] = [
            str(stage["name"]) for stage in side.summary["stages"] if not stage["complete"]
        ]
        shown = "is shown as it ended, and its numbers are left out"
        left = f" Its stage {quoted(open_)} {shown}." if open_ else ""
        said = top(side.summary).ending.verdict.rstrip(".")
        yield f"{side.label} is not finished. {said}.{left}"


def _kinds(sides: Sequence[Side], every: Sequence[Key]) -> Iterator[str]:
    """Stages of one name that do different things."""
    for name in dict.fromkeys(name for name, _ in every):
        kinds = [kind for other, kind in every if other == name]
        if len(kinds) > 1:
            told = ", ".join(
                f"{kind} in {marks([s for s in sides if (name, kind) in s.stages()])}"
                for kind in kinds
            )
            yield f'Stage "{name}" is not the same everywhere: {told}.'


def _missing(sides: Sequence[Side], every: Sequence[Key]) -> Iterator[str]:
    """What is missing where, stages that are missing in the same results together."""
    lacking: dict[tuple[str, ...], list[str]] = {}
    for key in every:
        without = tuple(side.mark for side in sides if key not in side.stages())
        if without:
            lacking.setdefault(without, []).append(key[0])
    for without, names in lacking.items():
        lack = [side for side in sides if side.mark in without]
        have = [side for side in sides if side.mark not in without]
        few, start = (have, "Only ") if len(have) < len(lack) else (lack, "")
        has = f"{'has' if len(few) == 1 else 'have'}{' ' if start else ' no '}finished"
        what = "stage" if len(names) == 1 else "stages"
        yield f"{start}{marks(few)} {has} {what} {quoted(names)}."


def _order(made: Sequence[Sequence[Key]]) -> Iterator[str]:
    first = made[0]
    for keys in made[1:]:
        both = [key for key in first if key in keys]
        if both != [key for key in keys if key in first]:
            yield "The stages do not come in the same order everywhere; they are compared by name."
            return
