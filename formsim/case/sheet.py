"""The sheet of a case: its thickness, its metal and the size of the flat blank."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field

from formsim.case.base import DIAMETER, OPEN_DIAMETER, THICKNESS, Table
from formsim.case.card import MaterialCard
from formsim.case.card_file import resolve


class Blank(Table):
    """Sizes of the flat blank: thickness, outer diameter, optional centre hole.

    Where a case starts from a tube or cup, the diameter is that of a disc of the same area.
    """

    thickness: Annotated[float, THICKNESS]
    blank_diameter: Annotated[float, DIAMETER]
    hole_diameter: Annotated[float, OPEN_DIAMETER] = 0.0


class Sheet(Blank):
    """The flat blank and the metal it is cut from."""

    material: Annotated[MaterialCard, BeforeValidator(resolve)] = Field(
        description="a library name in quotes, or a table [sheet.material], which may start from a"
        " card file (card) or a library material (base)"
    )
