"""What a search would do, in words, before anything is solved."""

from __future__ import annotations

from formsim.report.lines import folded, table
from formsim.report.words import counted
from formsim.study.seek import Preview
from formsim.study.seek_text import aim, numbers_text, unit_of
from formsim.study.words import cost_text

FIRST = 10
"""Most places tried next that are told."""


def preview_text(preview: Preview) -> str:
    """What a search would do: what is tried next, how many runs at most, time and memory."""
    sought = preview.sought
    lines = folded(f"{sought.title}: {aim(preview)}")
    rows = [
        (one.name, unit_of(preview, k).strip() or "-", f"{one.low:g}", f"{one.high:g}",
         "-" if one.step is None else f"{one.step:g}")
        for k, one in enumerate(sought.changes)
    ]  # fmt: skip
    lines += ["", table(("input", "unit", "from", "to", "step"), rows, left=(0, 1)), ""]
    if preview.trials:
        lines += folded(f"{counted(len(preview.trials), 'variant')} solved by an earlier call")
    lines += [line for note in preview.notes for line in folded(note)]
    if not preview.first:
        return "\n".join([*lines, *folded("nothing is left to try: the search has settled")])
    shown = "; ".join(numbers_text(preview, one) for one in preview.first[:FIRST])
    more = "; ..." if len(preview.first) > FIRST else ""
    lines += folded(f"tried next: {shown}{more}")
    refused = {one.refused: one.number for one in preview.plan.variants if one.refused}
    lines += [line for why in refused for line in folded(f"cannot be run, so not fulfilled: {why}")]
    lines += folded(_way(preview))
    return "\n".join([*lines, *folded(_cost(preview))])


def _way(preview: Preview) -> str:
    """How a search goes on behind its first variants."""
    sought = preview.sought
    if not sought.is_border:
        return "then one after the other, where a Gaussian process through all promises most"
    if sought.wish is None:
        return "then values between them, until one fulfils it"
    change = sought.changes[0]
    width = preview.within * (change.high - change.low)
    return (
        "then the border between them, one after the other, until it lies within"
        f" {width:.3g}{unit_of(preview, 0)}; what is not monotone is guided by a Gaussian process"
    )


def _cost(preview: Preview) -> str:
    most = counted(preview.sought.most, "variant")
    return f"at most {most}, {cost_text(preview.foreseen, preview.seconds, 'at most')}"
