"""The press of a case: how its ram moves."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import model_validator

from formsim.case.base import LENGTH, Table
from formsim.case.quantity import Quantity, refuse

RATE = Quantity("a stroke rate", "stroke rate", 0.1, 5_000.0)


class RamMotion(Table):
    """Motion of the ram: a crank with its rod, or its limit for a long rod, a harmonic.

    ``stroke`` is the way from top to bottom, ``rod_length`` that between the pins of the rod.
    """

    motion: Literal["crank", "harmonic"]
    stroke: Annotated[float, LENGTH]
    strokes_per_minute: Annotated[float, RATE]
    rod_length: Annotated[float | None, LENGTH] = None

    @model_validator(mode="after")
    def _rod_of_a_crank(self) -> Self:
        if (self.motion == "crank") != (self.rod_length is not None):
            refuse("rod_length belongs to a crank, and a crank needs it")
        if self.rod_length is not None and self.rod_length <= 0.5 * self.stroke:
            refuse("the rod must be longer than the crank, half the stroke")
        return self
