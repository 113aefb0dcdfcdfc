"""What a case starts from when it is no flat blank: a tube, a cup, or a finished result."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from formsim.case.base import DIAMETER, LENGTH, RADIUS, Table
from formsim.case.sheet import Blank
from formsim.case.stage import StageName
from formsim.errors import Fault


class Tube(Table):
    """Thin tube standing on its lower end; ``diameter`` is that of its outside."""

    kind: Literal["tube"]
    diameter: Annotated[float, DIAMETER]
    length: Annotated[float, LENGTH]


class Cup(Table):
    """Cup of even thickness with a flat base.

    ``diameter`` and ``height`` are those of its outside, ``corner_radius`` that of the inside.
    """

    kind: Literal["cup"]
    diameter: Annotated[float, DIAMETER]
    corner_radius: Annotated[float, RADIUS]
    height: Annotated[float, LENGTH]


class Result(Table):
    """The body an earlier run has made, with its thickness, hardening and residual stress.

    ``result`` is the folder of that run, relative to the case file; ``after`` the name of the stage
    to go on from, when left out the last one whose body is passed on.
    """

    kind: Literal["result"]
    result: Annotated[
        str,
        StringConstraints(min_length=1, max_length=2000),
        Field(description="the folder of a finished result in quotes"),
    ]
    after: StageName | None = None


Start = Annotated[Tube | Cup | Result, Field(discriminator="kind")]


def equal_disc(start: Tube | Cup, thickness: float) -> float:
    """Diameter of the flat disc that has the area of the middle of a tube or cup [mm]."""
    radius = 0.5 * (start.diameter - thickness)
    if isinstance(start, Tube):
        return math.sqrt(8.0 * radius * start.length)
    corner = start.corner_radius + 0.5 * thickness
    flat, wall = radius - corner, start.height - 0.5 * thickness - corner
    nose = 2.0 * (0.5 * math.pi * flat * corner + corner**2)
    return 2.0 * math.sqrt(flat**2 + nose + 2.0 * radius * wall)


def start_faults(start: Tube | Cup, sheet: Blank) -> Iterator[Fault]:
    """Misfits of a tube or cup with its thickness, and blank sizes it has no use for."""
    t = sheet.thickness
    if 10.0 * t > start.diameter:
        yield Fault(
            "start.diameter",
            f"{start.diameter:g}",
            f"too narrow for sheet of {t:g} mm: expected more than ten thicknesses",
        )
        return
    if isinstance(start, Cup):
        yield from _corner_faults(start, t)
    if sheet.hole_diameter > 0.0:
        yield Fault(
            "sheet.hole_diameter",
            f"{sheet.hole_diameter:g}",
            f"belongs to a flat blank; this case starts from a {start.kind}",
        )
    if isinstance(start, Tube) or start.height > t + start.corner_radius:
        yield from _disc_faults(start, sheet)


def _corner_faults(cup: Cup, thickness: float) -> Iterator[Fault]:
    widest, least = 0.5 * cup.diameter - thickness, thickness + cup.corner_radius
    if cup.corner_radius >= widest:
        yield Fault(
            "start.corner_radius",
            f"{cup.corner_radius:g}",
            f"too large for this cup: expected less than {widest:g} mm",
        )
    elif cup.height <= least:
        yield Fault(
            "start.height",
            f"{cup.height:g}",
            f"leaves no wall above the corner: expected more than {least:g} mm",
        )


def _disc_faults(start: Tube | Cup, sheet: Blank) -> Iterator[Fault]:
    disc = equal_disc(start, sheet.thickness)
    if not math.isclose(sheet.blank_diameter, disc, rel_tol=1e-9):
        yield Fault(
            "sheet.blank_diameter",
            f"{sheet.blank_diameter:g}",
            f"belongs to a flat blank; this case starts from a {start.kind}, so leave it out",
        )
