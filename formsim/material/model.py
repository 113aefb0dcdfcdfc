"""The material of one sheet as the solver needs it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from formsim.case.card import Flow, MaterialCard
from formsim.material import flow
from formsim.material.flow import FlowCurve


@dataclass(frozen=True)
class Material:
    """Elastic constants, flow curve and normal anisotropy of a sheet.

    Attributes
    ----------
    name : name in the library or the case file
    young : Young's modulus [MPa]
    poisson : Poisson's ratio [-]
    density : density [kg/m3]
    flow : flow curve along the sheet plane
    r_bar : mean r-value, 1 for isotropic sheet [-]
    """

    name: str
    young: float
    poisson: float
    density: float
    flow: FlowCurve
    r_bar: float = 1.0

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
        )


def flow_curve(table: Flow, young: float) -> FlowCurve:
    """Flow curve of a table of a card; the elastic line of ``young`` [MPa] starts some kinds."""
    constants = {k: v for k, v in table.model_dump().items() if k != "kind"}
    return curve_of(table.kind, constants, young)


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
