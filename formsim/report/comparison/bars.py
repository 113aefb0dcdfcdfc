"""How well a number of a run is known: its error bar, and the solver's own noise below it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_NOISE = {
    "thickness": ("change of volume after", "normal thickness against"),
    "length": ("change of volume after",),
    "force": ("tool force by contact", "jump of a tool force", "out-of-balance force"),
    "work": ("work of the press not found", "jump of a tool force"),
}
"""Kind of number -> trust checks, by how their names begin, that tell its relative noise."""


def error_bar(summary: Mapping[str, Any], stage: str, key: str) -> float | None:
    """Uncertainty of a number in the unit of the summary; None where none is known.

    Read is ``summary["error_bars"][measure]["uncertainty"]`` with ``STAGE: KEY`` or, for a number
    of the whole run, ``KEY`` as the measure.
    """
    bars = summary.get("error_bars")
    name = f"{stage}: {key}" if stage else key
    entry = bars.get(name) if isinstance(bars, Mapping) else None
    found = entry.get("uncertainty") if isinstance(entry, Mapping) else entry
    if isinstance(found, bool) or not isinstance(found, int | float) or not found >= 0.0:
        return None
    return float(found)


def has_error_bars(summary: Mapping[str, Any]) -> bool:
    """Whether a result has error bars at all."""
    return bool(summary.get("error_bars"))


def noise(summary: Mapping[str, Any], stage: str, kind: str) -> float:
    """Relative noise of a kind of number in a stage by its trust checks [-]; 0 where unknown."""
    return max(
        (
            abs(float(check["computed"]))
            for check in summary.get("checks", ())
            if check.get("kind", "trust") == "trust"
            and check.get("computed") is not None
            and _tells(str(check["name"]), stage, kind)
        ),
        default=0.0,
    )


def _tells(name: str, stage: str, kind: str) -> bool:
    begin, _, what = name.partition(": ")
    return begin == stage and what.startswith(_NOISE.get(kind, ("\0",)))
