"""The tools of a case: dimensions of punches, dies, holders, rings and pilots."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import model_validator

from formsim.case.base import (
    ANGLE,
    DEPTH,
    DIAMETER,
    FORCE,
    GAP,
    LARGE_RADIUS,
    LENGTH,
    RADIUS,
    Table,
)
from formsim.case.drawing import Drawing
from formsim.case.quantity import refuse


class ToolTable(Table):
    """Dimensions of a tool; ``outline`` replaces the shape made from them by a drawn one.

    The dimensions stay: checks, zones and theory use them.
    """

    outline: Drawing | None = None


class NoseRing(Table):
    """Rounded ring at the end of a tapered punch nose.

    ``diameter`` is that of the ring's lowest circle, ``radius`` that of its round,
    ``height`` how far the corner of wall and taper lies above the lowest circle.
    """

    diameter: Annotated[float, DIAMETER]
    radius: Annotated[float, RADIUS]
    height: Annotated[float, LENGTH]


class Cavity(Table):
    """Hollow in the punch end that takes the dome; a nose ring replaces diameter and radius."""

    depth: Annotated[float, DEPTH]
    diameter: Annotated[float | None, DIAMETER] = None
    radius: Annotated[float | None, RADIUS] = None


class Step(Table):
    """Thinner part of a punch: from ``height`` above its lowest point up it has ``diameter``.

    The wall ironed over it comes out thicker; ``length`` is that of the cone between.
    """

    height: Annotated[float, LENGTH]
    diameter: Annotated[float, DIAMETER]
    length: Annotated[float, LENGTH] = 5.0


class Punch(ToolTable):
    """Punch; a nose radius of half the diameter makes it hemispherical."""

    diameter: Annotated[float, DIAMETER]
    nose_radius: Annotated[float, RADIUS]
    step: Step | None = None
    nose_ring: NoseRing | None = None
    cavity: Cavity | None = None

    @model_validator(mode="after")
    def _step_is_narrower(self) -> Self:
        if self.step is not None and self.step.diameter >= self.diameter:
            refuse("the step of a punch makes it narrower: its diameter must be less")
        return self

    @model_validator(mode="after")
    def _cavity_is_complete(self) -> Self:
        cavity = self.cavity
        if cavity is None:
            return self
        sizes = (cavity.diameter, cavity.radius)
        if self.nose_ring is None and None in sizes:
            refuse("cavity needs diameter, radius and depth unless the punch has a nose_ring")
        if self.nose_ring is not None and sizes != (None, None):
            refuse(
                "with a nose_ring, cavity takes only depth: the ring sets its diameter and radius"
            )
        return self


class DrawDie(ToolTable):
    """Drawing die: profile radius, gap per side to the punch, land below, then relief."""

    radius: Annotated[float, RADIUS]
    clearance: Annotated[float, GAP]
    land: Annotated[float, LENGTH] = 3.0
    relief: Annotated[float, LENGTH] = 0.6

    def opening(self, punch: Punch) -> float:
        """Diameter of the opening around a punch [mm]."""
        return punch.diameter + 2.0 * self.clearance


class Holder(ToolTable):
    """Blank holder, pressed by a force or standing at a fixed gap.

    ``clearance`` is the gap per side between punch and holder bore, ``edge_radius``
    the round at the edge of that bore.
    """

    force: Annotated[float | None, FORCE] = None
    gap: Annotated[float | None, GAP] = None
    max_force: Annotated[float | None, FORCE] = None
    edge_radius: Annotated[float, RADIUS] = 1.5
    clearance: Annotated[float, GAP] = 0.6

    @model_validator(mode="after")
    def _one_control(self) -> Self:
        _check_control(self.force, self.gap)
        if self.max_force is not None and self.gap is None:
            refuse("max_force limits a holder at a fixed gap; give it together with gap")
        return self


class DomeTool(ToolTable):
    """Dome tool: spherical crown, rounded shoulder, outer diameter."""

    crown_radius: Annotated[float, LARGE_RADIUS]
    shoulder_radius: Annotated[float, RADIUS]
    diameter: Annotated[float, DIAMETER]


class Clamp(ToolTable):
    """Clamp ring that holds the nose of the cup against the punch, by force or fixed gap."""

    force: Annotated[float | None, FORCE] = None
    gap: Annotated[float | None, GAP] = None
    inner_diameter: Annotated[float | None, DIAMETER] = None
    outer_diameter: Annotated[float | None, DIAMETER] = None

    @model_validator(mode="after")
    def _one_control(self) -> Self:
        _check_control(self.force, self.gap)
        return self


class StretchDie(ToolTable):
    """Die ring of a stretching stage: profile radius and diameter of its opening."""

    radius: Annotated[float, RADIUS]
    opening_diameter: Annotated[float, DIAMETER]


class RedrawDie(DrawDie):
    """Redrawing die; a reverse one is a ring inside the cup, with an outer diameter and edge."""

    outer_diameter: Annotated[float | None, DIAMETER] = None
    outer_radius: Annotated[float | None, RADIUS] = None


class Sleeve(Holder):
    """Redraw sleeve inside the cup: a holder with an outer diameter and a rounded corner."""

    diameter: Annotated[float, DIAMETER]
    corner_radius: Annotated[float, RADIUS]


class Ring(ToolTable):
    """Ironing ring: entry cone, land, exit cone, the corners between them rounded.

    ``spacing`` is the way from the land of the tool before it in the stroke to its own.
    """

    bore: Annotated[float, DIAMETER]
    entry_angle: Annotated[float, ANGLE] = 8.0
    land: Annotated[float, LENGTH] = 0.5
    exit_angle: Annotated[float, ANGLE] = 5.0
    entry_radius: Annotated[float, RADIUS] = 1.0
    spacing: Annotated[float | None, LENGTH] = None


class NeckDie(ToolTable):
    """Necking die: the wall enters at the body, runs down an entry arc, a cone and a throat arc.

    ``diameter`` is that of the throat and of the neck's outside; ``land`` the cylinder behind it.
    """

    diameter: Annotated[float, DIAMETER]
    angle: Annotated[float, ANGLE] = 30.0
    entry_radius: Annotated[float, RADIUS] = 4.0
    throat_radius: Annotated[float, RADIUS] = 3.0
    land: Annotated[float, LENGTH] = 3.0


class Pilot(ToolTable):
    """Pilot inside a neck; ``clearance`` is its gap per side to the die throat."""

    clearance: Annotated[float, GAP]
    edge_radius: Annotated[float, RADIUS] = 0.5


class FlangeTool(ToolTable):
    """Flaring tool: a pilot that enters the neck and a round that turns the rim outwards.

    ``angle`` is the slope of the face behind the round, 90 degrees for a flat flange.
    """

    diameter: Annotated[float, DIAMETER]
    radius: Annotated[float, RADIUS]
    angle: Annotated[float, ANGLE] = 90.0


def _check_control(force: float | None, gap: float | None) -> None:
    if (force is None) == (gap is None):
        refuse("expected exactly one of force and gap")


def smallest_gap(punch: Punch, rings: tuple[Ring, ...]) -> float:
    """Gap per side between the punch and the tightest ring [mm]."""
    return min(0.5 * (ring.bore - punch.diameter) for ring in rings)
