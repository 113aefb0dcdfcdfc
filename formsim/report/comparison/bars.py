"""How well a number of a run is known: its error bar, and the solver's own noise below it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

_NOISE = {
    "thickness": ("change of volume after", "normal thickness against"),
    "length": ("change of volume after",),
    "force": ("tool force by contact", "jump of a tool force", "out-of-balance force"),
    "work": ("work of the press not found", "jump of a tool force"),
}
"""Kind of number -> trust checks, by how their names begin, that tell its relative noise."""


def error_bar(summary: Mapping[str, Any], stage: str, measure: str) -> float | None:
    """Uncertainty of a number in the unit of the summary; None where none is known.

    Read is ``uncertainty`` of that row of ``summary["error_bars"]["measures"]`` that has this
    ``stage`` and ``measure``. A bar that knows nothing of the mesh is none.
    """
    for row in _rows(summary):
        if row.get("stage") == stage and row.get("measure") == measure:
            found, of_mesh = row.get("uncertainty"), row.get("mesh_uncertainty", 0.0)
            if of_mesh is None or not isinstance(found, int | float) or not math.isfinite(found):
                return None
            return abs(float(found))
    return None


def has_error_bars(summary: Mapping[str, Any]) -> bool:
    """Whether a result has error bars at all."""
    return bool(_rows(summary))


def _rows(summary: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    bars = summary.get("error_bars")
    rows = bars.get("measures") if isinstance(bars, Mapping) else None
    return [row for row in rows or () if isinstance(row, Mapping)]


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
