"""The stages of a case, one table per kind of stage."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import Field, field_validator, model_validator

from formsim.case.base import (
    DEPTH,
    DIAMETER,
    FACTOR,
    FORCE,
    FRICTION,
    LENGTH,
    PRESSURE,
    TEMPERATURE,
    TIME,
    Table,
)
from formsim.case.quantity import Quantity, refuse
from formsim.case.tools import (
    Clamp,
    DomeTool,
    DrawDie,
    FlangeTool,
    Holder,
    NeckDie,
    Pilot,
    Punch,
    RedrawDie,
    Ring,
    Sleeve,
    StretchDie,
)

SPEED = Quantity("a speed", "speed", 1.0e-4, 1.0e5)
STROKE = Quantity("a stroke", "length", 0.01, 5_000.0, word="through")
StageName = Annotated[str, Field(pattern=r"^([A-Za-z0-9][A-Za-z0-9_-]{0,39})?$")]

TYPICAL_FRICTION = 0.08
"""Default friction, inside the 0.05 to 0.10 of lubricated aluminium drawing (read)."""


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


class RedrawFriction(_Friction):
    """Coulomb friction at each tool of a redraw."""

    punch: Annotated[float, FRICTION] = TYPICAL_FRICTION
    die: Annotated[float, FRICTION] = TYPICAL_FRICTION
    sleeve: Annotated[float, FRICTION] = TYPICAL_FRICTION


class IronFriction(_Friction):
    """Coulomb friction at the punch and at the rings of an ironing stage."""

    punch: Annotated[float, FRICTION] = TYPICAL_FRICTION
    ring: Annotated[float, FRICTION] = TYPICAL_FRICTION


class StrokeFriction(_Friction):
    """Coulomb friction at each tool of a body stroke."""

    punch: Annotated[float, FRICTION] = TYPICAL_FRICTION
    die: Annotated[float, FRICTION] = TYPICAL_FRICTION
    sleeve: Annotated[float, FRICTION] = TYPICAL_FRICTION
    ring: Annotated[float, FRICTION] = TYPICAL_FRICTION
    dome: Annotated[float, FRICTION] = TYPICAL_FRICTION
    clamp: Annotated[float, FRICTION] = TYPICAL_FRICTION


class NeckFriction(_Friction):
    """Coulomb friction at the die and the pilot of a necking step."""

    die: Annotated[float, FRICTION] = TYPICAL_FRICTION
    pilot: Annotated[float, FRICTION] = TYPICAL_FRICTION


class FlangeFriction(_Friction):
    """Coulomb friction at the flaring tool."""

    tool: Annotated[float, FRICTION] = TYPICAL_FRICTION


class _Stage(Table):
    name: StageName = ""
    springback: bool = True


class Formed(_Stage):
    """A stage in which tools or a fluid work the sheet, at a constant speed of its stroke.

    ``speed`` is needed by a material with a rate law and by nothing else. ``warm``: the sheet
    comes with the heat of the stage before instead of cooled down.
    """

    speed: Annotated[float | None, SPEED] = None
    warm: bool = False


class Draw(Formed):
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


class Dome(Formed):
    """Base pressed over a dome tool while the punch nose holds the cup."""

    kind: Literal["dome"]
    punch: Punch
    dome: DomeTool
    depth: Annotated[float, DEPTH]
    clamp: Clamp | None = None
    friction: DomeFriction = DomeFriction()


class Redraw(Formed):
    """Cup drawn into a narrower one, over its inside (direct) or turned inside out (reverse).

    A direct redraw holds the base of the cup with a sleeve inside it; a reverse one pulls it over
    a ring inside the cup and needs none.
    """

    kind: Literal["redraw"]
    direction: Literal["direct", "reverse"] = "direct"
    punch: Punch
    die: RedrawDie
    sleeve: Sleeve | None = None
    friction: RedrawFriction = RedrawFriction()
    stroke: Annotated[float | Literal["through"], STROKE] = "through"

    @model_validator(mode="after")
    def _tools_of_its_direction(self) -> Self:
        outer = (self.die.outer_diameter, self.die.outer_radius)
        if self.direction == "direct" and self.sleeve is None:
            refuse("a direct redraw needs a sleeve inside the cup")
        if self.direction == "direct" and outer != (None, None):
            refuse("outer_diameter and outer_radius belong to the ring of a reverse redraw")
        if self.direction == "reverse" and self.sleeve is not None:
            refuse("a reverse redraw has no sleeve: the cup is held by the ring inside it")
        if self.direction == "reverse" and None in outer:
            refuse("the ring of a reverse redraw needs outer_diameter and outer_radius")
        return self


class Iron(Formed):
    """Wall of a cup squeezed between punch and rings that stand behind each other.

    ``stroke`` is the travel from first touch; "through" irons until the rim has left the last
    ring.
    """

    kind: Literal["iron"]
    punch: Punch
    rings: tuple[Ring, ...] = Field(strict=False)
    friction: IronFriction = IronFriction()
    stroke: Annotated[float | Literal["through"], STROKE] = "through"

    @field_validator("rings")
    @classmethod
    def _has_rings(cls, rings: tuple[Ring, ...]) -> tuple[Ring, ...]:
        return _spaced(rings)


class Stroke(Formed):
    """Redraw, rings and dome in one continuous stroke of one punch.

    The first ring's ``spacing`` is counted from the face of the redraw die. The dome is pressed
    when the rim has left the last ring.
    """

    kind: Literal["stroke"]
    punch: Punch
    die: RedrawDie
    sleeve: Sleeve
    rings: tuple[Ring, ...] = Field(strict=False)
    dome: DomeTool | None = None
    depth: Annotated[float | None, DEPTH] = None
    clamp: Clamp | None = None
    friction: StrokeFriction = StrokeFriction()

    @field_validator("rings")
    @classmethod
    def _has_rings(cls, rings: tuple[Ring, ...]) -> tuple[Ring, ...]:
        if rings and rings[0].spacing is None:
            refuse("the first ring of a stroke needs its spacing from the face of the redraw die")
        return _spaced(rings)

    @model_validator(mode="after")
    def _dome_with_depth(self) -> Self:
        if (self.dome is None) != (self.depth is None):
            refuse("dome and depth belong together")
        if self.clamp is not None and self.dome is None:
            refuse("a clamp without a dome holds nothing")
        return self


class Trim(_Stage):
    """Rim cut square at a height above the lowest point of the body."""

    kind: Literal["trim"]
    height: Annotated[float, LENGTH]


class Bake(_Stage):
    """Oven cure that softens the worked sheet, by a given factor or by time and temperature."""

    kind: Literal["bake"]
    factor: Annotated[float | None, FACTOR] = None
    temperature: Annotated[float | None, TEMPERATURE] = None
    time: Annotated[float | None, TIME] = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        cure = (self.temperature, self.time)
        if (self.factor is None) == (cure == (None, None)):
            refuse("expected either factor, or temperature and time")
        if self.factor is None and None in cure:
            refuse("temperature and time belong together")
        return self


class Neck(Formed):
    """One step of die necking: the rim is pushed ``depth`` deep into a narrower die.

    ``depth`` is the travel of the die from first touch.
    """

    kind: Literal["neck"]
    die: NeckDie
    pilot: Pilot | None = None
    depth: Annotated[float, DEPTH]
    friction: NeckFriction = NeckFriction()


class Flange(Formed):
    """Rim flared outwards over a tool; ``depth`` is the travel of the tool from first touch."""

    kind: Literal["flange"]
    tool: FlangeTool
    depth: Annotated[float, DEPTH]
    friction: FlangeFriction = FlangeFriction()


class Stretch(Formed):
    """Sheet clamped at a diameter and stretched over a punch."""

    kind: Literal["stretch"]
    punch: Punch
    die: StretchDie
    clamp_diameter: Annotated[float, DIAMETER]
    depth: Annotated[float, DEPTH]
    friction: StretchFriction = StretchFriction()


class Bulge(Formed):
    """Disc with a sharply clamped edge, bulged by fluid pressure to a pole height."""

    kind: Literal["bulge"]
    diameter: Annotated[float, DIAMETER]
    height: Annotated[float, DEPTH]


UNTIL = Quantity("a pressure", "stress", 1e-4, 1_000.0, word="limit")


class Pressurise(_Stage):
    """Fluid pressure on the inside of the body, until it gives way or up to a pressure.

    The rim is ``clamped``, with all of a flange, as in the seam of a lid; or a ``lid`` only holds
    its edge along the axis and lets it turn and widen. ``service``, ``proof`` and ``required`` are
    pressures the result is told at and compared with. Up to the ``limit`` the body is a specimen:
    the line goes on with one like it, as after a top load.
    """

    kind: Literal["pressurise"]
    until: Annotated[float | Literal["limit"], UNTIL] = "limit"
    rim: Literal["clamped", "lid"] = "clamped"
    base: Literal["free", "held"] = "free"
    service: Annotated[float | None, PRESSURE] = None
    proof: Annotated[float | None, PRESSURE] = None
    required: Annotated[float | None, PRESSURE] = None

    @property
    def named(self) -> dict[str, float]:
        """Pressures of the case by name [MPa]."""
        asked = {name: getattr(self, name) for name in ("service", "proof", "required")}
        return {name: value for name, value in asked.items() if value}

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        values = list(self.named.values())
        if values != sorted(values):
            refuse("expected service of at most the proof pressure, and proof of at most required")
        if self.until != "limit" and values and values[-1] > self.until:
            most = f"the {self.until:g} MPa of until"
            refuse(f'a pressure above {most} is never reached: raise it, or until = "limit"')
        return self


class TopLoad(_Stage):
    """Axial load on a body that stands on a flat plate, until it is crushed.

    It comes from a flat ``plate`` on the rim, or through a ``lid`` that holds the rim all round
    and closes the body, so that there can be a ``pressure`` inside. ``base`` is ``standing`` on
    its lowest ring, or ``held``: the wall is held along the axis above the base.
    """

    kind: Literal["top_load"]
    rim: Literal["plate", "lid"] = "plate"
    pressure: Annotated[float, PRESSURE] = 0.0
    base: Literal["standing", "held"] = "standing"
    plate_diameter: Annotated[float | None, DIAMETER] = None
    friction: Annotated[float, FRICTION] = TYPICAL_FRICTION
    required: Annotated[float | None, FORCE] = None

    @model_validator(mode="after")
    def _goes_together(self) -> Self:
        if self.pressure and self.rim == "plate":
            refuse('an inside pressure needs a closed body: rim = "lid"')
        if self.base == "held" and self.rim == "lid":
            refuse('a held wall is loaded by a plate: rim = "plate"')
        if self.rim == "lid" and self.plate_diameter is not None:
            refuse('a lid has no plate: leave plate_diameter out, or rim = "plate"')
        return self


Stage = Annotated[
    Draw
    | Redraw
    | Iron
    | Stroke
    | Dome
    | Trim
    | Bake
    | Neck
    | Flange
    | Stretch
    | Bulge
    | Pressurise
    | TopLoad,
    Field(discriminator="kind"),
]


def brought_to_limit(stage: Stage) -> bool:
    """Whether a stage tests its body until it gives way, so that the next one gets another."""
    return isinstance(stage, TopLoad) or isinstance(stage, Pressurise) and stage.until == "limit"


def _spaced(rings: tuple[Ring, ...]) -> tuple[Ring, ...]:
    if not rings:
        refuse("expected at least one ring")
    for number, ring in enumerate(rings[1:], start=2):
        if ring.spacing is None:
            refuse(f"ring {number} needs its spacing from the land of the ring before it")
    return rings
