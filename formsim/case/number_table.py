"""A text file of columns of numbers: separators, decimal commas, header and units."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.case.units import known_unit
from formsim.errors import CaseError, Fault

SHOWN = 6
"""Faulty lines that are told one by one."""

NO_NUMBER = "is no number: put # before the line to leave it out"

_COMMENT = ("#", "//")
_SEPARATORS = (";", "\t", ",", None)
_POINT = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?")


@dataclass(frozen=True)
class NumberTable:
    """Numbers of a file.

    Attributes
    ----------
    headers : names of the columns
    units : of a row of units, None where there is none
    values : (rows, columns), NaN where a field is empty
    lines : line of the file of every row, (rows)
    above : fields of the lines above the header
    """

    headers: tuple[str, ...]
    units: tuple[str | None, ...]
    values: Floats
    lines: Ints
    above: tuple[tuple[str, ...], ...]


def number_table(data: bytes, name: str) -> NumberTable:
    """Columns of a file: comma, semicolon, tab or spaces between them.

    Decimal commas, comment lines (# or //), lines above the header and a row of units are
    understood.

    Raises
    ------
    CaseError : with the lines that cannot be read
    """
    lines = [
        (number, line.strip())
        for number, line in enumerate(_decoded(data).splitlines(), start=1)
        if line.strip() and not line.strip().startswith(_COMMENT)
    ]
    separator = _separator([line for _, line in lines])
    fields = _trimmed([(number, _split(line, separator)) for number, line in lines])
    decimal = _COMMA if _has_commas(fields, separator) else _POINT
    first = next((k for k, (_, row) in enumerate(fields) if _is_numeric(row, decimal)), None)
    if first is None:
        message = "no row of at least two numbers; expected columns with a header above them"
        raise CaseError(name, [Fault("file", "", message)])
    body = fields[first:]
    width = len(body[0][1])
    above = [row for _, row in fields[:first]]
    wrong = _wrong_header(above, width, separator)
    headers, units, used = _heads([] if wrong else above, width, separator)
    faults = [*wrong, *_row_faults(body, headers, decimal)]
    if faults:
        raise CaseError(name, faults)
    return NumberTable(
        headers,
        units,
        np.array([[_number(field) for field in row] for _, row in body]),
        np.array([number for number, _ in body]),
        tuple(tuple(row) for row in above[: len(above) - used]),
    )


def _decoded(data: bytes) -> str:
    """Text of a file; that of older Windows programs where it is not Unicode."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _separator(lines: Sequence[str]) -> str | None:
    """What stands between columns: that which makes most lines rows of numbers."""

    def rows(separator: str | None) -> int:
        split = (_split(line, separator) for line in lines)
        either = (_POINT,) if separator == "," else (_POINT, _COMMA)
        return sum(any(_is_numeric(row, one) for one in either) for row in split)

    return max(_SEPARATORS, key=rows)


def _split(line: str, separator: str | None) -> list[str]:
    return [field.strip().strip('"').strip() for field in line.split(separator)]


def _trimmed(fields: list[tuple[int, list[str]]]) -> list[tuple[int, list[str]]]:
    """Rows without the empty last field that a separator at the end of every line makes."""
    rows = [row for _, row in fields if _is_numeric(row, _POINT) or _is_numeric(row, _COMMA)]
    if not rows or any(row[-1] for row in rows):
        return fields
    return [(number, row if row[-1] else row[:-1]) for number, row in fields]


def _is_numeric(row: Sequence[str], decimal: re.Pattern[str]) -> bool:
    filled = [field for field in row if field]
    return len(filled) >= 2 and all(decimal.fullmatch(field) for field in filled)


def _has_commas(fields: Sequence[tuple[int, list[str]]], separator: str | None) -> bool:
    if separator == ",":
        return False
    commas, points = (sum(_is_numeric(row, one) for _, row in fields) for one in (_COMMA, _POINT))
    return commas > points


def _row_faults(
    body: Sequence[tuple[int, list[str]]], headers: Sequence[str], decimal: re.Pattern[str]
) -> list[Fault]:
    faults, width = list[Fault](), len(headers)
    for number, row in body:
        strange = [k for k, field in enumerate(row) if field and not decimal.fullmatch(field)]
        if strange:
            also = _COMMA if decimal is _POINT else _POINT
            mixed = all(also.fullmatch(row[k]) for k in strange)
            why = "decimal points and decimal commas in one file" if mixed else NO_NUMBER
            place = _place(headers, strange[0])
            faults.append(Fault(place, row[strange[0]][:30], why, number))
        elif len(row) != width:
            faults.append(Fault("row", "", f"has {len(row)} fields, the first has {width}", number))
    if len(faults) > SHOWN:
        more = len(faults) - SHOWN
        return [*faults[:SHOWN], Fault("row", "", f"and {more} more lines that cannot be read")]
    return faults


def _place(headers: Sequence[str], index: int) -> str:
    """Column by number and header."""
    named = index < len(headers) and headers[index] != f"column {index + 1}"
    return f"column {index + 1}" + (f' "{headers[index]}"' if named else "")


def _number(field: str) -> float:
    return float(field.replace(",", ".")) if field else float("nan")


def _wrong_header(above: Sequence[list[str]], width: int, separator: str | None) -> list[Fault]:
    """A header that has other columns than the numbers below it."""
    if not above or separator is None or len(above[-1]) == width:
        return []
    if separator == "," and 2 * len(above[-1]) == width:
        why = (
            "decimal commas and commas between columns cannot be told apart: save the file with"
            " semicolons, or with decimal points"
        )
    else:
        why = f"the header has {len(above[-1])} columns and the rows have {width}"
    return [Fault("header", "", why)]


def _heads(
    above: Sequence[list[str]], width: int, separator: str | None
) -> tuple[tuple[str, ...], tuple[str | None, ...], int]:
    """Headers and units from the lines above the numbers, and how many lines these took."""
    nothing: tuple[str | None, ...] = (None,) * width
    if not above or (len(above[-1]) != width and separator is None):
        return tuple(f"column {k}" for k in range(1, width + 1)), nothing, 0
    last = above[-1]
    units = tuple(_unit(field) if field else None for field in last)
    if len(above) > 1 and len(above[-2]) == width and _are_units(units, last, above[-2]):
        return tuple(above[-2]), units, 2
    return tuple(last), nothing, 1


def _are_units(units: Sequence[str | None], row: Sequence[str], names: Sequence[str]) -> bool:
    """Whether a row is one of units: all of them known, or most below a row of names."""
    known = sum(unit is not None for unit in units)
    strange = sum(bool(field) for field in row) - known
    if strange <= 0:
        return True
    plain = not any(_unit(field) or _POINT.fullmatch(field) for field in names)
    return known >= 2 and known > strange and plain


def _unit(field: str) -> str | None:
    return known_unit(field.strip("[]()<> "))
