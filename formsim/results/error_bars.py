"""Error bars of the numbers of a run, from the same case on coarser meshes and shorter increments.

Columns along the sheet and increments under load are varied, layers through the sheet are not.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from formsim.results.headline import Number, headline
from formsim.results.tables import Column
from formsim.results.theory.convergence import judged, moved, step_bar

NOISE = 1e-6
"""Share of a number that says nothing: the tolerance of equilibrium."""

SHORTER = 1.2
"""Increments of one run over those of another below which both count as alike."""

FINE, MEDIUM, COARSE, HALVED = "fine", "medium", "coarse", "halved increments"
MESHES = (FINE, MEDIUM, COARSE)
_RUNS = ("value", "medium", "coarse", "halved_increments", "order", "extrapolated")
_NUMERIC = (*_RUNS, "mesh_uncertainty", "step_uncertainty", "uncertainty", "low", "high")


@dataclass(frozen=True)
class Member:
    """One run of the family.

    Attributes
    ----------
    role : ``fine``, ``medium``, ``coarse`` or ``halved increments``; the fine one is the case's own
    columns, layers : of its mesh
    increments : accepted under load and in springback; None where it did not finish
    seconds : it took [s]
    failure : why it has no numbers, or only those of its first stages; empty where it finished
    too_coarse : whether its columns are too long for the lands of the rings
    """

    role: str
    columns: int
    layers: int
    increments: int | None
    seconds: float
    failure: str = ""
    too_coarse: bool = False

    @property
    def row(self) -> dict[str, Any]:
        """Plain dictionary for the summary."""
        return asdict(self) | {"elements": self.columns * self.layers}


@dataclass(frozen=True)
class Bar:
    """A number of the case's own run with its error bar, all in ``unit``.

    Attributes
    ----------
    stage, measure, unit : what it is
    value : on the case's own mesh
    medium, coarse, halved_increments : of the other runs, None where there is none
    kind : how the number behaves on the meshes, see ``theory.convergence.Convergence``
    order, extrapolated : observed order [-] and number on a mesh without end; None for none
    mesh_uncertainty, step_uncertainty : for the columns and for the increments, None for unknown
    uncertainty : sum of both, of the first alone where the second is unknown; None without it
    low, high : bounds by the case, None for none
    note : what else is to be known, empty for nothing
    """

    stage: str
    measure: str
    unit: str
    value: float
    medium: float | None
    coarse: float | None
    halved_increments: float | None
    kind: str
    order: float | None
    extrapolated: float | None
    mesh_uncertainty: float | None
    step_uncertainty: float | None
    uncertainty: float | None
    low: float | None
    high: float | None
    note: str

    @property
    def open(self) -> bool:
        """Whether a bound of the case lies within the bar, so that its check might turn."""
        if self.uncertainty is None:
            return False
        bounds = [bound for bound in (self.low, self.high) if bound is not None]
        return any(abs(self.value - bound) <= self.uncertainty for bound in bounds)


def error_bars(
    members: Sequence[Member], summaries: Mapping[str, Mapping[str, Any]], ended: str
) -> dict[str, Any]:
    """What ``error_bars`` of a summary holds.

    Parameters
    ----------
    members : runs of the family, the case's own among them
    summaries : of those that have made a stage, by role
    ended : ``finished``, or ``interrupted`` before all members were run
    """
    numbers = {role: headline(summary) for role, summary in summaries.items()}
    by_role = {member.role: member for member in members}
    sizes = [1.0 / by_role[role].columns if role in by_role else math.nan for role in MESHES]
    ratio = _increment_ratio(by_role)
    bars = [_bar(number, numbers, sizes, ratio) for number in numbers[FINE].values()]
    return {
        "ended": ended,
        "increment_ratio": ratio,
        "runs": [member.row for member in members],
        "measures": [asdict(bar) | {"open": bar.open} for bar in bars],
    }


def increments_of(summary: Mapping[str, Any]) -> int:
    """Accepted increments of all stages."""
    return sum(stage["increments"] for stage in summary["stages"])


def _increment_ratio(by_role: Mapping[str, Member]) -> float | None:
    """Increments of the case's own run over shorter ones, from their counts; None for alike."""
    own, halved = by_role[FINE].increments, by_role.get(HALVED)
    if not own or halved is None or not halved.increments:
        return None
    ratio = halved.increments / own
    return ratio if ratio >= SHORTER else None


def _bar(
    number: Number,
    numbers: Mapping[str, Mapping[tuple[str, str], Number]],
    sizes: Sequence[float],
    ratio: float | None,
) -> Bar:
    key = number.stage, number.name
    same = {role: found[key] for role, found in numbers.items() if key in found}
    values = [same[role].value if role in same else None for role in MESHES]
    halved = same[HALVED].value if HALVED in same else None
    noise = NOISE * max(abs(one.value) for one in same.values())
    note, found = _note(same), judged(values, sizes, noise)
    if note:
        found = moved(found, values)
    step = None
    if halved is not None and ratio is not None:
        step = step_bar(number.value, halved, ratio, noise)
    known = [bar for bar in (found.uncertainty, step) if bar is not None]
    return Bar(
        number.stage,
        number.name,
        number.unit,
        number.value,
        values[1],
        values[2],
        halved,
        found.kind,
        found.order,
        found.extrapolated,
        found.uncertainty,
        step,
        None if found.uncertainty is None else sum(known),
        number.low,
        number.high,
        note,
    )


def _note(same: Mapping[str, Number]) -> str:
    """Zones of a number that is not of one zone on all meshes; empty where it is."""
    places = {role: same[role].place for role in MESHES if role in same}
    if len(set(places.values())) < 2:
        return ""
    return ", ".join(f"{place} on the {role} mesh" for role, place in places.items())


def bar_columns(bars: Mapping[str, Any]) -> dict[str, Column]:
    """Columns of ``error_bars.csv``, one row per number; empty cells where there is none."""
    runs = {run["role"]: run for run in bars["runs"]}
    rows = bars["measures"]
    columns: dict[str, Column] = {
        name: [row[name] for row in rows] for name in ("stage", "measure", "unit")
    }
    for name in _NUMERIC:
        columns[name] = [math.nan if row[name] is None else row[name] for row in rows]
    for role in MESHES:
        count = runs[role]["columns"] if role in runs else math.nan
        columns[f"columns_{role}"] = [count] * len(rows)
    columns["kind"] = [row["kind"] for row in rows]
    columns["note"] = [row["note"] for row in rows]
    return columns
