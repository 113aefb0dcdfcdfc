"""Limits the user sets: limit curve, damage, cut edge, thinning and force; none has a default."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, PlainSerializer, PlainValidator, model_validator

from formsim.case.base import FORCE, THICKNESS, Table, Words
from formsim.case.named_file import NamedFile, dumped_file
from formsim.case.points import StrainPoints, read_points, strain_points
from formsim.case.quantity import Quantity, refuse

THINNING = Quantity("a thinning in per cent", "percent", 0.1, 99.0)
WATCH = Quantity("a share of the limit in per cent", "percent", 0.0, 90.0)
IMPERFECTION = Quantity(
    "a thickness of the groove over that of the sheet beside it", "ratio", 0.9, 0.9999
)
EXPONENT = Quantity("a hardening exponent of the sheet", "ratio", 0.02, 0.6)
GIVEN_STRAIN = Quantity("a strain, in the unit the table names", "ratio", -200.0, 400.0)
DAMAGE = Quantity("a critical damage", "ratio", 0.001, 20.0)
OFFSET = Quantity("the constant beside the mean stress", "ratio", 0.0, 10.0)
FRACTURE = Quantity("a thickness strain ln(t0/t) of the fracture", "ratio", 0.01, 3.0)
HOOP = Quantity("a log hoop strain", "ratio", 0.005, 2.0)
INDEX = Quantity("a wrinkle index", "ratio", 0.01, 100.0)
EXPANSION = Quantity("a hole expansion in per cent", "percent", 1.0, 400.0)

STEEL = 185_000.0, 225_000.0
"""Young's moduli of steels [MPa]; common practice, no source."""

THICKEST = 3.0
"""Thickness up to which Keeler and Brazier's formula holds [mm], memory."""


class TableLimit(Table):
    """Measured limit curve: points in the card, or in a CSV file with minor and major strain.

    Strain is ``true`` (logarithmic) or ``engineering``, in ``percent`` or as a ``fraction``;
    ``thickness`` is that of the sheet it was measured on.
    """

    kind: Literal["table"]
    strain: Literal["true", "engineering"]
    unit: Literal["percent", "fraction"]
    source: Words
    thickness: Annotated[float | None, THICKNESS] = None
    minor: tuple[Annotated[float, GIVEN_STRAIN], ...] = Field(default=(), strict=False)
    major: tuple[Annotated[float, GIVEN_STRAIN], ...] = Field(default=(), strict=False)
    file: Annotated[NamedFile | None, PlainValidator(read_points), PlainSerializer(dumped_file)] = (
        None
    )

    @model_validator(mode="after")
    def _is_curve(self) -> Self:
        if (self.file is None) == (not self.minor and not self.major):
            refuse("expected the points as minor and major, or file, the name of a CSV file")
        self.points()
        return self

    def points(self) -> StrainPoints:
        """Points of the curve in true strain, minor strain rising."""
        return strain_points(self.file, self.minor, self.major, self.strain, self.unit)


class KeelerBrazier(Table):
    """Limit curve of steel sheet by its hardening exponent and thickness."""

    kind: Literal["keeler_brazier"]
    exponent: Annotated[float, EXPONENT]
    source: Words


class MarciniakKuczynski(Table):
    """Limit curve worked out from the card: a groove, thinner than the sheet, runs ahead of it."""

    kind: Literal["marciniak_kuczynski"]
    imperfection: Annotated[float, IMPERFECTION]
    source: Words


class SwiftHill(Table):
    """Instability lines from the card: Hill's local neck on the left, Swift's on the right."""

    kind: Literal["swift_hill"]


FormingLimit = Annotated[
    TableLimit | KeelerBrazier | MarciniakKuczynski | SwiftHill, Field(discriminator="kind")
]


class _DamageLaw(Table):
    """A damage integral and the value at which the sheet breaks, or what gives it."""

    kind: str
    critical: Annotated[float | None, DAMAGE] = None
    fracture_strain: Annotated[float | None, FRACTURE] = None
    source: Words

    @model_validator(mode="after")
    def _one_limit(self) -> Self:
        if (self.critical is None) == (self.fracture_strain is None):
            refuse(
                "expected either critical, or fracture_strain of a tensile specimen, from which it"
                " is worked out"
            )
        return self


class CockcroftLatham(_DamageLaw):
    """Largest principal stress over the equivalent one, where tensile, over plastic strain."""

    kind: Literal["cockcroft_latham"]


class Oyane(_DamageLaw):
    """Mean over equivalent stress plus a constant ``offset``, over plastic strain."""

    kind: Literal["oyane"]
    offset: Annotated[float, OFFSET]


Damage = Annotated[CockcroftLatham | Oyane, Field(discriminator="kind")]


class CutEdge(Table):
    """How far a cut edge can be stretched: log hoop strain, or hole expansion in per cent."""

    hoop_strain: Annotated[float | None, HOOP] = None
    hole_expansion: Annotated[float | None, EXPANSION] = None
    source: Words

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        if (self.hoop_strain is None) == (self.hole_expansion is None):
            refuse("expected either hoop_strain or hole_expansion")
        return self

    @property
    def largest(self) -> float:
        """Largest log hoop strain of the edge [-].

        Source: ISO 16630, hole expansion as growth of the diameter over the first one.
        """
        if self.hole_expansion is not None:
            return math.log1p(0.01 * self.hole_expansion)
        return self.hoop_strain or 0.0


class Limits(Table):
    """Limits the user sets; a limit that is not given is not checked.

    A ``wrinkle_index`` comes from tools that are known to work. ``watch_percent`` is the share of
    a limit that should be left: with less a place is to be watched.
    """

    max_thinning_percent: Annotated[float | None, THINNING] = None
    press_force: Annotated[float | None, FORCE] = None
    forming_limit: FormingLimit | None = None
    damage: Damage | None = None
    cut_edge: CutEdge | None = None
    wrinkle_index: Annotated[float | None, INDEX] = None
    watch_percent: Annotated[float, WATCH] = 10.0
