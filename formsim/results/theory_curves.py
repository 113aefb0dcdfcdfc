"""Thickness along the sheet as volume constancy and plasticity theory predict it."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats
from formsim.case.stage import Bulge, Dome, Draw, Flange, Neck, Stage
from formsim.errors import TheoryRangeError
from formsim.results import shape
from formsim.results.record import Line, StageRecord
from formsim.results.strains import surface_strains
from formsim.results.theory import doming
from formsim.results.thickness import mean_thickness, thickness_profile
from formsim.results.zones import cavity_edge

Curve = tuple[str, Floats, Floats]

FEW = 4
"""Stages up to which every one has its line of constant volume, else the last one only."""

MOVED = 0.005
"""Hoop strain beyond which the wall counts as worked by a neck or flange."""


def theory_curves(line: Line, stages: tuple[Stage, ...]) -> list[Curve]:
    """Label, way along the sheet at the start [mm] and thickness [mm] of every curve.

    Of several necking steps in a row the last one has a line.
    """
    curves: list[Curve] = []
    for k, (record, stage) in enumerate(zip(line.stages, stages, strict=False)):
        last = k + 1 == len(line.stages)
        if record.specimen:
            continue
        if last or len(line.stages) <= FEW:
            curves.append(_from_strains(record))
        try:
            match stage:
                case Neck() if not last and isinstance(stages[k + 1], Neck):
                    continue
                case Draw():
                    curves.append(_free_rim(line, record))
                case Dome():
                    curves.append(_cap(line, record, stage))
                case Neck() | Flange():
                    curves.append(_free_edge(record))
                case Bulge():
                    curves.append(_bulge(line, record, stage))
        except TheoryRangeError:
            continue
    return curves


def _from_strains(record: StageRecord) -> Curve:
    strains = surface_strains(record.body, record.final)
    label = f"{record.name}: constant volume, from surface strains"
    return label, strains.way, strains.constant_volume_thickness


def _free_rim(line: Line, record: StageRecord) -> Curve:
    """Uniaxial hoop compression of the free edge: ``t0 (R/r)^(1/(1+r_bar))`` (Hill 1948).

    Exact at the rim of a flange, an upper bound further in.
    """
    profile = thickness_profile(record.body, record.final)
    outer = profile.original_radius > 0.85 * line.blank_radius
    ratio = profile.original_radius[outer] / profile.radius[outer]
    thickness = line.thickness * ratio ** (1.0 / (1.0 + record.material.r_bar))
    return f"{record.name}: free rim in hoop compression", profile.original_radius[outer], thickness


def _free_edge(record: StageRecord) -> Curve:
    """Hoop stress alone over the part of the wall a neck or flange has moved (Hill 1948).

    Exact at the free edge without bending; the strain along the wall is left to itself.
    """
    before = thickness_profile(record.body, record.frames[0].state)
    after = thickness_profile(record.body, record.final)
    off_axis = after.radius > 0.0
    ratio = np.divide(
        before.radius, after.radius, out=np.ones_like(off_axis, float), where=off_axis
    )
    moved = np.abs(np.log(ratio)) > MOVED
    thickness = before.thickness * ratio ** (1.0 / (1.0 + record.material.r_bar))
    return f"{record.name}: hoop stress alone", after.way[moved], thickness[moved]


def _cap(line: Line, record: StageRecord, stage: Dome) -> Curve:
    """Mean thickness of a cap of the dome's depth, no sheet drawn in."""
    before = thickness_profile(record.body, record.frames[0].state)
    edge = cavity_edge(stage.punch)
    inside = before.radius < edge
    start = mean_thickness(before.thickness[inside], before.radius[inside])
    mean = doming.mean_cap_thickness(start, edge, shape.dome_depth(record.body, record.final))
    radius = before.original_radius[inside]
    return f"{record.name}: mean of the cap from its area", radius, np.full(radius.shape, mean)


def _bulge(line: Line, record: StageRecord, stage: Bulge) -> Curve:
    radius = thickness_profile(record.body, record.formed).original_radius
    radius = radius[radius <= 0.5 * stage.diameter]
    thickness = doming.bulge_thickness(line.thickness, 0.5 * stage.diameter, stage.height, radius)
    return f"{record.name}: Hill 1950", radius, thickness
