"""What a trim takes away: height, mass, share of the blank, and whether it clears the rim."""

from __future__ import annotations

from dataclasses import dataclass

from formsim.errors import FormsimError
from formsim.results.record import Line, StageRecord
from formsim.results.shape import height, mass, mass_of, rim
from formsim.stages.sheet import Sheet
from formsim.stages.turn import upright


@dataclass(frozen=True)
class TrimLoss:
    """Metal lost to a trim.

    Attributes
    ----------
    height : cut height above the lowest point of the body, before springback [mm]
    most, least : of the rim above the cut, at its highest and at its lowest point [mm]
    ring_width : width in the flat blank of what is cut off, in the middle of the sheet [mm]
    mass : of the ring [g]
    blank_percent : of the metal of the flat blank [%]
    """

    height: float
    most: float
    least: float
    ring_width: float
    mass: float
    blank_percent: float

    def clears(self, valley: float = 0.0) -> bool:
        """Whether the cut runs below the whole rim.

        Parameters
        ----------
        valley : how far the valleys between the ears lie below the computed rim, which is the
            mean round the circumference [mm]
        """
        return self.least > valley


def trim_loss(line: Line, record: StageRecord) -> TrimLoss:
    """Loss of a trim stage against the sheet it was given.

    Raises
    ------
    FormsimError : the stage is no trim of this line
    """
    number = next((k for k, other in enumerate(line.stages) if other is record), None)
    if record.kind != "trim" or number is None:
        message = f'stage "{record.name}" is no trim of this line, so it loses no metal'
        raise FormsimError(message, hint="ask for the loss of a stage of kind trim")
    before = _received(line, number)
    uncut = rim(before.body, before.state)
    bottom = float(before.state.places(before.body)[:, 1].min())
    density = record.material.density
    lost = mass(before.body, density) - mass(record.body, density)
    cut = height(record.body, record.formed)
    rims = [body.nodes[body.edge_nodes("rim")].mean(axis=0) for body in (before.body, record.body)]
    return TrimLoss(
        height=cut,
        most=uncut.highest - bottom - cut,
        least=uncut.lowest - bottom - cut,
        ring_width=float(((rims[0] - rims[1]) ** 2).sum() ** 0.5),
        mass=lost,
        blank_percent=100.0 * lost / mass_of(line.metal, density),
    )


def _received(line: Line, number: int) -> Sheet:
    """The sheet a stage was given, its base below."""
    if number == 0:
        received = Sheet(line.blank, line.material, line.begin)
        return upright(received)
    earlier = line.stages[number - 1]
    return upright(Sheet(earlier.body, earlier.material, earlier.passed_on))
