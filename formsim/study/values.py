"""Values of inputs as a table shows them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from formsim.case.units import UNITS, base_unit, split_text, to_base


def in_unit(value: Any, unit: str) -> float | None:
    """A number, plain or a text with a unit, in the unit of its column."""
    if isinstance(value, int | float):
        return float(value)
    try:
        number, own = split_text(str(value))
        return to_base(number, own, next(one for one in UNITS if base_unit(one) == unit))
    except (ValueError, StopIteration):
        return None


def named(value: Any) -> Any:
    """A value as a row shows it: a table by its name."""
    return value.get("name", "a table") if isinstance(value, Mapping) else value


def head_of(name: str, unit: str) -> str:
    """Head of a column: a name with its unit."""
    return f"{name} [{unit}]" if unit else name


def name_and_unit(head: str) -> tuple[str, str]:
    """Name and unit of a column from its head."""
    name, _, unit = head.partition(" [")
    return name, unit.removesuffix("]")
