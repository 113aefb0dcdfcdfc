"""Every value of a case in rows: key path, value, unit, and whether it was given."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from pydantic import BaseModel

from formsim.case.filling import OF_THE_LINE
from formsim.case.quantity import Quantity
from formsim.case.schema import Case

_LINE = tuple(f"{key}." for key in OF_THE_LINE)


class Row(NamedTuple):
    """One value of a case.

    ``origin`` is "given" for a value of the file, "library" or "card" for one of a material or a
    card file that the file names, "result" for one of the result a case starts from, "default" for
    the rest. A value None stands for one that is not set: the run chooses it or does without.
    """

    key: str
    value: object
    unit: str
    origin: str


def describe(case: Case, *, full: bool = True) -> list[Row]:
    """Rows of all values of a case in the order of the schema; without ``full`` the given ones."""
    rows = [
        row._replace(origin="result") if case.earlier and row.key.startswith(_LINE) else row
        for row in _rows(case, "", case.given)
    ]
    return [row for row in rows if full or row.origin == "given"]


def _rows(table: BaseModel, prefix: str, given: frozenset[str]) -> Iterator[Row]:
    for name, info in type(table).model_fields.items():
        key = f"{prefix}.{name}" if prefix else name
        value = getattr(table, name)
        if isinstance(value, BaseModel):
            yield from _rows(value, key, given)
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            for index, item in enumerate(value):
                yield from _rows(item, f"{key}[{index}]", given)
        else:
            units = [note.unit for note in info.metadata if isinstance(note, Quantity)]
            unit = units[0] if units and not isinstance(value, str) else ""
            yield Row(key, value, unit, _origin(key, given))


def _origin(key: str, given: frozenset[str]) -> str:
    if "sheet.material" in given and key.startswith("sheet.material."):
        return "library"
    parts = key.split(".")
    above = {".".join(parts[:count]) for count in range(1, len(parts) + 1)}
    if above & given:
        return "given"
    if key.startswith("sheet.material."):
        if "sheet.material.card" in given:
            return "card"
        if "sheet.material.base" in given:
            return "library"
    return "default"
