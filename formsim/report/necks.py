"""Tables of the steps of a necking line, ready for a case file."""

from __future__ import annotations

import math

from formsim.case.tools import NeckDie
from formsim.results.necking import equal_ratio_necks
from formsim.stages.neck import die_angle

GAP = 1.15
"""Gap between pilot and throat in wall thicknesses; common practice, no source."""


def necks_text(
    body: float, neck: float, steps: int, thickness: float, length: float, die: NeckDie
) -> str:
    """Stage tables of a line of dies that each reduce by the same share.

    All dies end at one height of the body, so that each carries the shoulder of the last one on;
    the depth is what the unstretched wall needs for that and a first guess.

    Parameters
    ----------
    body, neck : outer diameters before the first step and behind the last one [mm]
    steps : number of dies
    thickness : of the wall at the rim [mm]
    length : of the finished neck behind its shoulder [mm]
    die : angle, arcs and land that all dies share; its diameter does not count

    Raises
    ------
    FormsimError : these diameters cannot be made
    """
    throats = equal_ratio_necks(body, neck, steps)
    last = die.model_copy(update={"diameter": throats[-1]})
    way = _slant(last, body, neck) + length
    lines = [
        f"# {steps} steps from {body:g} to {neck:g} mm, each {_share(body, neck, steps):.2f} %"
        " narrower than the one before;",
        "# depths are a first guess: all dies end at the same height of the body",
    ]
    before = body
    for throat in throats:
        step = die.model_copy(update={"diameter": throat})
        lines += ["", *_table(step, thickness, way - _slant(step, body, before))]
        before = throat
    return "\n".join(lines)


def _share(body: float, neck: float, steps: int) -> float:
    return float(100.0 * (1.0 - (neck / body) ** (1.0 / steps)))


def _slant(die: NeckDie, body: float, diameter: float) -> float:
    """Way along the cone of a die from the body to a diameter, arcs left out [mm]."""
    return 0.5 * (body - diameter) / math.sin(die_angle(die, 0.5 * body))


def _table(die: NeckDie, thickness: float, depth: float) -> list[str]:
    sizes = (
        f"diameter = {die.diameter:.3f}, angle = {die.angle:g},"
        f" entry_radius = {die.entry_radius:g}, throat_radius = {die.throat_radius:g},"
        f" land = {die.land:g}"
    )
    return [
        "[[stage]]",
        'kind = "neck"',
        f"die = {{ {sizes} }}",
        f"pilot = {{ clearance = {GAP * thickness:.4f} }}",
        f"depth = {depth:.2f}",
    ]
