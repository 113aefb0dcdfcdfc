"""Columns of a blank, fine enough for the tools of its case."""

from __future__ import annotations

import math
from dataclasses import dataclass

from formsim.case.schema import Case
from formsim.case.stage import Bulge, Dome, Draw, Flange, Iron, Neck, Redraw, Stretch, Stroke
from formsim.case.tools import smallest_gap
from formsim.stages.start import start_length

PER_RADIUS = 7.0
THINNEST, LONGEST = 0.8, 1.6
FEWEST = 60

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
    columns, layers : number of elements along and through the sheet
    """

    inner: float
    outer: float
    even_to: float
    finer: float
    columns: int
    layers: int

    @property
    def words(self) -> str:
        """Columns and layers as they are told."""
        return f"{self.columns} columns x {self.layers} layers"


def grade(case: Case) -> Grading:
    """Columns as given, or a seventh of the smallest tool radius long near the punch.

    Beyond the narrowest punch columns shrink towards the rim, which is stretched along the wall;
    where the wall is ironed they start shorter, so that they end as long as those of the base.
    """
    inner, outer = 0.5 * case.sheet.hole_diameter, _meshed_radius(case)
    even_to = _even_radius(case, inner, outer)
    begin = case.began_with
    if begin is not None:
        inner, outer = 0.0, start_length(begin, case.sheet.thickness)
        even_to = outer
    columns, finer = case.mesh.columns, _ironed_ratio(case)
    if columns is None:
        thickness = case.sheet.thickness
        length = min((r / PER_RADIUS for r in _bend_radii(case)), default=math.inf)
        length = min(max(length, THINNEST * thickness), LONGEST * thickness)
        length = min(length, _land_length(case, 1.0 if begin is None else finer))
        graded = finer * outer * math.log(outer / even_to) if even_to < outer else 0.0
        columns = max(FEWEST, math.ceil((even_to - inner + graded) / length))
    return Grading(inner, outer, even_to, finer, columns, case.mesh.layers)


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
