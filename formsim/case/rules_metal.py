"""Whether the flow curve of a card begins where that of its metal usually does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from formsim.case.card import MaterialCard
from formsim.case.finding import Finding, ranged
from formsim.case.library import usual_proof
from formsim.case.limits import STEEL

HARD = (
    "is the curve that of this metal, in MPa? Strips worked hard before lie there too; the blank"
    " may tear and tools wear"
)
SOFT = "is the curve that of this metal, in MPa? So soft a sheet is unusual"


@dataclass(frozen=True)
class Family:
    """Metals known by their Young's modulus.

    Attributes
    ----------
    young : between which that lies [MPa]
    yields : between which sheet for drawing and ironing usually begins to flow [MPa]
    """

    young: tuple[float, float]
    yields: tuple[float, float]


FAMILIES: Mapping[str, Family] = MappingProxyType(
    {
        "steel sheet": Family(STEEL, (80.0, 700.0)),
        "aluminium sheet": Family((62e3, 78e3), (15.0, 420.0)),
    }
)
"""Memory: EN 10130 and EN 10202 from DC06 to TH620 for steel; pure annealed sheet to hard can
body sheet and beyond for aluminium."""


def metal_findings(card: MaterialCard, begins: float) -> Iterator[Finding]:
    """The stress at which a flow curve begins against that of its metal and its grade [MPa]."""
    for name, family in FAMILIES.items():
        if family.young[0] <= card.young <= family.young[1]:
            rule = f"yield stress [MPa] for {name}"
            yield ranged(rule, begins, family.yields, SOFT, HARD, "memory")
    known = usual_proof(card.source)
    if known is not None:
        rule = f"yield stress [MPa] for {known.name}"
        band = (known.low, known.high)
        yield ranged(rule, begins, band, SOFT, HARD, f"proof stress {known.text}")
