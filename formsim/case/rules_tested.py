"""Whether flow curve and limit curve were measured on a sheet as thick as that of the case."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.case.card import MaterialCard
from formsim.case.finding import COMMON, Finding, ranged
from formsim.case.limits import FormingLimit, TableLimit

USUAL = (0.8, 1.2)
"""Thickness over that of the tested sheet without a note; our own numbers."""

ROLLED = (
    "the sheet is {0}er than the one that was tested: it was rolled otherwise, so yield stress and"
    " hardening may differ; test the sheet of the case"
)
SHIFTED = (
    "the sheet is {0}er than the one the limit curve was measured on, and a curve lies higher the"
    " thicker the sheet: {1}"
)


def tested_findings(
    card: MaterialCard, limit: FormingLimit | None, thickness: float
) -> Iterator[Finding]:
    """Thickness of the sheet over those that were tested; nothing where none is stated.

    Parameters
    ----------
    limit : limit curve the case is judged by
    thickness : of the sheet [mm]
    """
    tested = None if card.tested is None else card.tested.thickness
    if tested is not None:
        below, above = ROLLED.format("thinn"), ROLLED.format("thick")
        rule, source = "thickness over that of the tested sheet", f"own numbers; {COMMON}"
        yield ranged(rule, thickness / tested, USUAL, below, above, source)
    measured = limit.thickness if isinstance(limit, TableLimit) else None
    if measured is not None:
        below = SHIFTED.format("thinn", "the limit lies lower than it says")
        above = SHIFTED.format("thick", "it is on the safe side")
        rule = "thickness over that the limit curve was measured on"
        source = "own numbers; the trend after S. P. Keeler and W. G. Brazier, 1977, memory"
        yield ranged(rule, thickness / measured, USUAL, below, above, source)
