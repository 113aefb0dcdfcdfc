"""The material card: elastic constants, flow curve and r-values with their sources."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from formsim.case.base import Name, Table, Words
from formsim.case.limits import CutEdge, Damage, FormingLimit
from formsim.case.quantity import Quantity, refuse
from formsim.case.tested import Tested

YOUNG = Quantity("Young's modulus", "stress", 1_000.0, 1.0e6)
POISSON = Quantity("Poisson's ratio", "ratio", 0.0, 0.495)
DENSITY = Quantity("a density", "density", 500.0, 25_000.0)
HEAT = Quantity("a heat capacity", "heat capacity", 50.0, 5_000.0)
STRESS = Quantity("a stress", "stress", 1.0, 5_000.0)
STRESS_DROP = Quantity("a stress", "stress", 0.0, 5_000.0)
STRENGTH = Quantity("a strength coefficient", "stress", 1.0, 10_000.0)
SLOPE = Quantity("a hardening slope", "stress", 0.0, 20_000.0)
RATE = Quantity("a saturation rate", "ratio", 0.0, 10_000.0)
EXPONENT = Quantity("a hardening exponent", "ratio", 0.0, 1.0)
POWER = Quantity("a hardening exponent below 1", "ratio", 0.0, 0.99)
SATURATION_EXPONENT = Quantity("a saturation exponent", "ratio", 0.1, 2.0)
PRESTRAIN = Quantity("a strain", "ratio", 1.0e-8, 1.0)
STRAIN = Quantity("a plastic strain", "ratio", 0.0, 10.0)
SHARE = Quantity("a share of the power law", "ratio", 0.0, 1.0)
R_VALUE = Quantity("an r-value", "ratio", 0.01, 20.0)
ANGLE = Quantity("an angle to the rolling direction", "angle", 0.0, 90.0)
BARRIER = Quantity("an energy of activation", "molar energy", 10.0, 1_000.0)
RISE = Quantity("a rise of the energy of activation", "molar energy", 1.0, 10_000.0)
FREQUENCY = Quantity("a rate", "rate", 1.0e-6, 1.0e20)
DOUBLING = Quantity("a strain rate", "rate", 0.1, 1.0e15)
TEST_RATE = Quantity("a strain rate", "rate", 1.0e-6, 1.0e3)
ROOT = Quantity("a root of the strain rate", "ratio", 1.0, 50.0)
SENSITIVITY = Quantity("a rate sensitivity", "ratio", 0.0, 0.5)
HEAT_SHARE = Quantity("a share of the plastic work", "ratio", 0.0, 1.0)
REFERENCE = Quantity("a temperature", "temperature", -100.0, 500.0)
MELTING = Quantity("a melting temperature", "temperature", 100.0, 4_000.0)
PER_KELVIN = Quantity("a loss of flow stress by a degree", "share per degree", 0.0, 0.05)
THERMAL_POWER = Quantity("a power of the share of the way to melting", "ratio", 0.1, 5.0)


class Voce(Table):
    """Saturating flow curve: saturation - drop exp(-rate ep) + linear ep."""

    kind: Literal["voce"]
    saturation: Annotated[float, STRESS]
    drop: Annotated[float, STRESS_DROP]
    rate: Annotated[float, RATE]
    linear: Annotated[float, SLOPE] = 0.0

    @model_validator(mode="after")
    def _starts_positive(self) -> Self:
        _check_drop(self.saturation, self.drop)
        return self


class HockettSherby(Table):
    """Saturating flow curve: saturation - drop exp(-rate ep**exponent)."""

    kind: Literal["hockett_sherby"]
    saturation: Annotated[float, STRESS]
    drop: Annotated[float, STRESS_DROP]
    rate: Annotated[float, RATE]
    exponent: Annotated[float, SATURATION_EXPONENT]

    @model_validator(mode="after")
    def _starts_positive(self) -> Self:
        _check_drop(self.saturation, self.drop)
        return self


class Swift(Table):
    """Power-law flow curve: strength (prestrain + ep)**exponent."""

    kind: Literal["swift"]
    strength: Annotated[float, STRENGTH]
    prestrain: Annotated[float, PRESTRAIN]
    exponent: Annotated[float, POWER]


class Hollomon(Table):
    """Power-law flow curve in total strain: strength e**exponent."""

    kind: Literal["hollomon"]
    strength: Annotated[float, STRENGTH]
    exponent: Annotated[float, POWER]


class Ludwik(Table):
    """Flow curve: yield_stress + strength ep**exponent."""

    kind: Literal["ludwik"]
    yield_stress: Annotated[float, STRESS]
    strength: Annotated[float, STRENGTH]
    exponent: Annotated[float, EXPONENT]


class SwiftVoce(Table):
    """Blend: share strength (prestrain + ep)**exponent + (1 - share) (saturating part)."""

    kind: Literal["swift_voce"]
    share: Annotated[float, SHARE]
    strength: Annotated[float, STRENGTH]
    prestrain: Annotated[float, PRESTRAIN]
    exponent: Annotated[float, POWER]
    saturation: Annotated[float, STRESS]
    drop: Annotated[float, STRESS_DROP]
    rate: Annotated[float, RATE]

    @model_validator(mode="after")
    def _starts_positive(self) -> Self:
        _check_drop(self.saturation, self.drop)
        return self


class TableFlow(Table):
    """Measured flow curve: true stress at given plastic strains, the first strain 0."""

    kind: Literal["table"]
    strain: tuple[Annotated[float, STRAIN], ...] = Field(strict=False)
    stress: tuple[Annotated[float, STRESS], ...] = Field(strict=False)

    @model_validator(mode="after")
    def _is_curve(self) -> Self:
        if len(self.strain) < 2:
            refuse("expected at least two points of the curve")
        if len(self.strain) != len(self.stress):
            refuse(
                f"strain has {len(self.strain)} values and stress {len(self.stress)};"
                " expected as many of one as of the other"
            )
        if self.strain[0] != 0.0:
            refuse("strain must begin with 0, where stress is the yield stress")
        if not _rising(self.strain, strict=True):
            refuse("strain must rise from each value to the next")
        if not _rising(self.stress, strict=False):
            refuse("stress must not fall: softening is not part of the model")
        return self


Flow = Annotated[
    Voce | Swift | Hollomon | Ludwik | HockettSherby | SwiftVoce | TableFlow,
    Field(discriminator="kind"),
]


class RValues(Table):
    """Plastic anisotropy: the mean, or values at 0, 45 and 90 degrees, or at many angles.

    Beside many angles ``r_bar`` may state the mean that the simulation takes.
    """

    r_bar: Annotated[float | None, R_VALUE] = None
    r0: Annotated[float | None, R_VALUE] = None
    r45: Annotated[float | None, R_VALUE] = None
    r90: Annotated[float | None, R_VALUE] = None
    angle: tuple[Annotated[float, ANGLE], ...] = Field(default=(), strict=False)
    r: tuple[Annotated[float, R_VALUE], ...] = Field(default=(), strict=False)

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        three = (self.r0, self.r45, self.r90)
        of_three, of_many = any(value is not None for value in three), bool(self.angle or self.r)
        of_mean = self.r_bar is not None and not of_many
        if of_mean + of_three + of_many != 1:
            refuse(
                "expected one form: { r_bar }, or { r0, r45, r90 }, or { angle, r }, which may add"
                " r_bar"
            )
        if of_three and None in three:
            refuse("expected all three of r0, r45 and r90")
        if of_many:
            self._check_angles()
        return self

    def _check_angles(self) -> None:
        if len(self.angle) != len(self.r) or len(self.angle) < 2:
            refuse("expected as many r as angle values, at least two")
        if not _rising(self.angle, strict=True) or (self.angle[0], self.angle[-1]) != (0.0, 90.0):
            refuse("angle must rise from 0 to 90 degrees")

    @property
    def mean(self) -> float:
        """Mean r-value over the plane of the sheet [-].

        Three values give (r0 + 2 r45 + r90)/4, many the trapezoidal mean from 0 to 90 degrees.
        Source: ISO 10113, mean plastic strain ratio (the three-value form).
        """
        if self.r_bar is not None:
            return self.r_bar
        if self.r0 is not None and self.r45 is not None and self.r90 is not None:
            return (self.r0 + 2.0 * self.r45 + self.r90) / 4.0
        steps = zip(self.angle, self.angle[1:], self.r, self.r[1:], strict=False)
        return sum(0.5 * (b - a) * (ra + rb) for a, b, ra, rb in steps) / 90.0

    @property
    def by_angle(self) -> tuple[tuple[float, float], ...]:
        """Angle to the rolling direction [deg] with its r-value; empty where only the mean is."""
        if self.r0 is not None and self.r45 is not None and self.r90 is not None:
            return (0.0, self.r0), (45.0, self.r45), (90.0, self.r90)
        return tuple(zip(self.angle, self.r, strict=True))


class Recovery(Table):
    """How worked metal softens in the oven: constants of logarithmic recovery, from oven tests.

    ``activation_energy`` is the barrier of the metal as it was worked, ``rise`` what it would rise
    by if all flow stress were lost, ``rate`` the speed without any barrier.
    """

    activation_energy: Annotated[float, BARRIER]
    rise: Annotated[float, RISE]
    rate: Annotated[float, FREQUENCY]


class CowperSymonds(Table):
    """Flow stress times 1 + (rate/doubling_rate)**(1/exponent), over the static flow curve."""

    kind: Literal["cowper_symonds"]
    doubling_rate: Annotated[float, DOUBLING]
    exponent: Annotated[float, ROOT]


class PowerRate(Table):
    """Flow stress times (rate/card_rate)**exponent, well above the rate of the card's own tests."""

    kind: Literal["power_law"]
    card_rate: Annotated[float, TEST_RATE]
    exponent: Annotated[float, SENSITIVITY]


StrainRate = Annotated[CowperSymonds | PowerRate, Field(discriminator="kind")]


class LinearLoss(Table):
    """Flow stress times 1 - per_kelvin (T - reference_temperature)."""

    kind: Literal["linear"]
    per_kelvin: Annotated[float, PER_KELVIN]


class JohnsonCook(Table):
    """Flow stress times 1 - (share of the way from the reference to melting)**exponent."""

    kind: Literal["johnson_cook"]
    melting_temperature: Annotated[float, MELTING]
    exponent: Annotated[float, THERMAL_POWER]


class Heating(Table):
    """Heat of plastic work that stays in the metal within a stage, and what it does to it.

    ``heat_share`` is that of Taylor and Quinney; the flow curve holds at the reference, to which
    the sheet has cooled before a stage that is not ``warm``.
    """

    heat_share: Annotated[float, HEAT_SHARE] = 0.9
    reference_temperature: Annotated[float, REFERENCE] = 20.0
    softening: Annotated[LinearLoss | JohnsonCook, Field(discriminator="kind")] | None = None

    @model_validator(mode="after")
    def _melts_above(self) -> Self:
        law = self.softening
        if isinstance(law, JohnsonCook) and law.melting_temperature <= self.reference_temperature:
            refuse(
                f"melting_temperature {law.melting_temperature:g} degC must be above the"
                f" reference_temperature of {self.reference_temperature:g} degC"
            )
        return self


class MaterialCard(Table):
    """All that is known of the sheet metal before it is formed."""

    name: Name
    source: Words
    young: Annotated[float, YOUNG]
    poisson: Annotated[float, POISSON]
    density: Annotated[float, DENSITY]
    flow: Flow = Field(description="a table with a kind, such as voce or swift")
    r_values: RValues | None = None
    recovery: Recovery | None = None
    heat_capacity: Annotated[float | None, HEAT] = None
    strain_rate: StrainRate | None = None
    heating: Heating | None = None
    forming_limit: FormingLimit | None = None
    damage: Damage | None = None
    cut_edge: CutEdge | None = None
    tested: Tested | None = None
    sources: dict[str, Words] = Field(default_factory=dict)
    invented: bool = False

    @field_validator("sources")
    @classmethod
    def _name_own_keys(cls, sources: dict[str, str]) -> dict[str, str]:
        known = [key for key in cls.model_fields if key not in ("sources", "source", "invented")]
        strange = sorted(set(sources) - set(known))
        if strange:
            refuse(f"{strange[0]} is no key of a material; expected {', '.join(known)}")
        return sources

    @model_validator(mode="after")
    def _heats_by_capacity(self) -> Self:
        if self.heating is not None and self.heat_capacity is None:
            refuse(
                "heating needs the heat_capacity of the metal beside it, in J/(kg K): about 900"
                " for aluminium and 460 for steel (common practice, no source)"
            )
        return self

    @property
    def r_bar(self) -> float:
        """Mean r-value [-]; 1 (isotropic) when the card gives none."""
        return self.r_values.mean if self.r_values else 1.0

    @property
    def r_note(self) -> str:
        """Where the mean r-value comes from, in words."""
        return "mean of the given r-values" if self.r_values else "isotropic: no r-values given"


def _check_drop(saturation: float, drop: float) -> None:
    if drop >= saturation:
        refuse(
            f"drop {drop:g} must be less than saturation {saturation:g} MPa:"
            " their difference is the yield stress"
        )


def _rising(values: tuple[float, ...], *, strict: bool) -> bool:
    pairs = zip(values, values[1:], strict=False)
    return all(b > a if strict else b >= a for a, b in pairs)
