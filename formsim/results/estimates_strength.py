"""Textbook limits beside a body under pressure and top load."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formsim.case.stage import Dome, Pressurise, Stage, Stroke, TopLoad
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
AROUND = "the nose gives way first, by bending; the model is axisymmetric"


def pressure_rows(
    record: StageRecord, stage: Pressurise, before: Sequence[Stage] = ()
) -> list[Row]:
    """Membrane stress of the wall, and what a dome of its size can bear from its hollow side."""
    figures, material = pressure_figures(record, stage, before), record.material
    wall = _wall(record)
    rows = [
        Row(
            f"{record.name}: wall yields by its hoop stress",
            "MPa",
            lambda: shells.hoop_yield(wall.flow, wall.radius, wall.thickness),
            figures.highest,
            "Y t / R with the wall as it came",
            says="limit",
        )
    ]
    tool = next((s.dome for s in reversed(before) if isinstance(s, Dome | Stroke) and s.dome), None)
    if tool is None or figures.limit is None:
        return rows
    crown = shape.base_radius(record.body, record.frames[0].state)
    thickness = float(thickness_profile(record.body, record.frames[0].state).thickness[0])
    edge = min(1.0, 0.5 * tool.diameter / crown) if math.isfinite(crown) else 0.0
    young, poisson = material.young, material.poisson

    def sphere() -> float:
        return shells.sphere_buckling(young, poisson, crown, thickness)

    def bound() -> float:
        size = shells.cap_size(poisson, crown, thickness, math.asin(edge))
        return sphere() * shells.cap_knock_down(size)

    name, limit = record.name, figures.limit
    zoelly = "Zoelly 1915 (memory): complete perfect elastic sphere"
    rows += [
        Row(f"{name}: sphere of the dome buckles", "MPa", sphere, limit, zoelly, says="limit"),
        Row(f"{name}: dome as a clamped cap", "MPa", bound, limit, SP_8032, AROUND),
    ]
    return rows


def load_rows(record: StageRecord, stage: TopLoad, before: Sequence[Stage] = ()) -> list[Row]:
    """What the wall bears at most: yielding, buckling in rings, its lower bound, the lid's pull."""
    load, wall = load_figures(record, stage, before).highest, _wall(record)
    young, poisson, name = record.material.young, record.material.poisson, record.name

    def pull() -> float:
        return shells.lid_pull(stage.pressure, wall.radius)

    def buckles() -> float:
        return pull() + necking.buckling_load(young, poisson, wall.thickness)

    def bound() -> float:
        alone = necking.buckling_load(young, poisson, wall.thickness)
        return pull() + alone * necking.buckling_knock_down(2.0 * wall.radius, wall.thickness)

    yields = "2 pi R t Y" + (", and the pull of the lid" if stage.pressure else "")
    rings = "Timoshenko and Gere 1961 (memory), perfect wall"
    return [
        Row(f"{name}: wall yields", "N", lambda: pull() + wall.bears, load, yields, says="limit"),
        Row(f"{name}: wall buckles in rings", "N", buckles, load, rings, says="limit"),
        Row(f"{name}: wall buckles, lower bound", "N", bound, load, SP_8007, says="limit"),
    ]


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
