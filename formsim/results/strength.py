"""Whether the finished part holds: inside pressure and top load, their limits and margins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.case.stage import Pressurise, Stage, TopLoad
from formsim.results.forces import force_curves
from formsim.results.record import StageRecord
from formsim.results.thickness import thickness_profile
from formsim.results.zones import zones
from formsim.stages.gauges import strength_gauges

YIELDS = 1e-4
"""Increase of the plastic strain anywhere that counts as first yield."""

PASSED = 0.999
"""Share of its peak to which a load has fallen once its limit is passed."""

LEAPT = 0.02
"""Share of its peak below which a load without stable equilibrium is only tools touching."""


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
    limit : pressure at which it gives way; None where that was not reached [MPa]
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
    crush_load : at which it folds; None where that was not reached [N]
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
    pressure, top = applied_load(record), peak_row(record)
    limit = _limit(record) if stage.until == "limit" else None
    left = _permanent(record)
    zone, radius, z = _flowed(record, stage, before)
    return PressureFigures(
        limit=limit,
        highest=float(pressure[top]),
        limit_centre_growth=float(record.gauges["centre_growth"][top]),
        limit_nose_growth=float(record.gauges["nose_growth"][top]),
        wall_radius=float(record.gauges["wall_radius"][top]),
        first_wall_radius=float(record.gauges["wall_radius"][0]),
        first_yield=_first_yield(record, pressure),
        zone=zone,
        radius=radius,
        z=z,
        permanent_centre_growth=left[0] if left else None,
        permanent_nose_growth=left[1] if left else None,
        named=tuple(_at(record, pressure, limit, *one) for one in stage.named.items()),
    )


def load_figures(record: StageRecord, stage: TopLoad, before: Sequence[Stage] = ()) -> LoadFigures:
    """Figures of a body under top load."""
    load, travel = load_curve(record)
    top = peak_row(record)
    crush = _limit(record) if record.complete else None
    zone, radius, z = _flowed(record, stage, before)
    return LoadFigures(
        pressure=stage.pressure,
        crush_load=crush,
        highest=float(load[top]),
        travel=float(travel[top]),
        first_yield=_first_yield(record, load),
        zone=zone,
        radius=radius,
        z=z,
        margin=crush / stage.required if crush and stage.required else None,
    )


def pressure_notes(record: StageRecord, stage: Pressurise) -> tuple[str, ...]:
    """What an engineer should know about a pressurised body beside its numbers."""
    pressure, service = applied_load(record), stage.service
    first, leaps = _first_yield(record, pressure), _leaps(record, 1.0, "MPa")
    if first is None or service is None or first >= service:
        return leaps
    if service > load_held(record):
        return (*leaps, f"the service pressure of {service:.4g} MPa is more than the body holds")
    rising = slice(int(pressure.argmax()) + 1)
    strain = np.interp(service, pressure[rising], np.array(record.gauges["plastic_strain"])[rising])
    return (
        *leaps,
        f"metal first flows at {first:.3g} MPa, below the service pressure of {service:.4g} MPa,"
        f" by {100.0 * strain:.2g} % at most up to there: not all growth springs back",
    )


def load_notes(record: StageRecord) -> tuple[str, ...]:
    """What an engineer should know about a loaded body beside its numbers."""
    return _leaps(record, 1e-3, "kN")


def _leaps(record: StageRecord, factor: float, unit: str) -> tuple[str, ...]:
    """Where a body leaps from one shape to another, if it bears as much or more behind that."""
    load, top, leap = applied_load(record), peak_row(record), _first_leap(record)
    if leap is None or leap > top and load[leap:].max() < load[top] / PASSED:
        return ()
    before = factor * load_held(record)
    text = f"the body is no longer stable beyond {before:.4g} {unit} and leaps to another shape"
    if leap < top:
        return (f"{text}, in which it bears {factor * load[top]:.4g} {unit}",)
    return (f"{text}: larger loads that were met on the way do not count",)


def load_curve(record: StageRecord) -> tuple[Floats, Floats]:
    """Top load and travel since it began, over the increments, (n_rows) [N] and [mm].

    While the body is filled, before stroke 0, it bears none.
    """
    curves = force_curves(record)
    load: Floats = np.where(curves.stroke > 0.0, np.abs(curves.force).max(axis=1), 0.0)
    touched = np.flatnonzero(load > 1e-3 * load.max(initial=0.0))
    begin = curves.stroke[max(int(touched[0]) - 1, 0)] if touched.size else curves.stroke[0]
    return load, np.maximum(curves.stroke - begin, 0.0)


def applied_load(record: StageRecord) -> Floats:
    """What a body is tested by, over the increments: pressure [MPa] or top load [N], (n_rows)."""
    if record.kind == "top_load":
        return load_curve(record)[0]
    return force_curves(record).pressure[:, 0]


def has_given_way(record: StageRecord) -> bool:
    """Whether a body under test has passed its largest load, or is no longer stable."""
    return _limit(record) is not None


def peak_row(record: StageRecord) -> int:
    """Row of the largest load in a stable equilibrium.

    Increments of finite length may follow a body past the point where it gives way, along shapes
    in which it could not stay; what it bears there is no strength. A base that the pressure has
    turned inside out has given way, whatever it holds then.
    """
    load = _stable_load(record)
    leap = _first_leap(record) if record.kind == "pressurise" else None
    return int(load[:leap].argmax())


def largest_load(record: StageRecord) -> float:
    """Largest load in a stable equilibrium: pressure [MPa] or top load [N]."""
    return float(applied_load(record)[peak_row(record)])


def load_held(record: StageRecord) -> float:
    """Largest load before the body first leaps to another shape: pressure [MPa] or top load [N].

    What it bears in the other shape, such as a base turned inside out, is not what it held.
    """
    return float(_stable_load(record)[: _first_leap(record)].max())


def _first_leap(record: StageRecord) -> int | None:
    """First row without a stable equilibrium, where that is not only tools touching."""
    least = LEAPT * float(_stable_load(record).max())
    loose = np.flatnonzero((_unstable(record) > 0) & (applied_load(record) > least))
    return int(loose[0]) if loose.size else None


def _stable_load(record: StageRecord) -> Floats:
    """Load over the increments, minus infinity without a stable equilibrium, (n_rows)."""
    load: Floats = np.where(_unstable(record) > 0, -np.inf, applied_load(record))
    return load


def _unstable(record: StageRecord) -> Ints:
    """Negative pivots of the tangent, the row before any load first, (n_rows)."""
    return np.array([0, *(row.unstable for row in record.increments)])


def _limit(record: StageRecord) -> float | None:
    """Largest stable load where the body has passed it since, else None."""
    load, top = applied_load(record), peak_row(record)
    passed = load[-1] < PASSED * load[top] or bool((_unstable(record)[top:] > 0).any())
    return float(load[top]) if passed else None


def _first_yield(record: StageRecord, load: Floats) -> float | None:
    """Load at which the plastic strain has first grown, linear between increments."""
    strain = np.asarray(record.gauges["plastic_strain"])
    flowed = np.flatnonzero(strain > YIELDS)
    if not flowed.size:
        return None
    k = int(flowed[0])
    return float(np.interp(YIELDS, strain[k - 1 : k + 1], load[k - 1 : k + 1]))


def _at(
    record: StageRecord, pressure: Floats, limit: float | None, name: str, asked: float
) -> NamedPressure:
    """The body at a pressure on the rising part of its curve."""
    margin = limit / asked if limit is not None else None
    reached = asked <= pressure.max() * (1.0 + 1e-9)
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
