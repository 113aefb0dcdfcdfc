"""Damage a tensile specimen has taken when it breaks, by flow curve and last thickness."""

from __future__ import annotations

from dataclasses import dataclass

from formsim.material.flow import FlowCurve
from formsim.results.theory.instability import hill_localised_strain, path_of
from formsim.results.theory.limits import require_positive


@dataclass(frozen=True)
class TensionDamage:
    """Integrals over the plastic strain of a specimen in its neck, up to the break.

    Attributes
    ----------
    tension : largest principal over equivalent stress [-]
    mean : mean over equivalent stress [-]
    strain : equivalent plastic strain [-]
    """

    tension: float
    mean: float
    strain: float

    def by_law(self, offset: float | None) -> float:
        """Damage of Cockcroft and Latham, or with an ``offset`` that of Oyane [-]."""
        return self.tension if offset is None else self.mean + offset * self.strain


def tension_damage(curve: FlowCurve, r_bar: float, fracture_strain: float) -> TensionDamage:
    """Damage of a sheet specimen pulled until it breaks.

    Parameters
    ----------
    curve : flow curve
    r_bar : mean r-value [-]
    fracture_strain : thickness strain ln(t0/t) in the neck at the break [-]

    The specimen is pulled in simple tension until a local neck forms (Hill 1952), then in plane
    strain across it. The bending of the neck's flanks, which raises the mean stress a little, is
    left out. Source: own composition of Hill 1948 and Hill 1952 (memory).
    """
    require_positive(fracture_strain=fracture_strain)
    share = r_bar / (1.0 + r_bar)
    necked = hill_localised_strain(curve, -share, r_bar)
    even = min(necked * (1.0 - share), fracture_strain)
    first = even / (1.0 - share)
    neck, across = fracture_strain - even, path_of(0.0, r_bar)
    second = neck * across.equivalent
    return TensionDamage(
        tension=first + across.first * second,
        mean=first / 3.0 + (across.first + across.second) / 3.0 * second,
        strain=first + second,
    )
