"""An outline of a tool taken from a drawing: which file, which layer, in which unit."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, PlainSerializer, PlainValidator, StringConstraints
from pydantic_core.core_schema import ValidationInfo

from formsim.case.base import Table
from formsim.case.named_file import NamedFile, dumped_file, named_file
from formsim.case.quantity import Quantity

LARGEST = 20_000_000
"""Largest drawing accepted [bytes]."""

TOLERANCE = Quantity("a gap tolerance", "length", 0.0, 1.0)
_KNOWN = 'expected the name of a DXF file such as "punch.dxf", relative to the case file'


def read_drawing(raw: Any, info: ValidationInfo) -> NamedFile:
    """Find a drawing beside its case file and take the digest of what is in it."""
    return named_file(raw, info, _KNOWN, LARGEST, "dxf")


class Drawing(Table):
    """Outline of a tool in a DXF drawing: x is the radius, y the height, in mm or ``unit``.

    Ends up to ``gap_tolerance`` apart are joined.
    """

    file: Annotated[
        NamedFile,
        PlainValidator(read_drawing),
        PlainSerializer(dumped_file),
        Field(description="the name of a DXF file"),
    ]
    layer: Annotated[str, StringConstraints(min_length=1, max_length=255)]
    unit: Literal["mm", "cm", "m", "inch", "in"] | None = None
    gap_tolerance: Annotated[float, TOLERANCE] = 0.01
