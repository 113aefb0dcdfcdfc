"""Rate and temperature of an increment, and the heat that its plastic work leaves behind.

The flow stress is that of the curve times a factor of temperature, as it was when the increment
began, times a factor of the rate, the plastic strain of the increment over its time. So the rate is
implicit and the temperature explicit; both are of first order in the increment. Where no time has
passed, as when a stage opens, the factors are those the state was accepted with.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from formsim.arrays import Floats
from formsim.kernels import kernel
from formsim.solver.problem import MaterialData, Problem, Tempo
from formsim.solver.rates import rate_factor
from formsim.solver.state import State
from formsim.solver.stress import TABLE_STEP

TEMPERATURE, WARM, FACTOR, FASTEST = range(4)
"""Of a point: temperature [degC], nan where none is followed; its factor on the flow stress; all
that the flow stress was multiplied with last [-]; its highest plastic strain rate so far [1/s]."""

NO_PACE = np.zeros((0, 5))
"""Pace of elements that know neither rate nor temperature."""


def cold(shape: tuple[int, ...], temperature: float = np.nan) -> Floats:
    """Heat of metal that was never worked, (n_el, n_q, 4)."""
    heat = np.ones((*shape, 4))
    heat[..., TEMPERATURE], heat[..., FASTEST] = temperature, 0.0
    return heat


def cooled(heat: Floats, temperature: float) -> Floats:
    """Heat of a sheet that has cooled down; what its stress had come to stays."""
    still = rested(heat)
    still[..., TEMPERATURE], still[..., WARM] = temperature, 1.0
    return still


def rested(heat: Floats) -> Floats:
    """Heat of a sheet before a stage, as warm as it was."""
    still = heat.copy()
    still[..., FASTEST] = 0.0
    return still


def temperatures(state: State) -> Floats | None:
    """Temperature of the points, (n_el, n_q) [degC]; None where none is followed."""
    values: Floats = state.heat[..., TEMPERATURE]
    return values if values.size and bool(np.isfinite(values).all()) else None


def slowed(tempo: Tempo | None, length: float) -> Tempo | None:
    """The same speed for a stage parameter whose unit is a length [mm]."""
    return None if tempo is None else replace(tempo, speed=tempo.speed / length)


def pace_of(tempo: Tempo | None, start: State, stroke: float) -> Floats:
    """Factors of temperature at the points and one over the time of the increment.

    Parameters
    ----------
    start : state the increment begins with
    stroke : where it ends [mm]

    Returns
    -------
    (n_el, 5) [-], [1/s]; no rows where neither rate nor temperature count.
    """
    if tempo is None:
        return NO_PACE
    travel = stroke - start.reached
    passes = travel > 0.0
    pace = np.zeros((len(travel), 1 + start.heat.shape[1]))
    pace[:, :-1] = np.where(passes[:, None], start.heat[..., WARM], start.heat[..., FACTOR])
    np.divide(tempo.speed, travel, out=pace[:, -1], where=passes)
    return pace


def heated(problem: Problem, old: State, new: State) -> State:
    """A new state with the heat of the increment that led to it."""
    tempo = problem.tempo
    if tempo is None:
        return new
    pace, heat = pace_of(tempo, old, new.stroke), old.heat.copy()
    _set_factors(problem.material.constants, old.plastic, new.plastic, pace, heat)
    new = replace(new, heat=heat, reached=np.full(len(heat), new.stroke))
    if tempo.heating is not None:
        heat[..., TEMPERATURE] += tempo.heating.per_work * work_done(problem.material, old, new)
        if tempo.heating.softening is not None:
            heat[..., WARM] = tempo.heating.softening.factor(heat[..., TEMPERATURE])
    return new


def work_done(material: MaterialData, old: State, new: State) -> Floats:
    """Plastic work of an increment at the points, (n_el, n_q) [MPa].

    The area under the flow curve passed by, times the factor at the end of the increment.
    """
    work = np.empty(new.strain.shape)
    step = float(material.constants[TABLE_STEP])
    _add_area(old.plastic, new.plastic, new.heat, material.plastic_work, step, work)
    return work


def largest_loss(problem: Problem, old: State, new: State) -> float:
    """Largest share of the flow stress a point lost to heat within an increment [-]."""
    tempo = problem.tempo
    if tempo is None or tempo.heating is None or tempo.heating.softening is None:
        return 0.0
    lost = 1.0 - new.heat[..., WARM] / old.heat[..., WARM]
    return float(lost.max(initial=0.0))


@kernel
def _set_factors(
    material: Floats, before: Floats, plastic: Floats, pace: Floats, heat: Floats
) -> None:
    """Set what the flow stress was multiplied with in an increment, and the highest rate."""
    n_q = plastic.shape[1]
    for e in range(plastic.shape[0]):
        for q in range(n_q):
            grown = max(plastic[e, q, 3] - before[e, q, 3], 0.0)
            rate = grown * pace[e, n_q]
            factor, _ = rate_factor(material, rate)
            heat[e, q, FACTOR] = pace[e, q] * factor
            heat[e, q, FASTEST] = max(heat[e, q, FASTEST], rate)


@kernel
def area_under(work: Floats, step: float, strain: float) -> float:
    """Area under the flow curve, linear between the strains of its table [MPa]."""
    place = np.sqrt(max(strain, 0.0)) / step
    k = min(int(place), len(work) - 2)
    area: float = work[k] + (place - k) * (work[k + 1] - work[k])
    return area


@kernel
def _add_area(
    before: Floats, plastic: Floats, heat: Floats, work: Floats, step: float, done: Floats
) -> None:
    """Set the plastic work of an increment, see ``work_done``."""
    for e in range(plastic.shape[0]):
        for q in range(plastic.shape[1]):
            rise = area_under(work, step, plastic[e, q, 3]) - area_under(
                work, step, before[e, q, 3]
            )
            done[e, q] = heat[e, q, FACTOR] * rise
