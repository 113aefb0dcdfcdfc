"""Field types of the schema: numbers with a dimension, a unit and a plausibility band."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, LiteralString, NoReturn, get_args

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from formsim.case.units import base_unit, fitting_units, split_text, to_base

REFUSED: LiteralString = "formsim"
"""Error type of every refusal; its text is ready to show."""

_TEMPLATE: LiteralString = "{text}"


def refuse(text: str) -> NoReturn:
    """Refuse one value of the file, with a text meant for the reader of the file."""
    raise PydanticCustomError(REFUSED, _TEMPLATE, {"text": text})


def neat(number: float) -> str:
    """Short text of a number; large whole ones in groups of three digits."""
    if abs(number) >= 1.0e5 and number == int(number):
        return f"{number:,.0f}".replace(",", " ")
    return f"{number:g}"


@dataclass(frozen=True)
class Quantity:
    """Annotation of a number that may be written plain or as text with a unit.

    Attributes
    ----------
    what : the quantity in words, with its article, such as ``a thickness``
    dimension : key of ``units.UNITS``; plain numbers are read in its base unit
    low, high : plausibility band in the base unit, ends included
    word : a text accepted in place of a number; empty for none
    """

    what: str
    dimension: str
    low: float
    high: float
    word: str = ""

    @property
    def unit(self) -> str:
        """Unit of the value after reading."""
        return base_unit(self.dimension)

    @property
    def expected(self) -> str:
        """What the file should say, in words."""
        unit = f" {self.unit}" if self.unit else ""
        word = f', or "{self.word}"' if self.word else ""
        if math.isinf(self.high):
            return f"expected {self.what}{' in' if unit else ''}{unit}{word}"
        return f"expected {self.what} from {neat(self.low)} to {neat(self.high)}{unit}{word}"

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return _nullable_as(source, core_schema.no_info_plain_validator_function(self.read))

    def read(self, raw: object) -> float | str:
        """Read a plain number or a text with a unit; the result is in the base unit."""
        if isinstance(raw, str):
            if self.word and raw.strip() == self.word:
                return self.word
            return self._within(*self._from_text(raw), plain=False)
        if isinstance(raw, bool) or not isinstance(raw, int | float):
            refuse(f"{self.expected}; this is not a number")
        value = _as_float(raw)
        return self._within(value, value, plain=True)

    def _from_text(self, text: str) -> tuple[float, float]:
        """Value in the base unit, and the number as it stands in the text."""
        try:
            number, unit = split_text(text)
            value = to_base(number, unit, self.dimension)
        except ValueError as error:
            if self.word and text.strip()[:1].isalpha():
                refuse(f'{self.expected}; did you mean "{self.word}"?')
            refuse(f"{self.expected}; {error}")
        return value, number

    def _within(self, value: float, number: float, *, plain: bool) -> float:
        if not math.isfinite(value):
            refuse(f"{self.expected}; it must be a finite number")
        if self.low <= value <= self.high:
            return value
        if value < 0.0 <= self.low:
            refuse(f"{self.expected}; it cannot be negative")
        refuse(f"{self.expected}{self._advice(number, plain=plain)}")

    def _advice(self, number: float, *, plain: bool) -> str:
        units = fitting_units(number, self.dimension, self.low, self.high)
        if not units:
            return "; a plain number is read in " + self.unit if plain and self.unit else ""
        meant = "did you mean " + " or ".join(f'"{number:g} {unit}"' for unit in units[:2]) + "?"
        if not plain:
            return f"; {meant}"
        read_as = f"read in {self.unit}" if self.unit else "a fraction of 1"
        return f"; a plain number is {read_as}; {meant}"


@dataclass(frozen=True)
class Count:
    """Annotation of a whole number.

    Attributes
    ----------
    what : the count in words, with its article
    low, high : allowed range, ends included
    """

    what: str
    low: int
    high: int
    unit: str = ""

    @property
    def expected(self) -> str:
        """What the file should say, in words."""
        return f"expected {self.what} from {neat(self.low)} to {neat(self.high)}"

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return _nullable_as(source, core_schema.no_info_plain_validator_function(self.read))

    def read(self, raw: object) -> int:
        """Read a whole number in the allowed range."""
        if isinstance(raw, bool) or not isinstance(raw, int):
            refuse(f"{self.expected}; this is not a whole number")
        if not self.low <= raw <= self.high:
            refuse(self.expected)
        return raw


def _nullable_as(source: Any, schema: CoreSchema) -> CoreSchema:
    optional = type(None) in get_args(source)
    return core_schema.nullable_schema(schema) if optional else schema


def _as_float(number: float) -> float:
    try:
        return float(number)
    except OverflowError:
        return math.inf if number > 0 else -math.inf
