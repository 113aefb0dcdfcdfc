"""Drawn tools of a case before anything is solved: read, measured against the dimensions, safe."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from formsim.case.lines import line_of
from formsim.case.schema import Case
from formsim.case.stage import Flange, Stage
from formsim.case.units import UNITS
from formsim.case.workpiece import Workpiece
from formsim.errors import CaseError, DrawingError, Fault
from formsim.geometry.drawing import TOWARDS, DrawnOutline
from formsim.geometry.outline import Point
from formsim.stages.drawn import Fitted, fitted, is_slight
from formsim.stages.drawn_sizes import misfits, narrowest_radius
from formsim.stages.roles import Role, drawings_in

BEHIND = 10.0
"""How far behind the face of a holder, clamp or ring the sheet may come, in thicknesses."""

_EDGE = (
    "the contact is blind beside such an edge: give it a radius, or leave the back of the tool"
    " out, since an open outline is carried on straight"
)
_SHOWN = 3
_END = "draw the tool to where the sheet cannot come, past a rounded edge"


@dataclass(frozen=True)
class DrawnTool:
    """A tool that is drawn.

    Attributes
    ----------
    key : path of its outline in the case file
    stage, tool : name of the stage, key of the tool in it
    fitted : what was understood and what is used
    """

    key: str
    stage: str
    tool: str
    fitted: Fitted


@dataclass(frozen=True)
class Reach:
    """Where the sheet may come while a stage works on it.

    Attributes
    ----------
    depth : behind the face of a tool that it wraps [mm]
    near : behind one that meets it with its face only [mm]
    radius : farthest from the axis [mm]
    """

    depth: float
    near: float
    radius: float


def drawn_tools(case: Case) -> tuple[DrawnTool, ...]:
    """All drawn tools of a case.

    Raises
    ------
    CaseError : drawings that cannot be used, all at once, with the key of each
    """
    tools: list[DrawnTool] = []
    faults: list[Fault] = []
    for index, (stage, work) in enumerate(zip(case.stages, case.received(), strict=True)):
        reach = reach_of(case, stage, work)
        for name, drawing, role in drawings_in(stage):
            key = f"stage[{index}].{name}.outline"
            try:
                shape = fitted(drawing, role)
            except DrawingError as error:
                faults.append(Fault(key, "", f"{error}; {error.hint}"))
                continue
            tools.append(DrawnTool(key, stage.name, name, shape))
            said = [*misfits(stage, name, shape.drawn), *blind_places(shape, role, reach)]
            where = f"{shape.drawn.file}, layer {shape.drawn.layer}"
            faults += [Fault(key, "", f"{where}: {one}") for one in said]
    if faults:
        lines = case.origin.lines
        raise CaseError(case.origin.name, [replace(f, line=line_of(f.key, lines)) for f in faults])
    return tuple(tools)


def reach_of(case: Case, stage: Stage, work: Workpiece | None) -> Reach:
    """Bounds of the sheet in a stage by nominal sizes, on the safe side."""
    disc, near = case.sheet.blank_diameter, BEHIND * case.sheet.thickness
    if work is None or work.form == "flat":
        return Reach(disc, near, 0.5 * disc + near)
    flared = stage.depth if isinstance(stage, Flange) else 0.0
    return Reach(disc, near, 0.5 * max(work.outer, work.mouth) + near + flared)


def blind_places(shape: Fitted, role: Role, reach: Reach) -> Iterator[str]:
    """Sharp edges and loose ends of an outline where the sheet may come."""
    drawn = shape.drawn
    edges = [
        f"of {-edge.turn:.3g} degrees at {_spot(edge.place, drawn)}"
        for edge in drawn.corners
        if edge.turn < 0.0 and not is_slight(edge.turn) and _reached(edge.place, drawn, role, reach)
    ]
    if edges:
        more = f", and {len(edges) - _SHOWN} more" if len(edges) > _SHOWN else ""
        what = "a sharp edge" if len(edges) == 1 else "sharp edges"
        yield f"{what} {', '.join(edges[:_SHOWN])}{more}; {_EDGE}"
    for place in shape.ends:
        if _reached(place, drawn, role, reach):
            yield f"the outline ends at {_spot(place, drawn)}, within reach of the sheet; {_END}"


def _reached(place: Point, drawn: DrawnOutline, role: Role, reach: Reach) -> bool:
    """Whether the sheet may come to a place of the tool."""
    if role.side == "inside":
        least = narrowest_radius(drawn)
        return place[0] <= (least + reach.near if role.shallow else reach.radius)
    towards = (0.0, -1.0) if role.side == "outside" else TOWARDS[role.side]
    face = max(piece.farthest(towards)[1] for piece in drawn.pieces)
    depth = face - towards[1] * place[1]
    return place[0] <= reach.radius and depth <= (reach.near if role.shallow else reach.depth)


def _spot(place: Point, drawn: DrawnOutline) -> str:
    x, y = (f"{round(value / UNITS['length'][drawn.unit], 9) + 0.0:.6g}" for value in place)
    return f"x = {x}, y = {y} {drawn.unit}"
