"""Inputs that differ between results, key by key."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from formsim.case.describe import Row
from formsim.case.named_file import NamedFile
from formsim.report.comparison.side import Side

ABSENT, UNSET, UNREAD = "-", "not set", "unknown"
WORDS = ("title", "source", "sources")
"""Ends of keys that hold no numbers."""

_STAGE = re.compile(r"^stage\[(\d+)\]\.")
_DIGITS = ".12g"
"""Digits in which two numbers are the same, those of the digest of a case."""


class Difference(NamedTuple):
    """A key with its value in every result, and where the values come from.

    ``-`` stands where a case has no such key, ``unknown`` where it could not be read.
    """

    key: str
    unit: str
    values: tuple[str, ...]
    origin: str


def differences(sides: Sequence[Side]) -> tuple[Difference, ...]:
    """Keys whose values differ, in the order of the case.

    Stages are aligned by their names; keys of a stage that not all have are compared between
    those that have it.
    """
    read = [side for side in sides if side.inputs]
    tables = {side.mark: _by_key(side.inputs) for side in read}
    named = {side.mark: _stage_names(side.inputs) for side in read}
    every = list(dict.fromkeys(key for table in tables.values() for key in table))
    found = []
    for key in every:
        of = [s.mark for s in read if key[0] is None or key[0] in named[s.mark].values()]
        values = {mark: _text(tables[mark][key]) if key in tables[mark] else ABSENT for mark in of}
        # A table that one case does not have shows by its keys in the others.
        if len(set(values.values())) > 1 and not set(values.values()) <= {ABSENT, UNSET}:
            rows = [tables[mark][key] for mark in of if key in tables[mark]]
            unit = next((row.unit for row in rows if row.unit), "")
            shown = tuple(
                values.get(side.mark, ABSENT if side.inputs else UNREAD) for side in sides
            )
            origin = ", ".join(dict.fromkeys(row.origin for row in rows))
            found.append(Difference(_path(key, rows), unit, shown, origin))
    return tuple(found)


def short_names(found: Sequence[Difference], count: int, most: int = 2) -> tuple[str, ...]:
    """What tells the results apart in a few words, such as ``nose_radius 5 mm``; may be empty.

    Keys with the same last name and the same values count once; what no case gives itself, and what
    only is written or expected, does not count.
    """
    told = dict.fromkeys(
        (one.key.rpartition(".")[2], one.unit, one.values)
        for one in found
        if "given" in one.origin and not one.key.startswith(("output.", "expect["))
    )
    if not 1 <= len(told) <= most:
        return ("",) * count
    return tuple(
        ", ".join(f"{name} {_with(values[k], unit)}" for name, unit, values in told)
        for k in range(count)
    )


def _with(value: str, unit: str) -> str:
    return value if value in (ABSENT, UNSET, UNREAD) else f"{value} {unit}".rstrip()


def _by_key(rows: Sequence[Row]) -> dict[tuple[str | None, str], Row]:
    """Rows by stage, None for none, and key."""
    names = _stage_names(rows)
    table: dict[tuple[str | None, str], Row] = {}
    for row in rows:
        inside = _STAGE.match(row.key)
        rest = row.key[inside.end() :] if inside else row.key
        if rest.rpartition(".")[2] not in WORDS and not (inside and rest == "name"):
            table[names.get(inside[1]) if inside else None, rest] = row
    return table


def _stage_names(rows: Sequence[Row]) -> dict[str, str]:
    """Names of the stages by their numbers."""
    found = [(re.fullmatch(r"stage\[(\d+)\]\.name", row.key), row) for row in rows]
    return {match[1]: str(row.value) for match, row in found if match}


def _path(key: tuple[str | None, str], rows: Sequence[Row]) -> str:
    """Key path in the case file or, where the number of the stage differs, with its name."""
    paths = {row.key for row in rows}
    return paths.pop() if len(paths) == 1 else f"stage[{key[0]}].{key[1]}"


def _text(row: Row) -> str:
    value = row.value
    if value is None:
        return UNSET
    if isinstance(value, NamedFile):
        return f"{value} ({value.content[:8]})"
    if isinstance(value, tuple):
        return ", ".join(format(v, _DIGITS) if isinstance(v, float) else str(v) for v in value)
    return format(value, _DIGITS) if isinstance(value, float) else str(value)
