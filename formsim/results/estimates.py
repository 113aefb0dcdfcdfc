"""Textbook numbers for the stages of a run, each beside what the simulation found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from formsim.case.rules import held_area
from formsim.case.schema import Case
from formsim.case.sheet import Sheet
from formsim.case.stage import (
    Bulge,
    Dome,
    Draw,
    Flange,
    Iron,
    Neck,
    Pressurise,
    Redraw,
    Stage,
    Stroke,
    TopLoad,
    Trim,
)
from formsim.results import shape
from formsim.results.closed_form import IDEAL, ONE_THICKNESS, Estimate, Row, estimate
from formsim.results.estimates_line import (
    flange_strain_rows,
    height_rows,
    redraw_rows,
    ring_rows,
    wall_height_rows,
)
from formsim.results.estimates_strength import load_rows, pressure_rows
from formsim.results.flanging import flange_rows
from formsim.results.forces import peak_forces, peak_pressure
from formsim.results.necking import neck_rows
from formsim.results.record import Line, StageRecord
from formsim.results.theory import doming, drawing, volume
from formsim.results.theory.instability import ultimate_strength
from formsim.results.theory.limits import require
from formsim.results.thickness import mean_thickness, thickness_profile
from formsim.results.zones import cavity_edge, zones

SHOP = "hardening, friction and bending; it is a rule of thumb"
HOLDER = "Siebel, in Lange 1985 (memory)"


def estimates(case: Case, line: Line) -> tuple[Estimate, ...]:
    """Textbook estimates of all stages of a run."""
    rows: list[Row] = []
    for k, (record, stage) in enumerate(zip(line.stages, case.stages, strict=False)):
        before = case.made_before(k)
        match stage:
            case Draw():
                rows += _draw(case.sheet, line, record, stage)
            case Dome():
                rows += _dome(line, record, stage)
            case Bulge():
                rows += _bulge(line, record, stage)
            case _:
                rows += _line_rows(record, stage, before)
    return tuple(estimate(row) for row in rows)


def _line_rows(record: StageRecord, stage: Stage, before: Sequence[Stage]) -> list[Row]:
    """Rows of a stage that works on a wall, the height of the body last."""
    rows: list[Row] = []
    match stage:
        case Redraw():
            rows = redraw_rows(record, stage, before)
        case Iron():
            rows = ring_rows(record, stage, before) + wall_height_rows(record, stage, before)
        case Stroke():
            rows = redraw_rows(record, stage, before) + ring_rows(record, stage, before)
        case Neck():
            rows = neck_rows(record, stage)
        case Flange():
            rows = flange_rows(record, stage) + flange_strain_rows(record, stage)
        case Pressurise():
            rows = pressure_rows(record, stage, before)
        case TopLoad():
            rows = load_rows(record, stage, before)
    if isinstance(stage, Redraw | Iron | Stroke | Trim | Neck | Flange):
        rows += height_rows(record, stage, before)
    return rows


def _draw(sheet: Sheet, line: Line, record: StageRecord, stage: Draw) -> list[Row]:
    return [
        *_cup_heights(line, record, stage, sheet.hole_diameter),
        *_drawing_forces(line, record, stage),
        *_drawing_limits(sheet, line, record, stage),
    ]


def _cup_heights(line: Line, record: StageRecord, stage: Draw, hole: float) -> list[Row]:
    t, blank, punch = line.thickness, 2.0 * line.blank_radius, stage.punch
    height = shape.height(record.body, record.final)

    def flat() -> None:
        require(drawn_through(record, stage), "for a cup drawn through, a flange is left here")
        require(punch.nose_ring is None, "for a flat base, the punch has a nose ring")
        require(hole == 0.0, "for a blank without a hole")

    def constant_thickness() -> float:
        flat()
        return volume.cup_height(blank, punch.diameter, punch.nose_radius, t)

    def constant_volume() -> float:
        flat()
        return height_from_wall(line, record, stage)

    name = f"{record.name}: cup height, constant"
    return [
        Row(f"{name} thickness", "mm", constant_thickness, height, "geometry"),
        Row(f"{name} volume with the real wall", "mm", constant_volume, height, "constant volume"),
    ]


def _drawing_forces(line: Line, record: StageRecord, stage: Draw) -> list[Row]:
    t, blank, d = line.thickness, 2.0 * line.blank_radius, stage.punch.diameter
    wall, curve, peak = d + t, record.material.flow, draw_peak(record)
    holder = peak_forces(record)["holder"]

    def with_friction() -> float:
        rims = np.linspace(blank, wall, 200)
        return max(
            drawing.extended_drawing_force(
                drawing.mean_flange_stress(curve, blank, rim, wall),
                rim,
                wall,
                t,
                die_radius=stage.die.radius,
                holder_force=holder,
                die_friction=stage.friction.die,
                holder_friction=0.5 * (stage.friction.holder + stage.friction.die),
            )
            for rim in rims.tolist()
        )

    def ideal() -> float:
        return drawing.ideal_peak_force(curve, blank, wall, t)

    def shop() -> float:
        return drawing.shop_drawing_force(ultimate_strength(curve), blank, d, t)

    name, siebel = f"{record.name}: peak punch force", "Siebel and Beisswaenger 1955"
    return [
        Row(f"{name}, ideal work", "N", ideal, peak, f"{siebel} (memory)", IDEAL),
        Row(
            f"{name} with friction and bending",
            "N",
            with_friction,
            peak,
            f"{siebel}; Lange 1985 (memory)",
            ONE_THICKNESS,
        ),
        Row(f"{name}, shop formula", "N", shop, peak, "Groover (memory)", SHOP),
    ]


def _drawing_limits(sheet: Sheet, line: Line, record: StageRecord, stage: Draw) -> list[Row]:
    blank, d, material = 2.0 * line.blank_radius, stage.punch.diameter, record.material
    return [
        Row(
            f"{record.name}: draw ratio and its limit at an efficiency of 0.75",
            "",
            lambda: drawing.limiting_ratio(material.r_bar, 0.75),
            blank / d,
            "Whiteley 1960 (memory)",
            says="limit",
        ),
        Row(
            f"{record.name}: holder pressure against wrinkling",
            "MPa",
            lambda: needed_pressure(line, record, stage),
            given_pressure(sheet, record, stage),
            HOLDER,
            says="advice",
        ),
    ]


def needed_pressure(line: Line, record: StageRecord, stage: Draw) -> float:
    """Holder pressure that a first draw is said to need against wrinkling [MPa]; see ``HOLDER``."""
    ultimate = ultimate_strength(record.material.flow)
    blank = 2.0 * line.blank_radius
    return drawing.holder_pressure(ultimate, blank, stage.punch.diameter, line.thickness)


def given_pressure(sheet: Sheet, record: StageRecord, stage: Draw) -> float:
    """Largest force of the holder over the flange it holds at first [MPa]."""
    return peak_forces(record)["holder"] / held_area(sheet, stage)


def draw_peak(record: StageRecord) -> float:
    """Peak punch force while the rim is still under the holder or on the die radius [N].

    The later ironing of the thick rim in the land is no part of the drawing formulas.
    """
    names = [tool.name for tool in record.tools]
    punch, holder = names.index("punch"), names.index("holder")
    held = [row for row in record.increments if row.touching[holder] > 0] or record.increments
    return max((abs(float(row.forces[punch])) for row in held), default=0.0)


def drawn_through(record: StageRecord, stage: Draw) -> bool:
    """Whether the rim has left the die radius, so that no flange is left."""
    rim = float(record.formed.places(record.body)[record.body.edge_nodes("rim"), 0].max())
    return rim < 0.5 * stage.die.opening(stage.punch) + 0.5 * stage.die.radius


def height_from_wall(line: Line, record: StageRecord, stage: Draw) -> float:
    """Cup height from the blank's volume and the simulated wall and base thickness [mm]."""
    profile = thickness_profile(record.body, record.final)
    names = np.array(zones(profile, stage))
    upright = np.isin(names, ("wall", "rim"))
    s, t = profile.arc_length[upright], profile.thickness[upright]
    stations = np.interp(np.linspace(s[0], s[-1], 200), s, t)
    base = ~upright
    weight = profile.original_radius[base] + 1e-9
    mean = float(np.average(profile.thickness[base], weights=weight))
    return volume.cup_height_from_wall(
        2.0 * line.blank_radius,
        stage.punch.diameter,
        stage.punch.nose_radius,
        line.thickness,
        stations,
        mean,
    )


def _dome(line: Line, record: StageRecord, stage: Dome) -> list[Row]:
    before = thickness_profile(record.body, record.frames[0].state)
    edge = cavity_edge(stage.punch)
    inside = before.radius < edge
    thickness = mean_thickness(before.thickness[inside], before.radius[inside])
    after = thickness_profile(record.body, record.final)
    now = mean_thickness(after.thickness[inside], before.radius[inside])
    depth = shape.dome_depth(record.body, record.final)
    return [
        Row(
            f"{record.name}: mean thickness of the dome from its area",
            "mm",
            lambda: doming.mean_cap_thickness(thickness, edge, depth),
            now,
            "constant volume of a spherical cap, no sheet drawn in",
            "sheet that is drawn in, and the shoulder",
        )
    ]


def _bulge(line: Line, record: StageRecord, stage: Bulge) -> list[Row]:
    radius, height = 0.5 * stage.diameter, stage.height
    pole = thickness_profile(record.body, record.formed).thickness[0]
    source = "Hill 1950, hydrostatic bulge (memory)"
    return [
        Row(
            f"{record.name}: thinning strain at the pole",
            "",
            lambda: doming.bulge_pole_strain(radius, height),
            float(np.log(line.thickness / pole)),
            source,
        ),
        Row(
            f"{record.name}: pressure",
            "MPa",
            lambda: doming.bulge_pressure(record.material.flow, line.thickness, radius, height),
            peak_pressure(record),
            source,
        ),
    ]
