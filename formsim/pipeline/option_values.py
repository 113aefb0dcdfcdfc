"""Values of options: numbers in their bands, and options that would do nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic_core import PydanticCustomError

from formsim.case.quantity import Quantity
from formsim.errors import Fault


def option_of(name: str) -> str:
    """An option as it is typed, by its name among the values."""
    return f"--{name.replace('_', '-')}"


def number_of(
    quantity: Quantity, option: str, raw: str | None, faults: list[Fault]
) -> float | None:
    """A number of an option, plain or with its unit, within the band of its quantity.

    None where there is none, or a fault that was added to the list.
    """
    if raw is None:
        return None
    try:
        plain: float | str = float(raw)
    except ValueError:
        plain = raw
    try:
        return float(quantity.read(plain))
    except PydanticCustomError as error:
        faults.append(Fault(option, raw, error.message()))
        return None


def idle_options(options: Mapping[str, Any], instead: Mapping[str, str]) -> list[Fault]:
    """A fault for every option that was given and would do nothing.

    Parameters
    ----------
    options : values of all options, by name
    instead : by name of an option, why it does nothing and what to do instead, in words
    """
    found = []
    for name, words in instead.items():
        value = options.get(name)
        if value is None or value is False or value in ("", []):
            continue
        found.append(Fault(option_of(name), _shown(value), words))
    return found


def _shown(value: Any) -> str:
    """A value as it was typed; nothing for a mere switch."""
    if value is True:
        return ""
    if isinstance(value, list):
        return " ".join(_shown(one) for one in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
