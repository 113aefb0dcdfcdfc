"""Whether the finished part holds: inside pressure and top load, their limits and margins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.case.stage import Pressurise, Stage, TopLoad
from formsim.results.course import PASSED, Course, course, load_curve
from formsim.results.record import StageRecord
from formsim.results.thickness import thickness_profile
from formsim.results.zones import zones
from formsim.stages.gauges import strength_gauges

YIELDS = 1e-4
"""Increase of the plastic strain anywhere that counts as first yield."""


@dataclass(frozen=True)
class NamedPressure:
    """The body at a pressure the case names.

    Attributes
    ----------
    name, pressure : of the case [MPa]
    reached : whether it was reached before the body gave way
    margin : limit over it; None where no limit was looked for [-]
    centre_growth, nose_growth : how much the base has grown there; None where not reached [mm]
    volume : what the inside holds more there; None where not reached [ml]
    wall_radius : largest outside radius of the wall there; None where not reached [mm]
    """

    name: str
    pressure: float
    reached: bool
    margin: float | None
    centre_growth: float | None
    nose_growth: float | None
    volume: float | None
    wall_radius: float | None


@dataclass(frozen=True)
class PressureFigures:
    """What an inside pressure does to a body.

    Attributes
    ----------
    limit : pressure at which it gives way; None where that was not reached, or where the body had
        given way before this test [MPa]
    highest : largest pressure in a stable equilibrium [MPa]
    limit_centre_growth, limit_nose_growth : growth of the base at the largest pressure [mm]
    wall_radius, first_wall_radius : largest outside radius of the wall, as it barrels, at the
        largest pressure and before [mm]
    first_yield : pressure at which metal first flows; None where none does [MPa]
    zone, radius, z : where most metal has flowed at the end [mm]
    permanent_centre_growth, permanent_nose_growth : growth left after release; None without [mm]
    named : pressures of the case
    """

    limit: float | None
    highest: float
    limit_centre_growth: float
    limit_nose_growth: float
    wall_radius: float
    first_wall_radius: float
    first_yield: float | None
    zone: str
    radius: float
    z: float
    permanent_centre_growth: float | None
    permanent_nose_growth: float | None
    named: tuple[NamedPressure, ...]


@dataclass(frozen=True)
class LoadFigures:
    """What a top load does to a body.

    Attributes
    ----------
    pressure : inside [MPa]
    crush_load : at which it folds; None where that was not reached, or where the body had given
        way before it was loaded [N]
    highest : largest load in a stable equilibrium [N]
    travel : of the stand from first touch to the largest load [mm]
    first_yield : load at which metal first flows; None where none does [N]
    zone, radius, z : where it folds: most metal has flowed there [mm]
    margin : crush load over the required one; None without [-]
    """

    pressure: float
    crush_load: float | None
    highest: float
    travel: float
    first_yield: float | None
    zone: str
    radius: float
    z: float
    margin: float | None


def pressure_figures(
    record: StageRecord, stage: Pressurise, before: Sequence[Stage] = ()
) -> PressureFigures:
    """Figures of a pressurised body."""
    test = course(record)
    top, limit = test.top, None if record.spoilt else test.limit
    left = _permanent(record)
    zone, radius, z = _flowed(record, stage, before)
    return PressureFigures(
        limit=limit,
        highest=test.largest,
        limit_centre_growth=float(record.gauges["centre_growth"][top]),
        limit_nose_growth=float(record.gauges["nose_growth"][top]),
        wall_radius=float(record.gauges["wall_radius"][top]),
        first_wall_radius=float(record.gauges["wall_radius"][0]),
        first_yield=_first_yield(record, test.load),
        zone=zone,
        radius=radius,
        z=z,
        permanent_centre_growth=left[0] if left else None,
        permanent_nose_growth=left[1] if left else None,
        named=tuple(_at(record, test, limit, *one) for one in stage.named.items()),
    )


def load_figures(record: StageRecord, stage: TopLoad, before: Sequence[Stage] = ()) -> LoadFigures:
    """Figures of a body under top load."""
    test = course(record)
    sound = record.complete and not record.spoilt and test.filled is None
    crush = test.limit if sound else None
    zone, radius, z = _flowed(record, stage, before)
    return LoadFigures(
        pressure=stage.pressure,
        crush_load=crush,
        highest=test.largest,
        travel=float(load_curve(record)[1][test.top]),
        first_yield=_first_yield(record, test.load),
        zone=zone,
        radius=radius,
        z=z,
        margin=crush / stage.required if crush and stage.required else None,
    )


def pressure_notes(record: StageRecord, stage: Pressurise) -> tuple[str, ...]:
    """What an engineer should know about a pressurised body beside its numbers."""
    test, service = course(record), stage.service
    pressure, first = test.load, _first_yield(record, test.load)
    told = (*_spoilt(record), *_leaps(test, 1.0, "MPa"))
    if first is None or service is None or first >= service:
        return told
    if service > test.held:
        return (*told, f"the service pressure of {service:.4g} MPa is more than the body holds")
    rising = slice(int(pressure.argmax()) + 1)
    strain = np.interp(service, pressure[rising], np.array(record.gauges["plastic_strain"])[rising])
    return (
        *told,
        f"metal first flows at {first:.3g} MPa, below the service pressure of {service:.4g} MPa,"
        f" by {100.0 * strain:.2g} % at most up to there: not all growth springs back",
    )


def load_notes(record: StageRecord) -> tuple[str, ...]:
    """What an engineer should know about a loaded body beside its numbers."""
    test = course(record)
    if test.filled is None:
        return (*_spoilt(record), *_leaps(test, 1e-3, "kN"))
    return (
        *_spoilt(record),
        f"the body gives way at {test.filled:.4g} MPa while it is filled, before any top load: what"
        f" it bears after that, {1e-3 * test.largest:.4g} kN, is no strength of a sound body",
    )


def no_strength(record: StageRecord) -> str:
    """Why what a body bears in a test is no strength of it, empty where it is."""
    if record.spoilt:
        return f"the body had given way before: {record.spoilt}"
    if record.kind == "top_load" and (filled := course(record).filled) is not None:
        return f"the body gave way at {filled:.4g} MPa while it was filled"
    return ""


def _spoilt(record: StageRecord) -> tuple[str, ...]:
    if not record.spoilt:
        return ()
    return (
        f"the body had given way before: {record.spoilt}; what it bears here is no strength of a"
        " sound body",
    )


def _leaps(test: Course, factor: float, unit: str) -> tuple[str, ...]:
    """Where a body leaps from one shape to another, if it bears as much or more behind that."""
    load, leap = test.load, test.leap
    if leap is None or leap > test.top and load[leap:].max() < test.largest / PASSED:
        return ()
    before = factor * test.held
    text = f"the body is no longer stable beyond {before:.4g} {unit} and leaps to another shape"
    if leap < test.top:
        return (f"{text}, in which it bears {factor * test.largest:.4g} {unit}",)
    return (f"{text}: larger loads that were met on the way do not count",)


def _first_yield(record: StageRecord, load: Floats) -> float | None:
    """Load at which the plastic strain has first grown, linear between increments."""
    strain = np.asarray(record.gauges["plastic_strain"])
    flowed = np.flatnonzero(strain > YIELDS)
    if not flowed.size:
        return None
    k = int(flowed[0])
    return float(np.interp(YIELDS, strain[k - 1 : k + 1], load[k - 1 : k + 1]))


def _at(
    record: StageRecord, test: Course, limit: float | None, name: str, asked: float
) -> NamedPressure:
    """The body at a pressure on the rising part of its curve."""
    margin, pressure = limit / asked if limit is not None else None, test.load
    reached = asked <= pressure[: test.leap].max() * (1.0 + 1e-9)
    if not reached:
        return NamedPressure(name, asked, False, margin, None, None, None, None)
    k = int(np.argmax(pressure >= asked * (1.0 - 1e-9)))
    rising = slice(max(k - 1, 0), k + 1)

    def value(gauge: str) -> float:
        return float(np.interp(asked, pressure[rising], np.asarray(record.gauges[gauge])[rising]))

    growth = value("centre_growth"), value("nose_growth")
    more, wall = 1e-3 * value("volume"), value("wall_radius")
    return NamedPressure(name, asked, True, margin, *growth, more, wall)


def _permanent(record: StageRecord) -> tuple[float, float] | None:
    """Growth of centre and lowest point that is left after release [mm]."""
    if not record.release:
        return None
    gauges = strength_gauges(record.body, record.frames[0].state)
    return gauges["centre_growth"](record.final), gauges["nose_growth"](record.final)


def flowed_line(record: StageRecord) -> int:
    """Line between columns beside which most metal has flowed, the centre first."""
    more = (record.formed.strain - record.frames[0].state.strain).max(axis=1)
    layers = record.body.columns.layers if record.body.columns else 1
    return int(more.argmax()) // layers


def _flowed(record: StageRecord, stage: Stage, before: Sequence[Stage]) -> tuple[str, float, float]:
    """Zone, radius and height, before the load, of the place where most metal has flowed."""
    line, profile = flowed_line(record), thickness_profile(record.body, record.frames[0].state)
    names = zones(profile, stage, before)
    return names[line], float(profile.radius[line]), float(profile.z[line])
