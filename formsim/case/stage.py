"""The stages of a case: tools with their dimensions, one table per kind of stage."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from formsim.case.base import (
    DEPTH,
    DIAMETER,
    FORCE,
    FRICTION,
    GAP,
    LARGE_RADIUS,
    LENGTH,
    RADIUS,
    Table,
)
from formsim.case.quantity import Quantity, refuse

STROKE = Quantity("a stroke", "length", 0.01, 5_000.0, word="through")
StageName = Annotated[str, Field(pattern=r"^([A-Za-z0-9][A-Za-z0-9_-]{0,39})?$")]

TYPICAL_FRICTION = 0.08
"""Default friction, inside the 0.05 to 0.10 of lubricated aluminium drawing (read)."""


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


class Punch(Table):
    """Punch; a nose radius of half the diameter makes it hemispherical."""

    diameter: Annotated[float, DIAMETER]
    nose_radius: Annotated[float, RADIUS]
    nose_ring: NoseRing | None = None
    cavity: Cavity | None = None

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


class DrawDie(Table):
    """Drawing die: profile radius, gap per side to the punch, land below, then relief."""

    radius: Annotated[float, RADIUS]
    clearance: Annotated[float, GAP]
    land: Annotated[float, LENGTH] = 3.0
    relief: Annotated[float, LENGTH] = 0.6


class Holder(Table):
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


class DomeTool(Table):
    """Dome tool: spherical crown, rounded shoulder, outer diameter."""

    crown_radius: Annotated[float, LARGE_RADIUS]
    shoulder_radius: Annotated[float, RADIUS]
    diameter: Annotated[float, DIAMETER]


class Clamp(Table):
    """Clamp ring that holds the nose of the cup against the punch, by force or fixed gap."""

    force: Annotated[float | None, FORCE] = None
    gap: Annotated[float | None, GAP] = None
    inner_diameter: Annotated[float | None, DIAMETER] = None
    outer_diameter: Annotated[float | None, DIAMETER] = None

    @model_validator(mode="after")
    def _one_control(self) -> Self:
        _check_control(self.force, self.gap)
        return self


class StretchDie(Table):
    """Die ring of a stretching stage: profile radius and diameter of its opening."""

    radius: Annotated[float, RADIUS]
    opening_diameter: Annotated[float, DIAMETER]


class _Friction(Table):
    @model_validator(mode="before")
    @classmethod
    def _same_for_all(cls, raw: Any) -> Any:
        if isinstance(raw, Mapping | _Friction):
            return raw
        return dict.fromkeys(cls.model_fields, raw)


class DrawFriction(_Friction):
    """Coulomb friction at each tool of a draw; one number in the file means all of them."""

    punch: Annotated[float, FRICTION] = TYPICAL_FRICTION
    die: Annotated[float, FRICTION] = TYPICAL_FRICTION
    holder: Annotated[float, FRICTION] = TYPICAL_FRICTION


class DomeFriction(_Friction):
    """Coulomb friction at each tool of a dome stage."""

    punch: Annotated[float, FRICTION] = TYPICAL_FRICTION
    dome: Annotated[float, FRICTION] = TYPICAL_FRICTION
    clamp: Annotated[float, FRICTION] = TYPICAL_FRICTION


class StretchFriction(_Friction):
    """Coulomb friction at each tool of a stretching stage."""

    punch: Annotated[float, FRICTION] = TYPICAL_FRICTION
    die: Annotated[float, FRICTION] = TYPICAL_FRICTION


class _Stage(Table):
    name: StageName = ""
    springback: bool = True


class Draw(_Stage):
    """Flat blank drawn into a cup under a holder.

    ``stroke`` is the punch travel from first touch; "through" draws until the rim
    has left the die profile.
    """

    kind: Literal["draw"]
    punch: Punch
    die: DrawDie
    holder: Holder
    friction: DrawFriction = DrawFriction()
    stroke: Annotated[float | Literal["through"], STROKE] = "through"

    @property
    def opening_diameter(self) -> float:
        """Diameter of the die opening [mm]."""
        return self.punch.diameter + 2.0 * self.die.clearance


class Dome(_Stage):
    """Base pressed over a dome tool while the punch nose holds the cup."""

    kind: Literal["dome"]
    punch: Punch
    dome: DomeTool
    depth: Annotated[float, DEPTH]
    clamp: Clamp | None = None
    friction: DomeFriction = DomeFriction()


class Stretch(_Stage):
    """Sheet clamped at a diameter and stretched over a punch."""

    kind: Literal["stretch"]
    punch: Punch
    die: StretchDie
    clamp_diameter: Annotated[float, DIAMETER]
    depth: Annotated[float, DEPTH]
    friction: StretchFriction = StretchFriction()


class Bulge(_Stage):
    """Disc with a sharply clamped edge, bulged by fluid pressure to a pole height."""

    kind: Literal["bulge"]
    diameter: Annotated[float, DIAMETER]
    height: Annotated[float, DEPTH]


Stage = Annotated[Draw | Dome | Stretch | Bulge, Field(discriminator="kind")]


def _check_control(force: float | None, gap: float | None) -> None:
    if (force is None) == (gap is None):
        refuse("expected exactly one of force and gap")
