"""Columns of a blank, fine enough for the tools of its case."""

from __future__ import annotations

import math
from dataclasses import dataclass

from formsim.arrays import Floats
from formsim.case.schema import Case
from formsim.case.stage import (
    Bulge,
    Dome,
    Draw,
    Flange,
    Iron,
    Neck,
    Redraw,
    Stretch,
    Stroke,
    Trim,
)
from formsim.case.tools import smallest_gap
from formsim.geometry.blank import Rim, column_lengths, graded_share
from formsim.stages.start import start_length

PER_RADIUS = 7.0
THINNEST, LONGEST = 0.8, 1.6
FEWEST = 60

WORKED, FINEST = 1.3, 3.0
"""Columns of a wall that is necked or flanged over its thickness; at most so much finer.

Longer ones do not see the stresses ironing leaves from face to face, and neither do two layers: the
body of cases/canister_line folds at 894 N with 2.6 and three layers, 888 N with 1.8, 883 N with 1.3
and 0.8; with two layers at 875 N with 1.3 and 863 N with 0.8, with four at 877 N with 1.3."""

PER_LAND = 0.7
"""Longest column of an ironed wall over the shortest land."""


@dataclass(frozen=True)
class Grading:
    """Columns of a blank.

    Attributes
    ----------
    inner, outer : radius of the centre hole and of the end of the meshed sheet, of a tube or cup
        the way along its section [mm]
    even_to : radius up to which columns are equally long [mm]
    finer : how many times shorter columns are just beyond it
    rim : sheet that is necked or flanged, where they are shorter still; None where all are alike
    columns, layers : number of elements along and through the sheet
    """

    inner: float
    outer: float
    even_to: float
    finer: float
    columns: int
    layers: int
    rim: Rim | None = None

    @property
    def lengths(self) -> Floats:
        """Lengths of the columns from the centre on, (columns) [mm]."""
        return column_lengths(
            self.inner, self.outer, self.columns, self.even_to, self.finer, self.rim
        )

    @property
    def words(self) -> str:
        """Columns and layers as they are told."""
        return f"{self.columns} columns x {self.layers} layers"


def grade(case: Case) -> Grading:
    """Columns as given, or a seventh of the smallest tool radius long near the punch.

    Beyond the narrowest punch columns shrink towards the rim, which is stretched along the wall;
    where the wall is ironed they start shorter, so that they end as long as those of the base. What
    is necked or flanged of such a wall has columns about as long as it is thick.
    """
    inner, outer = 0.5 * case.sheet.hole_diameter, _meshed_radius(case)
    even_to = _even_radius(case, inner, outer)
    begin = case.began_with
    if begin is not None:
        inner, outer = 0.0, start_length(begin, case.sheet.thickness)
        even_to = outer
    columns, finer, rim = case.mesh.columns, _ironed_ratio(case), None
    if case.mesh.rim_finer is not None and begin is None:
        rim = _rim(case, outer, even_to, case.mesh.rim_finer)
    if columns is None:
        thickness = case.sheet.thickness
        length = min((r / PER_RADIUS for r in _bend_radii(case)), default=math.inf)
        length = min(max(length, THINNEST * thickness), LONGEST * thickness)
        length = min(length, _land_length(case, 1.0 if begin is None else finer))
        graded = finer * outer * math.log(outer / even_to) if even_to < outer else 0.0
        if case.mesh.rim_finer is None and begin is None:
            share = length * finer / (WORKED * case.sheet.thickness)
            rim = _rim(case, outer, even_to, min(share, FINEST))
        if rim is not None:
            share = graded_share(rim.begin, outer, even_to, outer)
            graded += finer * (rim.finer - 1.0) * share
        columns = max(FEWEST, math.ceil((even_to - inner + graded) / length))
    return Grading(inner, outer, even_to, finer, columns, case.mesh.layers, rim)


def with_columns(case: Case, columns: int) -> Case:
    """The case on so many columns, whose lengths stand to each other as in its own mesh."""
    rim = grade(case).rim
    shape = {"columns": columns, "rim_finer": None if rim is None else rim.finer}
    return case.model_copy(update={"mesh": case.mesh.model_copy(update=shape)})


def _rim(case: Case, outer: float, even_to: float, finer: float) -> Rim | None:
    """What is necked or flanged of an ironed wall, by its volume, and how much finer it is meshed.

    Twice the depth of the tools counts, and what is trimmed before.
    """
    stages, given = case.stages, case.received()
    depths = [stage.depth for stage in stages if isinstance(stage, Neck | Flange)]
    walls = [now for now, stage in zip(given, stages, strict=True) if isinstance(stage, Trim)]
    wall = next((now for now in (*walls, *given[::-1]) if now and now.inner), None)
    thickness = case.sheet.thickness
    if not depths or finer <= 1.0 or wall is None or not wall.wall < thickness:
        return None
    trims = [stage.height for stage in stages if isinstance(stage, Trim)]
    lost = wall.height - trims[0] if trims and wall.height else 0.0
    metal = math.pi * (wall.inner + wall.wall) * wall.wall * (2.0 * max(depths) + max(lost, 0.0))
    begin = math.sqrt(max(outer**2 - metal / (math.pi * thickness), 0.0))
    inside = even_to + 0.1 * (outer - even_to) < begin < outer - 0.02 * (outer - even_to)
    return Rim(begin, finer) if inside else None


def _meshed_radius(case: Case) -> float:
    """Where the meshed sheet ends: at its rim, or where it is clamped."""
    first = case.stage[0]
    if isinstance(first, Stretch):
        return 0.5 * first.clamp_diameter
    if isinstance(first, Bulge):
        return 0.5 * first.diameter
    return 0.5 * case.sheet.blank_diameter


def _even_radius(case: Case, inner: float, outer: float) -> float:
    drawn = [s.punch.diameter for s in case.stage if isinstance(s, Draw | Redraw | Stroke)]
    if not drawn:
        return outer
    reach = 0.5 * min(drawn)
    return min(max(reach, inner + 0.1 * (outer - inner)), outer)


def _ironed_ratio(case: Case) -> float:
    """Thickness of the blank over that of the wall after the tightest ring."""
    gaps = [
        smallest_gap(stage.punch, stage.rings)
        for stage in case.stage
        if isinstance(stage, Iron | Stroke)
    ]
    return max(1.0, case.sheet.thickness / min(gaps)) if gaps else 1.0


def _land_length(case: Case, stretch: float) -> float:
    """Longest column that is still well shorter than any land once the wall is ironed [mm].

    Longer ones pass under the land with their middle outside it, and the wall stays too thick.

    Parameters
    ----------
    stretch : how much longer ironing makes the columns
    """
    stages = [stage for stage in case.stage if isinstance(stage, Iron | Stroke)]
    lands = [ring.land for stage in stages for ring in stage.rings]
    return PER_LAND * min(lands, default=math.inf) / stretch


def _bend_radii(case: Case) -> list[float]:
    """Radii the sheet is bent over."""
    radii: list[float] = []
    for stage in case.stage:
        if isinstance(stage, Draw | Redraw | Stroke):
            radii += [stage.punch.nose_radius, stage.die.radius]
        elif isinstance(stage, Dome):
            radii += [stage.dome.shoulder_radius]
        elif isinstance(stage, Neck):
            radii += [stage.die.entry_radius, stage.die.throat_radius]
        elif isinstance(stage, Flange):
            radii += [stage.tool.radius]
        elif isinstance(stage, Stretch):
            radii += [stage.punch.nose_radius, stage.die.radius]
    return radii
