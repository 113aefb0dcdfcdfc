"""The shipped materials as a table."""

from __future__ import annotations

from formsim.case.card import MaterialCard
from formsim.case.library import library
from formsim.case.rules import yield_stress
from formsim.report.lines import table


def materials_text() -> str:
    """Name, kind of flow curve, yield stress, mean r-value and source of every library material."""
    cards = [MaterialCard.model_validate(raw) for raw in library().values()]
    rows = [
        (
            card.name,
            card.flow.kind,
            f"{yield_stress(card):.0f}",
            f"{card.r_bar:.2f}",
            card.source
            if "invented" in card.source.lower() or not card.invented
            else f"invented: {card.source}",
        )
        for card in cards
    ]
    head = ("name", "flow curve", "yield [MPa]", "mean r", "source")
    return table(head, rows, left=(0, 1, 4), widest={4: 50})
