"""Tool outlines from a drawing.

In the drawing x is the radius and y the height: the axis of rotation is the line x = 0. An outline
is one chain of lines and arcs on a layer of its own, right of the axis.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Literal

import numpy as np

from formsim.arrays import Floats
from formsim.errors import DrawingError
from formsim.geometry.drawing_chain import Chain, Gap, chained
from formsim.geometry.drawing_entities import read_pieces
from formsim.geometry.drawing_file import Source
from formsim.geometry.outline import CONCAVE, CONVEX, Outline, Point, arc, line
from formsim.geometry.piece import Piece, arc_piece

FreeSide = Literal["below", "above", "inside", "outside"]

TOWARDS: MappingProxyType[FreeSide, Point] = MappingProxyType(
    {"below": (0.0, -1.0), "above": (0.0, 1.0), "inside": (-1.0, 0.0), "outside": (1.0, 0.0)}
)

LARGEST_GAP = 1.0
"""Largest gap tolerance accepted [mm]."""

_OVERHANG, _OVERHANG_ANGLE = 1.0, 0.05
_SHARP = math.radians(0.1)
_STEEP = 1e-3


@dataclass(frozen=True)
class Corner:
    """A joint where the direction jumps.

    Attributes
    ----------
    place : [mm]
    turn : jump of the direction; negative at an edge of the tool, positive in a notch [deg]
    """

    place: Point
    turn: float


@dataclass(frozen=True)
class DrawnOutline:
    """What was understood of a drawing.

    Attributes
    ----------
    outline : for contact; where it ends on the axis it goes on a little beyond
    pieces : lines and arcs in the order of walking, free space on the left, [mm]
    closed : the chain is a closed section of the tool
    free_side : where the sheet is, as asked for
    gaps : gaps that were closed
    corners : joints that are not tangent; the sheet must not be drawn over an edge
    notes : what was assumed or left out, one sentence each
    file, layer, unit : where it comes from
    """

    outline: Outline
    pieces: tuple[Piece, ...]
    closed: bool
    free_side: FreeSide
    gaps: tuple[Gap, ...]
    corners: tuple[Corner, ...]
    notes: tuple[str, ...]
    file: str
    layer: str
    unit: str


def read_outline(
    path: str | Path,
    layer: str,
    *,
    free_side: FreeSide,
    unit: str | None = None,
    gap_tolerance: float = 0.01,
) -> DrawnOutline:
    """Read a tool outline from a layer of a DXF drawing.

    Parameters
    ----------
    path : DXF file, at most 20 MB
    layer : holds LINE, ARC, CIRCLE, LWPOLYLINE and POLYLINE of one outline and nothing else
    free_side : side of the tool on which the sheet is: ``below`` for a punch or holder that comes
        from above, ``above`` for a die or dome tool, ``inside`` a ring, ``outside`` a sleeve
    unit : of the drawing, needed where it states none; else it overrides the drawing
    gap_tolerance : largest gap between ends that is closed, 0 to 1 [mm]

    Raises
    ------
    DrawingError : the drawing does not give one clean outline; says where and what to try
    """
    file = Path(path)
    if not 0.0 <= gap_tolerance <= LARGEST_GAP:
        message = f"the gap tolerance is {gap_tolerance:g}; expected 0 to {LARGEST_GAP:g} mm"
        raise DrawingError(message, file=file.name, layer=layer, hint="0.01 mm suits most drawings")
    source, drawn, notes = read_pieces(file, layer, unit)
    _refuse_short(drawn, source, gap_tolerance)
    pieces, left_out = _right_of_axis(drawn, source, gap_tolerance)
    chain = chained(pieces, source, gap_tolerance)
    chain = _facing(chain, free_side, source)
    return DrawnOutline(
        outline=Outline(_rows(_over_axis(chain, gap_tolerance))),
        pieces=chain.pieces,
        closed=chain.closed,
        free_side=free_side,
        gaps=chain.gaps,
        corners=tuple(_corners(chain)),
        notes=(*notes, *left_out),
        file=source.file,
        layer=source.layer,
        unit=source.unit,
    )


def _refuse_short(pieces: Sequence[Piece], source: Source, tolerance: float) -> None:
    for piece in pieces:
        size = math.dist(piece.start, piece.end)
        if size <= max(tolerance, 1e-9):
            what = f"{size:.3g} mm from end to end" if size > 1e-9 else "of no length"
            message = (
                f"entity {piece.entity} at {source.spot(piece.start)} is {what};"
                f" expected pieces longer than the gap tolerance of {tolerance:g} mm"
            )
            hint = "delete it and join its neighbours, or make the gap tolerance smaller"
            raise source.fault(message, hint, entity=piece.entity, place=piece.start)


def _right_of_axis(
    pieces: Sequence[Piece], source: Source, tolerance: float
) -> tuple[list[Piece], list[str]]:
    """Pieces without those on the axis itself, which are its centre line and no surface."""
    kept, notes = [], []
    slack = max(tolerance, 1e-9)
    for piece in pieces:
        share, reach = piece.farthest((-1.0, 0.0))
        if reach > slack:
            place = piece.at(share)
            message = (
                f"entity {piece.entity} lies left of the axis at {source.spot(place)};"
                " expected x >= 0: x is the radius, the axis is the line x = 0"
            )
            hint = "trim the outline at the axis and draw its right half; move it if x = 0 is off"
            raise source.fault(message, hint, entity=piece.entity, place=place)
        if piece.centre is None and max(piece.start[0], piece.end[0]) <= slack:
            notes.append(f"entity {piece.entity} lies on the axis and was left out")
        else:
            kept.append(piece)
    if not kept:
        message = "everything on the layer lies on the axis; expected the outline of a tool"
        raise source.fault(message, "name the layer with the outline")
    return kept, notes


def _facing(chain: Chain, side: FreeSide, source: Source) -> Chain:
    """The chain walked such that what lies farthest to a side has free space on that side."""
    towards = TOWARDS[side]
    reaches = [(*piece.farthest(towards), piece) for piece in chain.pieces]
    best = max(reach for _, reach, _ in reaches)
    leads = [
        _left_normal(piece, share, towards)
        for share, reach, piece in reaches
        if reach > best - 1e-9
    ]
    lead = max(leads, key=abs)
    if abs(lead) < _STEEP:
        piece = next(piece for _, reach, piece in reaches if reach > best - 1e-9)
        place = piece.at(piece.farthest(towards)[0])
        others = ", ".join(one for one in TOWARDS if one != side)
        message = (
            f"the outline ends at {source.spot(place)}, where it lies farthest {side}, so it cannot"
            f" be told which side of it is free"
        )
        hint = (
            f"is the free side really {side}, and this the right layer? else {others};"
            " or draw the face towards the sheet"
        )
        raise source.fault(message, hint, entity=piece.entity, place=place)
    if lead > 0.0:
        return chain
    return replace(chain, pieces=tuple(piece.turned() for piece in reversed(chain.pieces)))


def _left_normal(piece: Piece, share: float, towards: Point) -> float:
    tr, tz = piece.direction(share)
    return -tz * towards[0] + tr * towards[1]


def _corners(chain: Chain) -> list[Corner]:
    corners = []
    for k, j in chain.joints:
        (ar, az), (br, bz) = chain.pieces[k].direction(1.0), chain.pieces[j].direction(0.0)
        turn = math.atan2(ar * bz - az * br, ar * br + az * bz)
        if abs(turn) > _SHARP:
            corners.append(Corner(chain.pieces[k].end, math.degrees(turn)))
    return corners


def _over_axis(chain: Chain, tolerance: float) -> list[Piece]:
    """Pieces, those that end on the axis prolonged, as a point there needs something to face."""
    pieces = list(chain.pieces)
    if chain.closed:
        return pieces
    if pieces[-1].end[0] <= tolerance:
        pieces[-1] = _prolonged(pieces[-1])
    if pieces[0].start[0] <= tolerance:
        pieces[0] = _prolonged(pieces[0].turned()).turned()
    return pieces


def _prolonged(piece: Piece) -> Piece:
    if piece.centre is not None:
        sweep = piece.sweep + math.copysign(_OVERHANG_ANGLE, piece.sweep)
        return arc_piece(piece.centre, piece.radius, piece.first, sweep, piece.entity)
    tr, tz = piece.direction(1.0)
    if tr > -_STEEP:
        return piece
    beyond = (-_OVERHANG - piece.end[0]) / tr
    return replace(piece, end=(-_OVERHANG, piece.end[1] + beyond * tz))


def _rows(pieces: Sequence[Piece]) -> Floats:
    return np.array([_row(piece) for piece in pieces])


def _row(piece: Piece) -> Floats:
    if piece.centre is None:
        return line(piece.start, piece.end)
    sign = CONCAVE if piece.sweep > 0 else CONVEX
    return arc(piece.centre, piece.radius, sign, piece.first, piece.first + piece.sweep)
