"""A comparison as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.report.comparison.compare import Comparison
from formsim.report.comparison.tables import inputs_table, numbers_table, sides_table
from formsim.report.comparison.words import NO_INPUTS, Told, failure_text, how_known, untrusted
from formsim.report.lines import folded, grid_text


def comparison_text(one: Comparison) -> str:
    """Verdicts, inputs that differ, numbers, who is best at what and at which price."""
    inputs = inputs_table(one.sides, one.inputs)
    numbers = numbers_table(one.sides, one.numbers, one.against, "Numbers", one.wins)
    parts = [
        grid_text(sides_table(one.sides, one.short, one.against, len(one.inputs))),
        "\n".join(_told(one)),
        grid_text(inputs) or NO_INPUTS,
        grid_text(numbers),
        _listed("who is best at what:", one.best),
        *map(_trade, one.trades),
        "\n".join(folded(how_known(one.sides))),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _told(one: Comparison) -> Iterator[str]:
    yield from folded(one.verdict)
    for side, failure in untrusted(one.sides):
        yield from folded(f"FAILED: {failure_text(side, failure)}")
    for text in one.told:
        yield from folded(f"note: {text}")


def _listed(head: str, texts: tuple[str, ...]) -> str:
    if not texts:
        return ""
    return "\n".join([head, *(line for text in texts for line in folded(text, "  "))])


def _trade(told: Told) -> str:
    """What a result gains and at which price, a line for each."""
    lines = [f"{told.head}:"]
    for what, text in told.parts:
        lines += folded(f"{what}: {text}", "  ")
    return "\n".join(lines)
