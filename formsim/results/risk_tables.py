"""Columns of ``risk.csv``, ``damage.csv`` and ``strain_paths.csv``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from formsim.arrays import Floats
from formsim.results.risk import Risk
from formsim.results.tables import Column
from formsim.results.trace import Trace


def risk_columns(rows: Sequence[Risk]) -> dict[str, Column]:
    """One row per stage, zone and risk; empty where there is no number."""
    return {
        "stage": [row.stage for row in rows],
        "zone": [row.zone for row in rows],
        "risk": [row.risk for row in rows],
        "value": [_number(row.value) for row in rows],
        "limit": [_number(row.limit) for row in rows],
        "unit": [row.unit for row in rows],
        "margin_percent": [_number(row.margin, 100.0) for row in rows],
        "verdict": [row.verdict for row in rows],
        "way_mm": [_number(row.way) for row in rows],
        "stroke_mm": [_number(row.stroke) for row in rows],
        "own_limit": ["yes" if row.own else "no" for row in rows],
        "reason": [row.reason for row in rows],
        "source": [row.source for row in rows],
    }


def damage_columns(trace: Trace) -> dict[str, Column]:
    """One row per kept state: the worst places, and the way of the place most damaged at last."""
    last = int(trace.damage[-1].argmax())
    worst = trace.damage.argmax(axis=1)
    states = np.arange(len(trace.strokes))
    share = trace.known_share.max(axis=1)
    thinnest = trace.thinning.argmax(axis=1)
    return {
        "stage": [trace.stage] * len(states),
        "phase": list(trace.phases),
        "stroke_mm": list(trace.strokes),
        "largest_damage": list(trace.damage[states, worst]),
        "at_way_mm": list(trace.way[worst]),
        "largest_limit_curve_share": _known(share),
        "largest_constant_volume_thinning_percent": list(trace.thinning[states, thinnest]),
        "thinnest_way_mm": list(trace.way[thinnest]),
        "critical_way_mm": [float(trace.way[last])] * len(states),
        "critical_damage": list(trace.damage[:, last]),
        "critical_major_strain": list(trace.major[:, last]),
        "critical_minor_strain": list(trace.minor[:, last]),
    }


def path_columns(trace: Trace) -> dict[str, Column]:
    """One row per zone and kept state: the way of the place of the zone most damaged at last."""
    names = np.array(trace.zones)
    found = [(zone, np.flatnonzero(names == zone)) for zone in dict.fromkeys(trace.zones)]
    places = [(zone, int(own[trace.damage[-1, own].argmax()])) for zone, own in found]
    states = len(trace.strokes)
    columns: dict[str, Column] = {
        "stage": [trace.stage] * (states * len(places)),
        "zone": [zone for zone, _ in places for _ in range(states)],
        "phase": list(trace.phases) * len(places),
        "stroke_mm": list(trace.strokes) * len(places),
        "way_mm": [float(trace.way[k]) for _, k in places for _ in range(states)],
    }
    kept = (("damage", trace.damage), ("major_strain", trace.major), ("minor_strain", trace.minor))
    for name, values in kept:
        columns[name] = [float(value) for _, k in places for value in values[:, k]]
    return columns


def _known(values: Floats) -> list[float]:
    return list(np.where(np.isfinite(values), values, np.nan))


def _number(value: float | None, factor: float = 1.0) -> float:
    return float("nan") if value is None else factor * value
