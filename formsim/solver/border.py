"""Scalar unknowns beside the displacements: pressed tools, unknown pressures, ties."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.solver.arc import arc, stopped
from formsim.solver.problem import Press, Problem
from formsim.solver.state import State

STOP_STIFFNESS = 1000.0


def border_places(problem: Problem) -> Ints:
    """Position of each tool, pressure and tie among the scalar unknowns, -1 where it is given."""
    free = [isinstance(t.motion, Press) for t in problem.tools]
    free += [p.unknown for p in problem.pressures]
    free += [True] * len(problem.ties)
    places = np.cumsum(free) - 1
    return np.where(free, places, -1).astype(np.int64)


class Lines(Protocol):
    """Columns and rows of the scalar unknowns and the totals of the tools, see ``Scratch``."""

    column: Floats
    row: Floats
    totals: Floats


def borders(
    problem: Problem,
    places: Ints,
    lines: Lines,
    trial: tuple[State, float, Floats, Floats],
    residual: Floats,
) -> tuple[Floats, Floats]:
    """Residual of each scalar unknown and its derivative with respect to itself.

    Parameters
    ----------
    places : see ``border_places``
    lines : what ties and ways have there is put in
    trial : last accepted state; stroke, displacement and positions of the trial
    residual : of the displacements; the forces of ties are added
    """
    start, stroke, u, positions = trial
    _add_ties(problem, lines.column, lines.row, residual, positions, places)
    border, slope = _border_residual(problem, lines.totals, stroke, u, positions, places)
    changes = stroke - start.stroke, u - start.u, positions - start.positions
    _add_arcs(problem, lines.row, border, slope, changes, positions, places)
    return border, slope


def _add_ties(
    problem: Problem,
    column: Floats,
    row: Floats,
    residual: Floats,
    positions: Floats,
    places: Ints,
) -> None:
    """Add the forces of the ties and their borders."""
    first = len(problem.tools) + len(problem.pressures)
    stiff = problem.scales.force / problem.scales.length
    for k, tie in enumerate(problem.ties, start=first):
        residual -= positions[k] * tie.pattern
        column[places[k]] -= tie.pattern
        row[places[k]] += stiff * tie.pattern


def _add_arcs(
    problem: Problem,
    row: Floats,
    residual: Floats,
    slope: Floats,
    changes: tuple[float, Floats, Floats],
    positions: Floats,
    places: Ints,
) -> None:
    """Put the pressures that follow the path of the body into the borders.

    Parameters
    ----------
    row, residual, slope : of the scalar unknowns; set where a pressure is one along the path
    changes : stroke, displacement and positions since the last accepted state
    positions : of the trial
    """
    travel, du, moved = changes
    scales = problem.scales
    stiff = scales.force / scales.length
    for k, load in enumerate(problem.pressures, start=len(problem.tools)):
        if load.unit is not None:
            found = arc(du, float(moved[k]), load.unit, scales.length)
            short = load.most - float(positions[k])
            found = stopped(found, travel, short, load.unit, scales.length)
            row[places[k]] = stiff * found.by_displacement
            residual[places[k]] = stiff * (found.way - travel)
            slope[places[k]] = stiff * found.by_load


def _border_residual(
    problem: Problem,
    totals: Floats,
    stroke: float,
    u: Floats,
    positions: Floats,
    places: Ints,
) -> tuple[Floats, Floats]:
    """Residual of each scalar unknown and its derivative with respect to itself."""
    n = 1 + max(places, default=-1)
    residual, slope = np.zeros(n), np.zeros(n)
    if n == 0:
        return residual, slope
    resist = STOP_STIFFNESS * problem.scales.stress * problem.scales.length
    for k, tool in enumerate(problem.tools):
        press, b = tool.motion, places[k]
        if not isinstance(press, Press):
            continue
        sign = 1.0 if press.force > 0 else -1.0
        spring = press.stiffness * (positions[k] - press.seat(stroke))
        full = sign * spring >= abs(press.force)
        residual[b] = totals[k, 1] - (press.force if full else spring)
        slope[b] = -totals[k, 2] - (1e-6 * resist if full else press.stiffness)
        stop = -np.inf if press.stop is None else press.stop(stroke)
        if positions[k] < stop:
            residual[b] += resist * (stop - positions[k])
            slope[b] -= resist
    stiff = problem.scales.force / problem.scales.length
    for k, tie in enumerate(problem.ties, start=len(problem.tools) + len(problem.pressures)):
        residual[places[k]] = stiff * (tie.pattern @ u - tie.target(stroke))
    for k, load in enumerate(problem.pressures, start=len(problem.tools)):
        if places[k] >= 0 and load.target is not None:
            residual[places[k]] = stiff * (u[load.control] - load.target(stroke))
    return residual, slope
