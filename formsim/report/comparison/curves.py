"""Curves of a result as its tables hold them: thickness, force, strain path, section."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from formsim.arrays import Floats
from formsim.report.comparison.side import Side
from formsim.results.tables import Table

FLAT = "radius in the flat blank [mm]"
NOW = "way along the sheet as it is then [mm]"


class StrainPath(NamedTuple):
    """Strains of the middle of the sheet at one place over a stage, (n) each, and its place."""

    minor: Floats
    major: Floats
    place: float


def thickness(side: Side, stage: str, *, flat: bool) -> tuple[Floats, Floats] | None:
    """Place along the sheet and thickness after a stage, (n) each [mm]; None without a table."""
    place = "original_radius_mm" if flat else "arc_length_mm"
    found = _columns(side.thickness, stage, (place, "thickness_mm"))
    return None if found is None else (found[0], found[1])


def starts_flat(side: Side, stage: str) -> bool:
    """Whether the radius before the first stage tells every place of the sheet."""
    found = _columns(side.thickness, stage, ("original_radius_mm",))
    return found is None or bool((np.diff(found[0]) > 0.0).all())


def section(side: Side, stage: str) -> tuple[Floats, Floats, Floats] | None:
    """Radius, height over the lowest place and thickness of the middle, (n) each [mm]."""
    found = _columns(side.thickness, stage, ("radius_mm", "z_mm", "thickness_mm"))
    if found is None:
        return None
    radius, height, thick = found
    return radius, height - float((height - 0.5 * thick).min()), thick


def tools(side: Side, stage: str) -> list[str]:
    """Names of what bears a force in a stage."""
    if side.forces is None:
        return []
    names = zip(side.forces.columns["stage"], side.forces.columns["tool"], strict=True)
    return list(dict.fromkeys(str(tool) for name, tool in names if name == stage))


def force(side: Side, stage: str, tool: str) -> tuple[Floats, Floats] | None:
    """Stroke [mm] and size of the force [kN] or, of a fluid, pressure [MPa], (n) each."""
    keys = ("stroke_mm", "pressure_mpa" if is_fluid(tool) else "force_n")
    found = _columns(side.forces, stage, keys, {"tool": tool})
    if found is None:
        return None
    return found[0], np.abs(found[1]) * (1.0 if is_fluid(tool) else 1e-3)


def is_fluid(tool: str) -> bool:
    """Whether a row of the force table is a pressure."""
    return tool.startswith("fluid")


def zones(side: Side, stage: str) -> list[str]:
    """Zones of a stage that have a strain path."""
    if side.paths is None or "zone" not in side.paths.columns:
        return []
    names = zip(side.paths.columns["stage"], side.paths.columns["zone"], strict=True)
    return list(dict.fromkeys(str(zone) for name, zone in names if name == stage))


def strain_path(side: Side, stage: str, zone: str) -> StrainPath | None:
    """Way of the place with the most damage of a zone through its strains."""
    keys = ("minor_strain", "major_strain", "way_mm")
    found = _columns(side.paths, stage, keys, {"zone": zone})
    return None if found is None else StrainPath(found[0], found[1], float(found[2][-1]))


def _columns(
    table: Table | None, stage: str, keys: Sequence[str], of: Mapping[str, str] | None = None
) -> tuple[Floats, ...] | None:
    """Columns of the rows of a stage, and ``of`` one tool or zone, without gaps."""
    if table is None or any(key not in table.columns for key in keys):
        return None
    kept = np.full(len(table.columns["stage"]), True)
    for column, name in {"stage": stage, **(of or {})}.items():
        kept &= np.array(table.columns[column], dtype=str) == name
    try:
        values = np.array([np.asarray(table.columns[key], dtype=float)[kept] for key in keys])
    except ValueError:
        return None
    values = values[:, np.isfinite(values).all(axis=0)]
    return tuple(values) if values.shape[1] > 1 else None
