"""Textbook numbers of redraws, ironing rings and bodies behind them, beside the simulated ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Ints
from formsim.case.rules_line import flange_strain
from formsim.case.stage import Flange, Iron, Redraw, Stage, Stroke
from formsim.results import shape
from formsim.results.closed_form import IDEAL, ONE_THICKNESS, Row
from formsim.results.flanging import edge_strain
from formsim.results.forces import peak_forces
from formsim.results.ironing import RingFigures, ring_figures
from formsim.results.record import StageRecord
from formsim.results.strains import surface_strains
from formsim.results.theory import ironing, redrawing
from formsim.results.theory.limits import require
from formsim.results.theory.plastic_work import mean_flow_stress
from formsim.results.thickness import ThicknessProfile, thickness_profile
from formsim.results.zones import upright_zones, zones
from formsim.solver.state import State

SIEBEL, SACHS = "Siebel and Beisswaenger 1955 (memory)", "Sachs 1927, Hill 1950 (memory)"
UPRIGHT = ("wall", "rim")


def redraw_rows(record: StageRecord, stage: Redraw | Stroke, before: Sequence[Stage]) -> list[Row]:
    """Forces and ratio of a redraw, of a stroke those before its first ring works."""
    wall = _wall(record, record.frames[0].state, before)
    old, new, t = wall.diameter, stage.punch.diameter + wall.thickness, wall.thickness
    peak, sleeve = redraw_peak(record), peak_forces(record).get("sleeve", 0.0)
    number = 1 + sum(isinstance(one, Redraw | Stroke) for one in before)

    def flow() -> float:
        hoop = float(np.log(redrawing.redraw_ratio(old, new)))
        return mean_flow_stress(record.material.flow, wall.strain, wall.strain + hoop)

    def extended() -> float:
        require(stage.sleeve is not None, "for a direct redraw with a sleeve")
        corner = stage.sleeve.corner_radius if stage.sleeve else 0.0
        return redrawing.extended_redrawing_force(
            flow(),
            old,
            new,
            t,
            sleeve_radius=corner,
            die_radius=stage.die.radius,
            sleeve_force=sleeve,
            sleeve_friction=stage.friction.sleeve,
            die_friction=stage.friction.die,
        )

    name = f"{record.name}: punch force of the redraw"
    return [
        Row(
            f"{name}, ideal work",
            "N",
            lambda: redrawing.ideal_redrawing_force(flow(), old, new, t),
            peak,
            SIEBEL,
            IDEAL,
        ),
        Row(
            f"{name} with friction and bending",
            "N",
            extended,
            peak,
            f"{SIEBEL}; Lange 1985",
            ONE_THICKNESS,
        ),
        Row(
            f"{record.name}: redraw ratio and the largest usual one",
            "",
            lambda: redrawing.largest_usual_ratio(number),
            old / new,
            "Groover (memory)",
            says="limit",
        ),
    ]


def redraw_peak(record: StageRecord) -> float:
    """Peak punch force while the sleeve holds the cup and no ring works [N]."""
    names = [tool.name for tool in record.tools]
    rings = [k for k, name in enumerate(names) if name.startswith("ring")]
    free = [row for row in record.increments if not row.touching[rings].any()]
    if "sleeve" in names:
        held = names.index("sleeve")
        free = [row for row in free if row.touching[held] > 0] or free
    punch = names.index("punch")
    return max((abs(float(row.forces[punch])) for row in free), default=0.0)


def ring_rows(record: StageRecord, stage: Iron | Stroke, before: Sequence[Stage]) -> list[Row]:
    """Slab numbers of every ring: force, load of the wall, speed."""
    wall = _wall(record, record.frames[0].state, before)
    strain = wall.strain
    if isinstance(stage, Stroke):
        strain += abs(float(np.log(wall.diameter / (stage.punch.diameter + wall.thickness))))
    rows: list[Row] = []
    for figures in ring_figures(record, stage):
        rows += _ring(record, stage, figures, strain)
        share = max(figures.reduction, 0.0)
        strain += ironing.ironing_strain(share, record.material.r_bar)
    return rows


def _ring(
    record: StageRecord, stage: Iron | Stroke, figures: RingFigures, strain: float
) -> list[Row]:
    names = [tool.name for tool in record.tools if tool.name.startswith("ring")]
    ring = stage.rings[names.index(figures.name)]
    friction = stage.friction.ring, stage.friction.punch
    curve, r_bar, share = record.material.flow, record.material.r_bar, figures.reduction
    areas = [
        ironing.wall_area(stage.punch.diameter, t)
        for t in (figures.entry_thickness, figures.exit_thickness)
    ]

    def force() -> float:
        require(share > 0.0, "the ring takes nothing off the wall")
        stress = ironing.ring_yield_stress(curve, strain, share, r_bar)
        return ironing.ring_force(stress, areas[1], share, ring.entry_angle, *friction)

    name = f"{record.name}, {figures.name}"
    return [
        Row(
            f"{name}: mean force by the slab method",
            "N",
            force,
            figures.mean_force,
            SACHS,
            "the corners of the ring, its land and the shear at entry and exit",
        ),
        Row(
            f"{name}: wall stress over strength behind it",
            "",
            lambda: ironing.wall_load(curve, strain, share, ring.entry_angle, *friction, r_bar),
            figures.stress_ratio,
            f"{SACHS}; shear Siebel, in Lange 1985",
            "what the wall passes on to the punch behind the cone; its shear is a rule of strip"
            " drawing",
        ),
        Row(
            f"{name}: speed of the wall behind over ahead",
            "",
            lambda: ironing.exit_speed_ratio(*areas),
            figures.speed_ratio,
            "constant volume, wall areas",
        ),
    ]


def wall_height_rows(record: StageRecord, stage: Stage, before: Sequence[Stage]) -> list[Row]:
    """Length of the ironed wall from that of the same metal before, ``h0 t0/t1``."""
    start = _profile(record, record.frames[0].state)
    names = np.array(_start_zones(start, before))
    lines = np.flatnonzero(np.isin(names, UPRIGHT))
    if len(lines) < 2:
        return []
    end = _profile(record, record.final)
    old, new = (_length(p, lines) for p in (start, end))

    def ironed() -> float:
        return ironing.ironed_height(old, _section(start, lines), _section(end, lines))

    name = f"{record.name}: height of the wall"
    return [Row(name, "mm", ironed, new, "constant volume, h0 A0/A1")]


def height_rows(record: StageRecord, stage: Stage, before: Sequence[Stage]) -> list[Row]:
    """Height of a body whose wall takes all metal that is not in its other zones."""
    profile = _profile(record, record.final)
    wall = np.flatnonzero(np.array(zones(profile, stage, before)) == "wall")
    height = shape.height(record.body, record.final)

    def constant_volume() -> float:
        require(len(wall) > 1, "for a body with a wall")
        apart = np.diff(wall) > 1
        require(not apart.any(), "for a body with one wall")
        rest = shape.volume(record.body, record.final)
        rest -= _metal(profile, np.arange(wall[0] + 1))
        rest -= _metal(profile, np.arange(wall[-1], len(profile.radius)))
        long = rest / _section(profile, wall)
        return height - abs(float(np.ptp(profile.z[wall]))) + long

    name = f"{record.name}: height of the body, constant volume with the real wall"
    return [Row(name, "mm", constant_volume, height, "constant volume")]


def flange_strain_rows(record: StageRecord, stage: Flange) -> list[Row]:
    """Hoop strain of the edge by the tool alone."""
    places = record.frames[0].state.places(record.body)[record.body.edge_nodes("rim")]
    inside = 2.0 * float(places[:, 0].min())

    def strain() -> float:
        require(stage.tool.diameter <= inside * 1.02, "for a rim the tool enters")
        return flange_strain(inside, stage.tool, stage.depth)

    name = f"{record.name}: hoop strain of the edge if the wall kept its length"
    source = "geometry of round and face"
    return [Row(name, "", strain, edge_strain(record), source, "any change of the wall's length")]


@dataclass(frozen=True)
class _Wall:
    """Mean diameter and thickness [mm] and plastic strain of the wall of a state."""

    diameter: float
    thickness: float
    strain: float


def _wall(record: StageRecord, state: State, made: Sequence[Stage]) -> _Wall:
    profile, strains = _profile(record, state), surface_strains(record.body, state)
    strain = np.interp(profile.way, strains.way, strains.equivalent)
    chosen = np.array(_start_zones(profile, made)) == "wall"
    if not chosen.any():
        chosen = np.abs(profile.slope) > shape.FLAT
    return _Wall(
        2.0 * float(profile.radius[chosen].mean()),
        float(profile.thickness[chosen].mean()),
        float(strain[chosen].mean()),
    )


def _start_zones(profile: ThicknessProfile, made: Sequence[Stage]) -> tuple[str, ...]:
    """Zones of a sheet behind some stages, of a given tube or cup where there are none."""
    return zones(profile, made[-1], made[:-1]) if made else upright_zones(profile)


def _profile(record: StageRecord, state: State) -> ThicknessProfile:
    return thickness_profile(record.body, state)


def _length(profile: ThicknessProfile, lines: Ints) -> float:
    return float(profile.arc_length[lines[-1]] - profile.arc_length[lines[0]])


def _metal(profile: ThicknessProfile, lines: Ints) -> float:
    """Volume between the first and the last of some neighbouring lines [mm3]."""
    way = profile.arc_length[lines]
    area = 2.0 * np.pi * profile.radius[lines] * profile.thickness[lines]
    return float((0.5 * (area[1:] + area[:-1]) * np.diff(way)).sum())


def _section(profile: ThicknessProfile, lines: Ints) -> float:
    """Mean section of the wall along it [mm2]."""
    return _metal(profile, lines) / _length(profile, lines)
