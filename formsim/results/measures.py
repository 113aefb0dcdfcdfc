"""Measures by name, for expectations and tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from types import MappingProxyType

import numpy as np

from formsim.arrays import Floats
from formsim.case.stage import Pressurise, Stage, TopLoad
from formsim.errors import FormsimError
from formsim.results import shape
from formsim.results.forces import force_curves
from formsim.results.record import Line, StageRecord
from formsim.results.strains import pole_strains
from formsim.results.strength import load_figures, no_strength, pressure_figures
from formsim.results.thickness import thickness_profile
from formsim.results.trace import Trace
from formsim.solver.body import Body
from formsim.solver.state import State

_SAME_STROKE = 1e-6


def _thinnest_radius(body: Body, state: State) -> float:
    profile = thickness_profile(body, state)
    return float(profile.original_radius[profile.thickness.argmin()])


def _thinning_strain(body: Body, state: State) -> float:
    profile = thickness_profile(body, state)
    return float(-np.log(profile.thickness / profile.original_thickness).min())


OF_STATE: MappingProxyType[str, Callable[[Body, State], float]] = MappingProxyType(
    {
        "height": shape.height,
        "dome_depth": shape.dome_depth,
        "min_thickness": lambda b, s: float(thickness_profile(b, s).thickness.min()),
        "max_thickness": lambda b, s: float(thickness_profile(b, s).thickness.max()),
        "min_thickness_radius": _thinnest_radius,
        "max_thinning_percent": lambda b, s: float(thickness_profile(b, s).thinning_percent.max()),
        "max_thinning_strain": _thinning_strain,
        "pole_radial_strain": lambda b, s: pole_strains(b, s)[0],
        "pole_thickness_strain": lambda b, s: pole_strains(b, s)[1],
    }
)
"""Measures of a body and a state."""

OF_TOOL = MappingProxyType(
    {
        "punch_force": "punch",
        "holder_force": "holder",
        "dome_force": "dome",
        "clamp_force": "clamp",
    }
)
"""Measures of the force of a tool -> name of the tool."""


def _held(record: StageRecord, stage: Pressurise) -> float:
    figures = pressure_figures(record, stage)
    return figures.highest if figures.limit is None else figures.limit


def _crushed(record: StageRecord, stage: TopLoad) -> float:
    figures = load_figures(record, stage)
    return figures.highest if figures.crush_load is None else figures.crush_load


def _at_service(record: StageRecord, stage: Pressurise, name: str) -> float | None:
    found = [one for one in pressure_figures(record, stage).named if one.name == "service"]
    return getattr(found[0], name) if found else None


def measure_of_test(line: Line, stage: Stage, name: str) -> float:
    """Value of a measure of a body under test, in its unit of ``formsim.case.expect.MEASURES``.

    A body that was not brought to its limit has held at least its largest load, which stands then.

    Raises
    ------
    FormsimError : the stage has no such measure, the service pressure was not reached, or the
        body had given way before
    """
    record, found = _stage(line, stage.name), None
    if name in ("limit_pressure", "crush_load") and (why := no_strength(record)):
        message = f'stage "{record.name}" tells no {name.replace("_", " ")}: {why}'
        raise FormsimError(message, hint="test the body before that, or one that is sound")
    match stage, name:
        case Pressurise(), "limit_pressure":
            found = _held(record, stage)
        case TopLoad(), "crush_load":
            found = _crushed(record, stage)
        case Pressurise(), "service_centre_growth" | "service_nose_growth":
            found = _at_service(record, stage, name.removeprefix("service_"))
        case Pressurise(), "permanent_centre_growth" | "permanent_nose_growth":
            found = getattr(pressure_figures(record, stage), name)
    if found is None:
        message = f'stage "{record.name}" came to no {name.replace("_", " ")}'
        raise FormsimError(message, hint="see what the table says of that stage")
    return found


def measure_of_risk(traces: Sequence[Trace], stage: str, name: str, at: float | None) -> float:
    """Largest damage or share of the limit curve of a stage [-].

    Parameters
    ----------
    traces : what the columns of the stages went through
    stage : name of the stage
    name : ``damage`` or ``limit_curve_share``
    at : stroke to look at under load [mm]; None for the largest of the stage

    Raises
    ------
    FormsimError : no curve is given or holds anywhere, or ``at`` beyond the stroke that was made
    """
    trace = next((one for one in traces if one.stage == stage), None)
    if trace is None:
        message = f'nothing is known of the way of the sheet through stage "{stage}"'
        raise FormsimError(message, hint="ask for a stage that forms the sheet")
    of_state = (trace.damage if name == "damage" else trace.known_share).max(axis=1)
    forming = np.array([phase != "springback" for phase in trace.phases])
    value = float(of_state.max())
    if at is not None:
        _check_stroke_of(stage, trace.strokes[forming], at)
        value = float(np.interp(at, trace.strokes[forming], of_state[forming]))
    if not np.isfinite(value):
        message = f'no limit curve holds anywhere in stage "{stage}"'
        raise FormsimError(message, hint="give one, or see why in the table of risks")
    return value


def measure(line: Line, stage_name: str | None, name: str, at: float | None) -> float:
    """Value of a named measure, in its unit of ``formsim.case.expect.MEASURES``.

    Parameters
    ----------
    stage_name : stage to look at; None for the last one
    name : measure
    at : stroke to look at under load [mm]; None for the part after springback, and for the peak
        of forces and pressure

    Raises
    ------
    FormsimError : no such stage, measure or tool, or ``at`` beyond the stroke that was made
    """
    record = _stage(line, stage_name)
    if name in OF_TOOL:
        return _tool_force(record, OF_TOOL[name], at)
    if name == "pressure":
        return _pressure(record, at)
    if name not in OF_STATE:
        known = ", ".join([*OF_STATE, *OF_TOOL, "pressure"])
        message = f'no measure is called "{name}"'
        raise FormsimError(message, hint=f"known are {known}")
    if at is None:
        return OF_STATE[name](record.body, record.final)
    return _at_stroke(record, OF_STATE[name], at)


def _stage(line: Line, name: str | None) -> StageRecord:
    if name is None and line.stages:
        return line.stages[-1]
    for record in line.stages:
        if record.name == name:
            return record
    message = f'the line has no stage "{name}"'
    names = ", ".join(record.name for record in line.stages)
    raise FormsimError(message, hint=f"its stages are {names}")


def _at_stroke(record: StageRecord, value: Callable[[Body, State], float], at: float) -> float:
    """Value in the frame of that stroke, or between the two frames next to it."""
    frames = [frame for frame in record.frames if frame.phase != "springback"]
    near = [frame for frame in frames if abs(frame.stroke - at) < _SAME_STROKE]
    if near:
        return value(record.body, near[-1].state)
    strokes = np.array([frame.stroke for frame in frames])
    _check_stroke(record, strokes, at)
    k = int(np.searchsorted(strokes, at))
    low, high = value(record.body, frames[k - 1].state), value(record.body, frames[k].state)
    return float(np.interp(at, strokes[k - 1 : k + 1], [low, high]))


def _tool_force(record: StageRecord, tool: str, at: float | None) -> float:
    curves = force_curves(record)
    if tool not in curves.tools:
        message = f'stage "{record.name}" has no tool "{tool}"'
        raise FormsimError(message, hint=f"its tools are {', '.join(curves.tools) or 'none'}")
    force = np.abs(curves.force[:, curves.tools.index(tool)])
    if at is None:
        return float(force.max())
    _check_stroke(record, curves.stroke, at)
    return float(np.interp(at, curves.stroke, force))


def _pressure(record: StageRecord, at: float | None) -> float:
    curves = force_curves(record)
    if not curves.pressure.size:
        message = f'stage "{record.name}" has no fluid pressure'
        raise FormsimError(message, hint="ask for the pressure of a bulge stage")
    pressure = np.abs(curves.pressure[:, 0])
    if at is None:
        return float(pressure.max())
    _check_stroke(record, curves.stroke, at)
    return float(np.interp(at, curves.stroke, pressure))


def _check_stroke(record: StageRecord, strokes: Floats, at: float) -> None:
    _check_stroke_of(record.name, strokes, at)


def _check_stroke_of(stage: str, strokes: Floats, at: float) -> None:
    first, last = (float(strokes.min()), float(strokes.max())) if len(strokes) else (0.0, 0.0)
    if not first - _SAME_STROKE <= at <= last + _SAME_STROKE:
        message = f'stage "{stage}" was made from {first:g} to {last:g} mm, not at {at:g} mm'
        raise FormsimError(message, hint="choose a stroke the stage passes")
