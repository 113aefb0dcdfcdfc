"""What is done to a sheet before the tools of a stage meet it: turned over, cut, baked."""

from __future__ import annotations

from dataclasses import replace

from formsim.case.card import MaterialCard
from formsim.case.stage import Bake, Stage, Trim
from formsim.stages.bake import baked
from formsim.stages.cut import cut_square
from formsim.stages.sheet import Sheet
from formsim.stages.turn import upright


def prepare(stage: Stage, sheet: Sheet, card: MaterialCard) -> Sheet:
    """The sheet as the stage receives it: base below, rim above, face ``top`` inside.

    Parameters
    ----------
    card : what the case knows of the metal

    Raises
    ------
    GeometryError : a trim that does not run through the wall
    FormsimError : a cure by time and temperature of metal whose recovery is not known
    """
    sheet = upright(sheet)
    match stage:
        case Trim():
            return cut_square(sheet, stage.height)
        case Bake():
            return replace(sheet, material=baked(stage, sheet.material, card))
        case _:
            return sheet
