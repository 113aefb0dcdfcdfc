"""Textbook limits beside a body under pressure and top load."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.case.stage import Dome, Pressurise, Stage, Stroke, TopLoad
from formsim.case.tools import DomeTool
from formsim.material.model import Material
from formsim.results import shape
from formsim.results.closed_form import Row
from formsim.results.curve import middle_line
from formsim.results.record import StageRecord
from formsim.results.strength import load_figures, pressure_figures
from formsim.results.theory import necking, shells
from formsim.results.thickness import thickness_profile
from formsim.stages.wall import held_line, wall_strength

SP_8032 = "NASA SP-8032, 1969, eq. 4: lower bound of tests"
SP_8007 = "NASA SP-8007, 1968: lower bound of tests"
AROUND = "that the nose gives way first, by bending, and any buckling round the circumference"


def pressure_rows(
    record: StageRecord, stage: Pressurise, before: Sequence[Stage] = ()
) -> list[Row]:
    """Membrane stress of the wall, and what a dome of its size can bear from its hollow side."""
    figures, name = pressure_figures(record, stage, before), record.name
    rows = [hoop_row(name, _wall(record), figures.highest)]
    tool = dome_of(before)
    if tool is None or figures.limit is None:
        return rows
    crown = shape.base_radius(record.body, record.frames[0].state)
    thickness = float(thickness_profile(record.body, record.frames[0].state).thickness[0])
    cap = Cap(crown, 0.5 * tool.diameter, thickness)
    return rows + dome_rows(name, record.material, cap, figures.limit)


def load_rows(record: StageRecord, stage: TopLoad, before: Sequence[Stage] = ()) -> list[Row]:
    """What the wall bears at most: yielding, buckling in rings, its lower bound, the lid's pull."""
    load = load_figures(record, stage, before).highest
    return axial_rows(record.name, record.material, _wall(record), stage.pressure, load)


def dome_of(stages: Sequence[Stage]) -> DomeTool | None:
    """Tool that pressed the last dome; None without a dome."""
    pressed = (s.dome for s in reversed(stages) if isinstance(s, Dome | Stroke) and s.dome)
    return next(pressed, None)


@dataclass(frozen=True)
class Cap:
    """A dome as a spherical cap: radii of its crown and of its edge, thickness [mm]."""

    crown: float
    edge: float
    thickness: float


@dataclass(frozen=True)
class Wall:
    """The wall in the middle of its height, before the load.

    Attributes
    ----------
    radius, thickness : of the middle of the sheet [mm]
    flow : flow stress there [MPa]
    bears : axial load at which the weakest section above yields [N]
    """

    radius: float
    thickness: float
    flow: float
    bears: float


def hoop_row(name: str, wall: Wall, simulated: float | None) -> Row:
    """Inside pressure at which the wall yields all round; ``name`` of the stage."""
    return Row(
        f"{name}: wall yields by its hoop stress",
        "MPa",
        lambda: shells.hoop_yield(wall.flow, wall.radius, wall.thickness),
        simulated,
        "Y t / R, wall before the load",
        says="limit",
    )


def dome_rows(name: str, material: Material, cap: Cap, simulated: float | None) -> list[Row]:
    """Inside pressure at which a dome buckles as a sphere, and as a cap by tests."""
    edge = min(1.0, cap.edge / cap.crown) if math.isfinite(cap.crown) else 0.0
    young, poisson = material.young, material.poisson

    def sphere() -> float:
        return shells.sphere_buckling(young, poisson, cap.crown, cap.thickness)

    def bound() -> float:
        size = shells.cap_size(poisson, cap.crown, cap.thickness, math.asin(edge))
        return sphere() * shells.cap_knock_down(size)

    zoelly = "Zoelly 1915 (memory): complete perfect elastic sphere"
    return [
        Row(f"{name}: sphere of the dome buckles", "MPa", sphere, simulated, zoelly, says="limit"),
        Row(f"{name}: dome as a clamped cap", "MPa", bound, simulated, SP_8032, AROUND),
    ]


def axial_rows(
    name: str, material: Material, wall: Wall, pressure: float, simulated: float | None
) -> list[Row]:
    """Top load at which the wall yields and buckles; ``pressure`` inside [MPa]."""
    young, poisson = material.young, material.poisson

    def pull() -> float:
        return shells.lid_pull(pressure, wall.radius)

    def buckles() -> float:
        return pull() + necking.buckling_load(young, poisson, wall.thickness)

    def bound() -> float:
        alone = necking.buckling_load(young, poisson, wall.thickness)
        return pull() + alone * necking.buckling_knock_down(2.0 * wall.radius, wall.thickness)

    yields = "2 pi R t Y" + (", and the pull of the lid" if pressure else "")
    rings = "Timoshenko and Gere 1961 (memory), perfect wall"
    return [
        Row(
            f"{name}: wall yields",
            "N",
            lambda: pull() + wall.bears,
            simulated,
            yields,
            says="limit",
        ),
        Row(f"{name}: wall buckles in rings", "N", buckles, simulated, rings, says="limit"),
        Row(f"{name}: wall buckles, lower bound", "N", bound, simulated, SP_8007, says="limit"),
    ]


def _wall(record: StageRecord) -> Wall:
    body, state = record.body, record.frames[0].state
    line = held_line(body, state, 0.0)
    bears, _ = wall_strength(body, record.material, state, line)
    places = middle_line(body, state.places(body)).knots
    strain = state.strain.reshape(len(places) - 1, -1).mean(axis=1)[line]
    return Wall(
        radius=float(places[line, 0]),
        thickness=float(thickness_profile(body, state).thickness[line]),
        flow=float(record.material.flow.stress(np.array([strain]))[0]),
        bears=bears,
    )
