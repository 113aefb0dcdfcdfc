"""What a card keeps of the tests behind it: sheet, test piece, and values with their scatter."""

from __future__ import annotations

from typing import Annotated

from formsim.case.base import LENGTH, THICKNESS, Table
from formsim.case.quantity import Count, Quantity

REPEATS = Count("a number of repeats", 1, 1000)
STRESS = Quantity("a stress", "stress", 1.0, 5_000.0)
UNIFORM = Quantity("a plastic strain at the largest force in per cent", "percent", 0.0, 100.0)
HARDENING = Quantity("a hardening exponent", "ratio", -2.0, 2.0)
STRAIN_PERCENT = Quantity("a plastic strain in per cent", "percent", 0.0, 100.0)
SPREAD = Quantity("a standard deviation", "ratio", 0.0, 1_000.0)
DIRECTION = Quantity("an angle to the rolling direction", "angle", 0.0, 90.0)


class TestedStress(Table):
    """A stress [MPa]."""

    mean: Annotated[float, STRESS]
    deviation: Annotated[float | None, SPREAD] = None


class TestedStrain(Table):
    """Plastic strain at the largest force [%]."""

    mean: Annotated[float, UNIFORM]
    deviation: Annotated[float | None, SPREAD] = None


class TestedExponent(Table):
    """Exponent n between two plastic strains ``low_percent`` and ``high_percent`` [%]."""

    mean: Annotated[float, HARDENING]
    deviation: Annotated[float | None, SPREAD] = None
    low_percent: Annotated[float, STRAIN_PERCENT]
    high_percent: Annotated[float, STRAIN_PERCENT]


class Tested(Table):
    """The tests a flow curve was fitted to; nothing is computed with it.

    Values after ISO 6892-1 (``proof_strength`` Rp0.2, ``tensile_strength`` Rm, ``uniform_percent``
    Ag) and ISO 10275 (``hardening_exponent`` n).
    """

    repeats: Annotated[int, REPEATS]
    angle: Annotated[float | None, DIRECTION] = None
    thickness: Annotated[float | None, THICKNESS] = None
    gauge_length: Annotated[float | None, LENGTH] = None
    width: Annotated[float | None, LENGTH] = None
    proof_strength: TestedStress | None = None
    tensile_strength: TestedStress | None = None
    uniform_percent: TestedStrain | None = None
    hardening_exponent: TestedExponent | None = None
