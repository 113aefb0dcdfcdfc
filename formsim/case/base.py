"""The one base of all tables of a case file, and the field types they share."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, StringConstraints

from formsim.case.quantity import Quantity


class Table(BaseModel):
    """A table of the case file: frozen, and closed to keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


LONGEST = 2000
"""Most characters of a text."""

Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=LONGEST)]
NAME = r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,59}$"
Name = Annotated[str, StringConstraints(pattern=NAME)]

THICKNESS = Quantity("a thickness", "length", 0.02, 20.0)
DIAMETER = Quantity("a diameter", "length", 1.0, 10_000.0)
OPEN_DIAMETER = Quantity("a diameter (0 for none)", "length", 0.0, 10_000.0)
RADIUS = Quantity("a radius", "length", 0.05, 5_000.0)
LARGE_RADIUS = Quantity("a radius", "length", 0.5, 50_000.0)
GAP = Quantity("a gap", "length", 0.02, 100.0)
LENGTH = Quantity("a length", "length", 0.01, 5_000.0)
DEPTH = Quantity("a depth", "length", 0.01, 5_000.0)
FORCE = Quantity("a force", "force", 10.0, 1.0e8)
PRESSURE = Quantity("a pressure", "stress", 0.0, 1_000.0)
FRICTION = Quantity("a friction coefficient", "ratio", 0.0, 1.0)
ANGLE = Quantity("an angle", "angle", 0.1, 120.0)
FACTOR = Quantity("a factor of the yield stress", "ratio", 0.2, 1.0)
TEMPERATURE = Quantity("a temperature", "temperature", 20.0, 600.0)
TIME = Quantity("a time", "time", 1.0, 1.0e6)
