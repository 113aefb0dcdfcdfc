"""Numbers, bounds and counts as people read them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

KINKED = "by volume, as the sheet is kinked there and its normal measures nothing"
"""How a smallest thickness was measured in a torn or folded place."""


def number(value: object) -> str:
    """Number with four digits, or all before the point; a dash for none."""
    if value is None:
        return "-"
    if not isinstance(value, int | float):
        return str(value)
    return f"{value:.0f}" if 1e3 <= abs(value) < 1e9 else f"{value:.4g}"


def apart(value: float, bound: float) -> str:
    """A value beyond a bound with as many digits as tell it from the bound, four at least."""
    for digits in range(4, 12):
        shown = f"{value:.{digits}g}"
        if shown != f"{bound:.{digits}g}":
            return shown
    return f"{value:.12g}"


def counted(count: int, what: str) -> str:
    """Count with its noun, such as ``1 limit`` or ``2 limits``."""
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def wanted(check: Mapping[str, Any]) -> str:
    """What a check wanted, with its unit: at most, at least, from to.

    A result of an earlier version has no bounds but a tolerance.
    """
    if "low" in check:
        low, high = check["low"], check["high"]
    else:
        middle, half = check["expected"], check["tolerance"]
        low, high = middle - half, middle + half
    unit = f" {check['unit']}" if check.get("unit") else ""
    if high is None:
        return "-" if low is None else f"at least {number(low)}{unit}"
    if low is None or (low == -high and _never_negative(check)):
        return f"at most {number(high)}{unit}"
    return f"{number(low)} to {number(high)}{unit}"


def _never_negative(check: Mapping[str, Any]) -> bool:
    """Changes and balances have a sign, residuals and differences have not."""
    name = str(check["name"])
    return not any(word in name for word in ("change of", "not found"))
