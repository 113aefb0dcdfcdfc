"""Tables of numbers as text: comma-separated, units in the header, one line of notes on top."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.errors import StoreError
from formsim.results.forces import force_curves, lid_force
from formsim.results.ram import Ram
from formsim.results.rate_and_heat import column_temperatures
from formsim.results.record import StageRecord
from formsim.results.strains import surface_strains
from formsim.results.thickness import thickness_profile
from formsim.solver.body import Body
from formsim.solver.state import State

Column = Sequence[float | str]


@dataclass(frozen=True)
class Table:
    """Columns of equal length by name, numbers where every value is one."""

    notes: dict[str, str]
    columns: dict[str, list[float] | list[str]]


def thickness_columns(
    body: Body, state: State, stage: str, zones: Sequence[str]
) -> dict[str, Column]:
    """Thickness and strains at every line of a state; ``zones`` names each line."""
    profile, strains = thickness_profile(body, state), surface_strains(body, state)
    lines, middle = profile.way, strains.way

    def carried(values: Floats) -> list[float]:
        return list(np.interp(lines, middle, values))

    columns: dict[str, Column] = {
        "stage": [stage] * len(lines),
        "zone": list(zones),
        "original_radius_mm": list(profile.original_radius),
        "radius_mm": list(profile.radius),
        "z_mm": list(profile.z),
        "arc_length_mm": list(profile.arc_length),
        "thickness_mm": list(profile.thickness),
        "volume_thickness_mm": list(profile.volume_thickness_at_lines),
        "constant_volume_thickness_mm": carried(strains.constant_volume_thickness),
        "thinning_percent": list(profile.thinning_percent),
        "equivalent_plastic_strain": carried(strains.equivalent),
    }
    for k, face in enumerate(("bottom", "middle", "top")):
        columns[f"meridional_log_strain_{face}"] = carried(strains.meridional[k])
        columns[f"hoop_log_strain_{face}"] = carried(strains.hoop[k])
    degrees = column_temperatures(body, state)
    return columns if degrees is None else {**columns, "temperature_degc": carried(degrees)}


def timed(columns: Mapping[str, Column], ram: Ram | None) -> dict[str, Column]:
    """Force columns with time and speed of the ram behind them, empty where no press works."""
    rows = len(columns["stroke_mm"])
    time = speed = np.full(rows, np.nan)
    if ram is not None:
        time, speed = (np.tile(v, rows // len(ram.time)) for v in (ram.time, ram.speed))
    return {**columns, "time_s": list(time + 0.0), "speed_mm_per_s": list(speed)}


def force_columns(record: StageRecord) -> dict[str, Column]:
    """One row per increment and tool, behind the tools fluids and a lid."""
    curves = force_curves(record)
    gaps = [row.mean_gap for row in record.increments]
    spread = [row.rms_gap for row in record.increments]
    nothing = [float("nan")] * len(curves.stroke)
    names = ("stage", "tool", "stroke_mm", "travel_mm", "force_n", "balance_force_n")
    columns: dict[str, list[float | str]] = {name: [] for name in names}
    columns |= {name: [] for name in ("mean_gap_um", "rms_gap_um", "pressure_mpa")}

    def add(tool: str, *values: Sequence[float]) -> None:
        rows: tuple[Column, ...] = (
            [record.name] * len(curves.stroke),
            [tool] * len(curves.stroke),
            list(curves.stroke),
            *values,
        )
        for column, more in zip(columns.values(), rows, strict=True):
            column.extend(more)

    for k, tool in enumerate(curves.tools):
        mean = [0.0, *(1e3 * float(gap[k]) for gap in gaps)]
        rms = [0.0, *(1e3 * float(gap[k]) for gap in spread)]
        force, balance = list(curves.force[:, k]), list(curves.balance_force[:, k])
        add(tool, list(curves.travel[:, k]), force, balance, mean, rms, nothing)
    for k in range(curves.pressure.shape[1]):
        fluid = "fluid" if k == 0 else f"fluid {k + 1}"
        add(fluid, nothing, nothing, nothing, nothing, nothing, list(curves.pressure[:, k]))
    lid = lid_force(record)
    if lid is not None:
        rests = [0.0] * len(lid)
        add("lid", rests, list(lid), nothing, nothing, nothing, nothing)
    return {**columns}


def strength_columns(record: StageRecord) -> dict[str, Column]:
    """One row per increment of a body that was pressurised or loaded."""
    curves = force_curves(record)
    nothing = np.full(len(curves.stroke), np.nan)
    load = np.abs(curves.force).max(axis=1) if record.kind == "top_load" else nothing
    return {
        "stage": [record.name] * len(curves.stroke),
        "stroke_mm": list(curves.stroke),
        "pressure_mpa": list(curves.pressure[:, 0] if curves.pressure.size else nothing),
        "top_load_n": list(load),
        "centre_growth_mm": record.gauges["centre_growth"],
        "nose_growth_mm": record.gauges["nose_growth"],
        "wall_radius_mm": record.gauges["wall_radius"],
        "volume_mm3": record.gauges["volume"],
        "plastic_strain": record.gauges["plastic_strain"],
        "stable": ["yes", *("no" if row.unstable else "yes" for row in record.increments)],
    }


def joined(parts: Sequence[Mapping[str, Column]]) -> dict[str, Column]:
    """Tables with the same columns one below the other."""
    names = list(parts[0]) if parts else []
    return {name: [value for part in parts for value in part[name]] for name in names}


def table_text(columns: Mapping[str, Column], notes: Mapping[str, str | int]) -> str:
    """Text of a table; the notes stand in a first line that begins with ``#``."""
    out = io.StringIO()
    out.write("# " + "; ".join(f"{key}: {_plain(value)}" for key, value in notes.items()) + "\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(
        [_shown(value) for value in row] for row in zip(*columns.values(), strict=True)
    )
    return out.getvalue()


def parse_table(text: str, name: str) -> Table:
    """Table from its text; ``name`` is what messages call it.

    Raises
    ------
    StoreError : the text is no table of this kind
    """
    head, _, rest = text.partition("\n")
    pairs = [note.partition(": ") for note in head.removeprefix("# ").split("; ")]
    rows = list(csv.reader(io.StringIO(rest)))
    if not head.startswith("# ") or not rows or len({len(row) for row in rows}) != 1:
        message = f"{name} is damaged: rows of different length or no header"
        raise StoreError(message, hint="run the case again")
    values = list(zip(*rows[1:], strict=True)) or [()] * len(rows[0])
    columns = {key: _numbers(list(column)) for key, column in zip(rows[0], values, strict=True)}
    return Table({key: note for key, _, note in pairs}, columns)


def _plain(note: str | int) -> str:
    return str(note).replace(";", ",").replace("\n", " ")


def _shown(value: float | str) -> str:
    if isinstance(value, str):
        return value
    return "" if np.isnan(value) else f"{value:.9g}"


def _numbers(column: list[str]) -> list[float] | list[str]:
    try:
        return [float(value) if value else float("nan") for value in column]
    except ValueError:
        return column
