"""Outlines of all tools of a stage by nominal sizes, without a sheet between them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from formsim.case.schema import Case
from formsim.case.stage import (
    Dome,
    Draw,
    Flange,
    Iron,
    Neck,
    Redraw,
    Stage,
    Stretch,
    Stroke,
)
from formsim.case.tools import Ring
from formsim.case.workpiece import Workpiece
from formsim.geometry.drawing import FreeSide
from formsim.geometry.outline import Outline
from formsim.stages import neck
from formsim.stages.dome import clamp_outline
from formsim.stages.flange import tool_outline
from formsim.stages.iron import ring_names, ring_outline
from formsim.stages.outlines import (
    die_outline,
    dome_outline,
    holder_outline,
    reverse_die_outline,
    sleeve_outline,
    stretch_die_outline,
)
from formsim.stages.punch import punch_outline
from formsim.stages.roles import role_of


@dataclass(frozen=True)
class StageTools:
    """Tools of a stage.

    Attributes
    ----------
    number, name : of the stage, from 1
    outlines : tool -> outline, each with its own z = 0
    sides : tool -> side of it on which the sheet is
    keys : tool -> key path of its table in the case file
    """

    number: int
    name: str
    outlines: dict[str, Outline]
    sides: dict[str, FreeSide]
    keys: dict[str, str]


def toolset(case: Case) -> Iterator[StageTools]:
    """Tools of every stage that has some; a neck die is that for the nominal body."""
    given = enumerate(zip(case.stages, case.received(), strict=True), start=1)
    for number, (stage, work) in given:
        outlines = _outlines(stage, work, case.sheet.thickness)
        if outlines:
            names = ring_names(getattr(stage, "rings", ()))
            keys = {tool: tool for tool in outlines}
            keys |= {one: f"rings[{k}]" for k, one in enumerate(names)}
            yield StageTools(
                number,
                stage.name,
                outlines,
                {tool: role_of(stage, keys[tool]).side for tool in outlines},
                {tool: f"stage[{number - 1}].{keys[tool]}" for tool in outlines},
            )


def _outlines(stage: Stage, work: Workpiece | None, thickness: float) -> dict[str, Outline]:
    match stage:
        case Draw():
            return {
                "punch": punch_outline(stage.punch),
                "die": die_outline(stage.die, stage.punch),
                "holder": holder_outline(stage.holder, stage.punch),
            }
        case Redraw():
            return _redraw(stage)
        case Iron():
            return {"punch": punch_outline(stage.punch), **_rings(stage.rings)}
        case Stroke():
            return _stroke(stage, thickness)
        case Dome():
            return {"punch": punch_outline(stage.punch), **_dome(stage, thickness)}
        case Stretch():
            die = stretch_die_outline(stage, thickness)
            return {"punch": punch_outline(stage.punch), "die": die}
        case Neck():
            return _neck(stage, work)
        case Flange():
            return {"tool": tool_outline(stage.tool)}
        case _:
            return {}


def _redraw(stage: Redraw) -> dict[str, Outline]:
    punch = punch_outline(stage.punch)
    if stage.sleeve is None:
        return {"punch": punch, "die": reverse_die_outline(stage)}
    return {
        "punch": punch,
        "die": die_outline(stage.die, stage.punch),
        "sleeve": sleeve_outline(stage.sleeve, stage.punch),
    }


def _rings(rings: tuple[Ring, ...]) -> dict[str, Outline]:
    return dict(zip(ring_names(rings), map(ring_outline, rings), strict=True))


def _stroke(stage: Stroke, thickness: float) -> dict[str, Outline]:
    return {
        "punch": punch_outline(stage.punch),
        "die": die_outline(stage.die, stage.punch),
        "sleeve": sleeve_outline(stage.sleeve, stage.punch),
        **_rings(stage.rings),
        **_dome(stage, thickness),
    }


def _dome(stage: Dome | Stroke, thickness: float) -> dict[str, Outline]:
    if stage.dome is None:
        return {}
    outlines = {"dome": dome_outline(stage.dome)}
    if stage.clamp is not None:
        radius = 0.5 * stage.dome.diameter
        outlines["clamp"] = clamp_outline(stage.punch, stage.clamp, radius, thickness)
    return outlines


def _neck(stage: Neck, work: Workpiece | None) -> dict[str, Outline]:
    if work is None:
        return {}
    wall = work.rim_wall or work.wall
    guide = 0.5 * work.outer + neck.GUIDE * wall
    outlines = {"die": neck.die_outline(stage.die, guide, wall)}
    if stage.pilot is not None:
        outlines["pilot"] = neck.pilot_outline(stage, guide)
    return outlines
