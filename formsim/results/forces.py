"""Force, travel and work of every tool over a stage."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.results.record import StageRecord


@dataclass(frozen=True)
class ForceCurves:
    """What the tools of a stage do, one row per increment, the first row before any contact.

    Attributes
    ----------
    tools : names, in the order of the columns
    stroke : stage parameter, (n_rows) [mm]
    travel : axial way of each tool relative to the frame tool, (n_rows, n_tools) [mm]
    force : axial force of the sheet on each tool, upwards positive, (n_rows, n_tools) [N]
    balance_force : the same from the internal forces, (n_rows, n_tools) [N]
    pressure : fluid pressures, (n_rows, n_pressures) [MPa]
    """

    tools: tuple[str, ...]
    stroke: Floats
    travel: Floats
    force: Floats
    balance_force: Floats
    pressure: Floats


def force_curves(record: StageRecord) -> ForceCurves:
    """Forces and travels of a stage under load, full circle."""
    n, rows = len(record.tools), record.increments
    names = tuple(tool.name for tool in record.tools)
    begin = _begin(record)
    places = np.concatenate([begin[None], _stack([row.positions[:n] for row in rows], n)])
    relative = places - begin
    if record.frame_tool in names:
        relative = relative - relative[:, [names.index(record.frame_tool)]]
    none = np.zeros((1, n))
    m = len(record.pressures)
    return ForceCurves(
        tools=names,
        stroke=np.array([record.frames[0].stroke, *(row.stroke for row in rows)]),
        travel=relative,
        force=np.concatenate([none, _stack([row.forces for row in rows], n)]),
        balance_force=np.concatenate([none, _stack([row.balance_forces for row in rows], n)]),
        pressure=np.concatenate(
            [np.zeros((1, m)), _stack([row.positions[n : n + m] for row in rows], m)]
        ),
    )


def peak_forces(record: StageRecord) -> dict[str, float]:
    """Largest axial force of each tool, without sign [N]."""
    curves = force_curves(record)
    return dict(zip(curves.tools, np.abs(curves.force).max(axis=0).tolist(), strict=True))


def tool_work(record: StageRecord) -> dict[str, float]:
    """Work each tool does on the sheet, positive when the press gives it [J].

    ``-integral F d(z - z_frame)`` with the force of the sheet on the tool; the frame tool does
    none, and where only tools hold the sheet the sum is the work of the press. Fluid pressures
    appear as ``fluid``: all external work that no tool did in the frame of the model.
    """
    curves = force_curves(record)
    work = _integral(curves.force, curves.travel)
    named = dict(zip(curves.tools, work.tolist(), strict=True))
    if record.pressures and record.increments:
        own = np.stack([row.positions[: len(curves.tools)] for row in record.increments])
        tools = _integral(curves.force, np.concatenate([_begin(record)[None], own])).sum()
        named["fluid"] = 1e-3 * record.increments[-1].energy.external - float(tools)
    return named


def lid_force(record: StageRecord) -> Floats | None:
    """Axial force of the sheet on a lid at its rim over the rows of ``force_curves``, (n_rows) [N].

    Upwards positive: a pressure inside pulls the lid down by what the base bears, a top load
    presses it up. None without a lid.
    """
    if not record.lid:
        return None
    place = len(record.tools) + len(record.pressures)
    on_body = [
        row.reaction if record.lid == "support" else float(row.positions[place])
        for row in record.increments
    ]
    return 0.0 - np.array([0.0, *on_body])


def peak_pressure(record: StageRecord) -> float:
    """Largest fluid pressure of a stage, 0 without any [MPa]."""
    pressure = force_curves(record).pressure
    return float(np.abs(pressure).max()) if pressure.size else 0.0


def force_mismatch(record: StageRecord) -> float:
    """Largest difference of the two force measures over the largest force [-]."""
    curves = force_curves(record)
    largest = float(np.abs(curves.force).max(initial=0.0))
    if largest == 0.0:
        return 0.0
    return float(np.abs(curves.force - curves.balance_force).max()) / largest


def _integral(force: Floats, way: Floats) -> Floats:
    """Work on the sheet by the trapezoidal rule, (n_tools) [J]."""
    mean, step = 0.5 * (force[1:] + force[:-1]), np.diff(way, axis=0)
    work: Floats = 0.0 - 1e-3 * (mean * step).sum(axis=0)
    return work


def _stack(rows: list[Floats], width: int) -> Floats:
    return np.array(rows, dtype=float).reshape(len(rows), width)


def _begin(record: StageRecord) -> Floats:
    """Tool positions before any contact, (n_tools) [mm]."""
    first = record.frames[0].positions
    return np.array([first[tool.name] for tool in record.tools], dtype=float)
