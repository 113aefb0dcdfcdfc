"""How an estimate says it was asked outside its range."""

from __future__ import annotations

from formsim.errors import TheoryRangeError


def require(inside: bool, range_text: str) -> None:
    """Refuse to give a number outside the range of a formula.

    Parameters
    ----------
    inside : whether the inputs lie in the range
    range_text : the range in words, with the offending value
    """
    if not inside:
        raise TheoryRangeError(range_text, hint="No theory value is shown for this quantity.")


def require_positive(**values: float) -> None:
    """Refuse sizes, stresses or forces that are not above zero, by name."""
    for name, value in values.items():
        require(value > 0.0, f"{name.replace('_', ' ')} must be above zero, is {value:g}")
