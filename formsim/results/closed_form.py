"""A textbook number beside the simulated one, and what a reader should know where they differ."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from formsim.errors import TheoryRangeError

FAR = 0.3
"""Difference over the closed form beyond which a row says what its formula leaves out."""

IDEAL = "friction and bending"
ONE_THICKNESS = "any change of thickness on the way"

LIMIT = "a limit, no forecast: the simulated value lies below it where all is well"
ADVICE = "a recommendation, no forecast: the simulated value follows from what the case asks for"


@dataclass(frozen=True)
class Row:
    """A closed form to be compared.

    Attributes
    ----------
    name : quantity, with the stage
    unit : of both numbers, empty for a ratio
    formula : closed form; it raises TheoryRangeError when asked outside its range
    simulated : the same from the simulation; None when it has no such number
    source : of the closed form
    leaves_out : what the formula does not know
    says : what the closed form is for the simulated number
    """

    name: str
    unit: str
    formula: Callable[[], float]
    simulated: float | None
    source: str
    leaves_out: str = ""
    says: Literal["forecast", "limit", "advice"] = "forecast"


@dataclass(frozen=True)
class Estimate:
    """A closed-form number and the simulated one.

    Attributes
    ----------
    name : quantity, with the stage
    theory : closed form in ``unit``; None when asked outside its range
    simulated : in ``unit``; None when the simulation has no such number
    unit, source : of the closed form
    note : why there is no number
    remark : why both numbers need not agree; empty where they do and should
    """

    name: str
    theory: float | None
    simulated: float | None
    unit: str
    source: str
    note: str = ""
    remark: str = ""


def estimate(row: Row) -> Estimate:
    """Work out a closed form, or say why it cannot be."""
    try:
        theory = float(row.formula())
    except TheoryRangeError as error:
        return Estimate(row.name, None, row.simulated, row.unit, row.source, str(error))
    remark = _remark(row, theory)
    return Estimate(row.name, theory, row.simulated, row.unit, row.source, remark=remark)


def _remark(row: Row, theory: float) -> str:
    if row.says != "forecast":
        return LIMIT if row.says == "limit" else ADVICE
    if row.simulated is None or abs(row.simulated - theory) <= FAR * abs(theory):
        return ""
    return f"the formula leaves out {row.leaves_out}" if row.leaves_out else ""
