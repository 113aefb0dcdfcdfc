"""The material of one sheet as the solver needs it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from formsim.case.card import CowperSymonds, Flow, JohnsonCook, MaterialCard, StrainRate
from formsim.case.card import Heating as HeatingCard
from formsim.material import flow, heat, rate
from formsim.material.flow import FlowCurve


@dataclass(frozen=True)
class Material:
    """Elastic constants, flow curve, normal anisotropy, rate law and heating of a sheet.

    Attributes
    ----------
    name : name in the library or the case file
    young : Young's modulus [MPa]
    poisson : Poisson's ratio [-]
    density : density [kg/m3]
    flow : flow curve along the sheet plane
    r_bar : mean r-value, 1 for isotropic sheet [-]
    rate_law : factor on the flow stress over the strain rate, None for none
    heating : by plastic work, with softening; None where no temperature is followed
    """

    name: str
    young: float
    poisson: float
    density: float
    flow: FlowCurve
    r_bar: float = 1.0
    rate_law: rate.RateLaw | None = None
    heating: heat.Heating | None = None

    @property
    def bulk(self) -> float:
        """Bulk modulus [MPa]."""
        return self.young / (3.0 * (1.0 - 2.0 * self.poisson))

    @property
    def shear(self) -> float:
        """Shear modulus [MPa]."""
        return self.young / (2.0 * (1.0 + self.poisson))

    @property
    def yield_stress(self) -> float:
        """Initial yield stress in tension [MPa]."""
        return float(self.flow.stress(0.0))

    @classmethod
    def from_card(cls, card: MaterialCard) -> Material:
        """Material of a case file's card, which has passed the checks of its schema."""
        return cls(
            name=card.name,
            young=card.young,
            poisson=card.poisson,
            density=card.density,
            flow=flow_curve(card.flow, card.young),
            r_bar=card.r_bar,
            rate_law=rate_law(card.strain_rate),
            heating=_heating(card, card.heating),
        )


def flow_curve(table: Flow, young: float) -> FlowCurve:
    """Flow curve of a table of a card; the elastic line of ``young`` [MPa] starts some kinds."""
    constants = {k: v for k, v in table.model_dump().items() if k != "kind"}
    return curve_of(table.kind, constants, young)


def rate_law(table: StrainRate | None) -> rate.RateLaw | None:
    """Rate law of a table of a card; None for none."""
    if table is None:
        return None
    if isinstance(table, CowperSymonds):
        return rate.CowperSymonds(table.doubling_rate, table.exponent)
    return rate.PowerLaw(table.card_rate, table.exponent)


def _heating(card: MaterialCard, table: HeatingCard | None) -> heat.Heating | None:
    if table is None or card.heat_capacity is None:
        return None
    per_work = heat.temperature_rise(1.0, card.density, card.heat_capacity, table.heat_share)
    return heat.Heating(per_work, table.reference_temperature, softening_of(table))


def softening_of(table: HeatingCard) -> heat.Softening | None:
    """Softening with temperature of a card's heating; None for none."""
    law, reference = table.softening, table.reference_temperature
    if law is None:
        return None
    if isinstance(law, JohnsonCook):
        return heat.JohnsonCookSoftening(law.melting_temperature, law.exponent, reference)
    return heat.LinearSoftening(law.per_kelvin, reference)


def curve_of(kind: str, constants: Mapping[str, Any], young: float) -> FlowCurve:
    """Flow curve of a kind from its constants as a card names them."""
    if kind == "hollomon":
        return flow.Hollomon(**constants, young=young)
    return _CURVES[kind](**constants)


def _table(strain: Iterable[float], stress: Iterable[float]) -> flow.Table:
    return flow.Table(tuple(strain), tuple(stress))


def _blend(
    share: float,
    strength: float,
    prestrain: float,
    exponent: float,
    saturation: float,
    drop: float,
    rate: float,
) -> flow.SwiftVoce:
    swift = flow.Swift(strength, prestrain, exponent)
    return flow.SwiftVoce(swift, flow.Voce(saturation, drop, rate), share)


_CURVES: Mapping[str, Callable[..., FlowCurve]] = {
    "voce": flow.Voce,
    "swift": flow.Swift,
    "ludwik": flow.Ludwik,
    "hockett_sherby": flow.HockettSherby,
    "swift_voce": _blend,
    "table": _table,
}
