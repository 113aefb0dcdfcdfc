"""The break of a tensile test, as measured, found in the bar of the card: its critical damage."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import exp, log1p, sqrt
from types import MappingProxyType

import numpy as np

from formsim.arrays import Floats
from formsim.case.limits import FRACTURE
from formsim.case.quantity import Quantity
from formsim.errors import ConvergenceError, FormsimError, TheoryRangeError
from formsim.material.model import Material
from formsim.results.theory.fracture import TensionDamage, tension_damage
from formsim.results.theory.instability import (
    considere_strain,
    hill_localised_strain,
    ultimate_strength,
)
from formsim.tensile.round_bar import DIAMETER, PARALLEL, PROPORTION, Pull, pull_bar

REDUCTION, ELONGATION, AREA, THICKNESS = (
    "reduction_of_area",
    "elongation",
    "area_strain",
    "thickness_strain",
)
QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {
        REDUCTION: Quantity("a reduction of area Z in per cent", "percent", 2.0, 87.0),
        ELONGATION: Quantity("an elongation after fracture A in per cent", "percent", 0.5, 100.0),
        AREA: Quantity("a strain ln(S0/S) of the area of the fracture", "ratio", 0.02, 2.0),
        THICKNESS: FRACTURE,
    }
)
"""What may be measured of a break. Beyond a reduction of 87 % the damage of the bar hangs on its
mesh by more than 1 %."""

FARTHEST = 2.05
"""Strain of the area at which a bar is given up that has not come to its elongation [-]."""

FLAT = 8.0
"""Width over thickness beyond which a neck does not go by the root of the section; memory."""


@dataclass(frozen=True)
class Fracture:
    """What was measured of a broken specimen.

    Attributes
    ----------
    kind : one of ``QUANTITIES``
    value : in per cent, or a logarithmic strain [-]
    proportion : gauge length of an elongation over the root of the first section [-]
    flatness : width over thickness of that specimen [-]; None where not known
    uniform : elongation at its largest force, Ag [-]; None for that of the flow curve
    """

    kind: str
    value: float
    proportion: float = PROPORTION
    flatness: float | None = None
    uniform: float | None = None

    @property
    def words(self) -> str:
        """As a sentence goes on with it."""
        if self.kind == REDUCTION:
            return f"a reduction of area of {self.value:g} %"
        if self.kind == ELONGATION:
            gauge = f"a gauge of {self.proportion:.3g} times the root of the section"
            return f"an elongation after fracture of {self.value:g} % over {gauge}"
        if self.kind == AREA:
            return f"a strain of the area of {self.value:g}"
        return f"a thickness strain of {self.value:g}"


@dataclass(frozen=True)
class Moment:
    """A bar at one moment of its pull.

    Attributes
    ----------
    area_strain : ln(S0/S) of the neck [-]
    elongation : that would stay after a break, of the proportional gauge [-]
    stress : force over the first section [MPa]
    triaxiality : mean over equivalent stress in its middle [-]
    taken : damage in its middle
    """

    area_strain: float
    elongation: float
    stress: float
    triaxiality: float
    taken: TensionDamage

    @property
    def reduction(self) -> float:
        """Reduction of area Z [-]."""
        return 1.0 - exp(-self.area_strain)


@dataclass(frozen=True)
class Broken:
    """The bar up to the break that was measured.

    Attributes
    ----------
    fracture : as measured
    largest, last : at the largest force, where it was passed, and at the break
    way : some moments of the neck between them
    flat : what a flat specimen with the same area has taken by closed form; None where it fails
    warnings : in words
    pull : all of it, perhaps beyond the break
    """

    fracture: Fracture
    largest: Moment | None
    way: tuple[Moment, ...]
    last: Moment
    flat: TensionDamage | None
    warnings: tuple[str, ...]
    pull: Pull

    @property
    def source(self) -> str:
        """Where its critical value comes from, for a card."""
        told = (
            f"simulated tensile test of this card: round bar of {DIAMETER:g} x {PARALLEL:g} mm,"
            f" isotropic, broken at {self.fracture.words} as measured (strain of the area"
            f" {self.last.area_strain:.3f}, reduction {100.0 * self.last.reduction:.1f} %); damage"
            " in the middle of its neck"
        )
        poor = "; UNCERTAIN, as an elongation says little of the neck"
        return told + (poor if self.fracture.kind == ELONGATION else "")


def break_bar(material: Material, fracture: Fracture) -> Broken:
    """Pull the bar of a material to the break that was measured.

    Raises
    ------
    FormsimError : the bar of this flow curve does not come to that break
    """
    wanted, warnings = fracture, list[str]()
    if fracture.kind == THICKNESS:
        wanted = Fracture(AREA, _area_strain(material, fracture.value))
        warnings.append(
            "a thickness strain is that of a flat specimen: its width is taken to narrow by the"
            f" mean r-value up to Hill's local neck, a strain of the area of {wanted.value:.3f}"
        )
    elif fracture.kind == REDUCTION:
        wanted = Fracture(AREA, -log1p(-0.01 * fracture.value))
    area = FARTHEST if wanted.kind == ELONGATION else wanted.value
    if area > FARTHEST:
        told = f"{fracture.words} is a strain of the area of {area:.2f}"
        told += f"; a bar is pulled to {FARTHEST:g} at most"
        raise _beyond(told, fracture)
    pull = replace(_pulled(material, fracture, area), uniform=_uniform(material, fracture))
    measure = pull.elongation(wanted.proportion) if wanted.kind == ELONGATION else pull.area_strain
    value = 0.01 * wanted.value if wanted.kind == ELONGATION else wanted.value
    if measure[-1] < value:
        told = f"at a reduction of area of {100.0 * -np.expm1(-pull.area_strain[-1]):.0f} % the bar"
        told += f" of this flow curve has grown by {100.0 * measure[-1]:.1f} % only"
        told += f", not come to {fracture.words}"
        raise _beyond(told, fracture)
    if wanted.kind == ELONGATION:
        warnings += _gauge_warnings(pull, fracture)
    return _broken(material, fracture, pull, measure, value, tuple(warnings))


def _uniform(material: Material, fracture: Fracture) -> float | None:
    """Elongation at the largest force, as measured or by Considere; None where neither tells."""
    if fracture.uniform is not None:
        return fracture.uniform
    try:
        strain = considere_strain(material.flow)
    except TheoryRangeError:
        return None
    return float(np.expm1(strain)) - ultimate_strength(material.flow) / material.young


def _pulled(material: Material, fracture: Fracture, area: float) -> Pull:
    """The pull up to a strain of the area."""
    try:
        return pull_bar(material, area)
    except ConvergenceError as error:
        message = f"the bar of this flow curve cannot be pulled to {fracture.words}: {error}"
        raise FormsimError(message, hint="does the flow curve fall anywhere?") from error


def _broken(
    material: Material,
    fracture: Fracture,
    pull: Pull,
    measure: Floats,
    value: float,
    warnings: tuple[str, ...],
) -> Broken:
    area = pull.area_strain
    last = float(np.interp(value, measure, area))
    top = int(pull.force.argmax())
    top_area = float(area[top])
    necked = last > top_area * (1.0 + 1e-9) and top < len(area) - 1
    begin = top_area if necked else 0.0
    between = [begin + share * (last - begin) for share in (0.25, 0.5, 0.75)]
    at = _moments(pull)
    if not necked:
        warnings += ("it broke before its largest force: no neck, plain tension all the way",)
    return Broken(
        fracture,
        at(top_area) if necked else None,
        tuple(map(at, between)),
        at(last),
        _flat(material, last),
        warnings,
        pull,
    )


def _moments(pull: Pull) -> Callable[[float], Moment]:
    """The bar over the strain of its area."""
    area, elongation, triaxiality = pull.area_strain, pull.elongation(), pull.triaxiality

    def at(strain: float) -> Moment:
        def of(values: Floats) -> float:
            return float(np.interp(strain, area, values))

        taken = TensionDamage(of(pull.tension), of(pull.mean), of(pull.strain))
        return Moment(strain, of(elongation), of(pull.stress), of(triaxiality), taken)

    return at


def _gauge_warnings(pull: Pull, fracture: Fracture) -> list[str]:
    """What makes an elongation a poor measure of a break."""
    area, grown = pull.area_strain, pull.elongation(fracture.proportion)
    value = 0.01 * fracture.value
    nearby = [float(np.interp(value + step, grown, area)) for step in (-0.01, 0.01)]
    least = "at least " if nearby[1] == float(area[-1]) else ""
    told = [
        "an elongation says little of the neck: one percentage point less or more is a strain of"
        f" the area of {nearby[0]:.2f} or {least}{nearby[1]:.2f}; a reduction of area says it"
    ]
    if fracture.uniform is not None and value <= fracture.uniform:
        told.append(
            f"it is below the uniform elongation of {100.0 * fracture.uniform:.1f} % measured on"
            " this sheet, so it is not that of a break: nothing necks before"
        )
    if pull.uniform is not None:
        by = "measured" if fracture.uniform is not None else "by Considere"
        told.append(
            f"the bar counts as grown by {100.0 * pull.uniform:.1f} % at its largest force ({by}):"
            " its flaw alone holds it back from that"
        )
    if fracture.flatness is not None and fracture.flatness > FLAT:
        told.append(
            f"the specimen is {fracture.flatness:.0f} times as wide as thick: beyond about"
            f" {FLAT:g} its neck is no longer that of a bar of the same section (memory), so the"
            " elongation of the bar is not its own"
        )
    return told


def _local_neck(material: Material) -> tuple[float, float]:
    """Share of the strain that narrows a flat specimen, and its strain at Hill's local neck [-].

    Raises
    ------
    TheoryRangeError : no local neck is found
    """
    share = material.r_bar / (1.0 + material.r_bar)
    return share, hill_localised_strain(material.flow, -share, material.r_bar)


def _area_strain(material: Material, thickness: float) -> float:
    """Strain of the area of a flat specimen from its thickness strain.

    Source: own composition of Hill 1948 and Hill 1952 (memory), as ``tension_damage``.
    """
    try:
        share, necked = _local_neck(material)
    except TheoryRangeError as error:
        message = f"a thickness strain cannot be turned into one of the area: {error}"
        raise FormsimError(message, hint=f"give the {AREA} ln(S0/S) of the fracture") from error
    even = min(necked, thickness / (1.0 - share))
    return thickness + share * even


def _flat(material: Material, area_strain: float) -> TensionDamage | None:
    """What a flat specimen with the same area has taken by closed form."""
    try:
        share, necked = _local_neck(material)
        thickness = area_strain - share * min(necked, area_strain)
        return tension_damage(material.flow, material.r_bar, thickness)
    except TheoryRangeError:
        return None


def _beyond(told: str, fracture: Fracture) -> FormsimError:
    hint = "is it the value of the break, in the unit it is read in?"
    if fracture.kind == ELONGATION:
        hint += " is the gauge length right, and was it measured on this sheet?"
        if fracture.flatness is not None and fracture.flatness > FLAT:
            hint += (
                f" The specimen is {fracture.flatness:.0f} times as wide as thick, and its neck"
                " longer than that of a bar: give its reduction of area"
            )
    return FormsimError(told, hint=hint)


def proportion_of(gauge_length: float, width: float, thickness: float) -> float:
    """Gauge length over the root of the first section of a flat specimen [-]."""
    return gauge_length / sqrt(width * thickness)
