"""Lines and arcs of a layer, in mm, from the entities of a DXF file."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from types import MappingProxyType
from typing import Any

from formsim.geometry.drawing_file import Source, open_layer
from formsim.geometry.outline import Point
from formsim.geometry.piece import Piece, arc_piece, bulged, halves

MOST_PIECES = 1_000
"""Most lines and arcs accepted on a layer; an outline has a few dozen."""

_TO_ARCS = (
    "in CAD, convert it to a polyline of arcs that stays within 0.001 mm of it,"
    " or redraw it with lines and arcs"
)
_ADVICE = MappingProxyType(
    {
        "SPLINE": _TO_ARCS,
        "ELLIPSE": _TO_ARCS,
        "HELIX": _TO_ARCS,
        "INSERT": "explode the block, or draw the outline itself on the layer",
    }
)
_ELSEWHERE = "move it to another layer; only lines and arcs may be on the layer of an outline"
_OUT_OF_PLANE = "draw the outline flat, in the x-y plane"


def read_pieces(path: Path, layer: str, unit: str | None) -> tuple[Source, list[Piece], list[str]]:
    """Pieces on a layer in mm, where they come from, and notes on what was assumed.

    Raises
    ------
    DrawingError : the file, its unit, the layer or something on the layer cannot be used
    """
    source, entities, notes = open_layer(path, layer, unit)
    _refuse_others(entities, source)
    pieces: list[Piece] = []
    for entity in entities:
        for piece in _pieces(entity, source):
            pieces += halves(piece)
        if len(pieces) > MOST_PIECES:
            message = f"more than {MOST_PIECES} lines and arcs; an outline has a few dozen"
            raise source.fault(message, "keep the outline alone on its layer, with true arcs")
    return source, pieces, notes


def _refuse_others(entities: Iterable[Any], source: Source) -> None:
    others = [one for one in entities if one.dxftype() not in _READERS]
    if not others:
        return
    names = [_name_with_spot(one, source) for one in others[:6]]
    more = f" and {len(others) - 6} more" if len(others) > 6 else ""
    message = f"expected LINE, ARC, CIRCLE and polylines only, found {', '.join(names)}{more}"
    first = others[0]
    kinds = dict.fromkeys(one.dxftype() for one in others)
    advice = dict.fromkeys(_ADVICE.get(kind, _ELSEWHERE) for kind in kinds)
    raise source.fault(
        message, "; ".join(advice), entity=_handle(first), place=_place(first, source)
    )


def _handle(entity: Any) -> str:
    return str(getattr(entity.dxf, "handle", None) or "")


def _name_with_spot(entity: Any, source: Source) -> str:
    place = _place(entity, source)
    at = f" at {source.spot(place)}" if place else ""
    return f"{entity.dxftype()} (entity {_handle(entity)}{at})"


def _place(entity: Any, source: Source) -> Point | None:
    """Some point of an entity of any type [mm]."""
    for name in ("insert", "center", "location", "defpoint"):
        point = getattr(entity.dxf, name, None)
        if point is not None:
            return float(point[0]) * source.factor, float(point[1]) * source.factor
    for name in ("control_points", "fit_points"):
        for point in getattr(entity, name, []):
            return float(point[0]) * source.factor, float(point[1]) * source.factor
    return None


def _pieces(entity: Any, source: Source) -> list[Piece]:
    try:
        pieces = _READERS[entity.dxftype()](entity, source)
    except (AttributeError, ValueError, LookupError, TypeError, OverflowError) as error:
        message = f"{entity.dxftype()} (entity {_handle(entity)}) cannot be read: {error}"
        hint = "draw it again, or save the drawing again as DXF"
        raise source.fault(message, hint, entity=_handle(entity)) from None
    for piece in pieces:
        numbers = (*piece.start, *piece.end, *(piece.centre or ()), piece.sweep)
        if not all(math.isfinite(number) and abs(number) < 1e9 for number in numbers):
            message = f"{entity.dxftype()} (entity {piece.entity}) has coordinates out of all range"
            raise source.fault(message, "draw it again", entity=piece.entity)
    return pieces


def _line(entity: Any, source: Source) -> list[Piece]:
    start, end = entity.dxf.start, entity.dxf.end
    if abs(start[2] - end[2]) * source.factor > 1e-6:
        message = f"LINE (entity {_handle(entity)}) leaves the plane of the drawing"
        place = (start[0] * source.factor, start[1] * source.factor)
        raise source.fault(message, _OUT_OF_PLANE, entity=_handle(entity), place=place)
    ends = [(float(p[0]) * source.factor, float(p[1]) * source.factor) for p in (start, end)]
    return [Piece(ends[0], ends[1], _handle(entity))]


def _facing(entity: Any, source: Source) -> float:
    """1 for an entity seen from the front, -1 for one that was mirrored onto its back."""
    normal = entity.dxf.extrusion
    if abs(normal[2]) < (1.0 - 1e-9) * math.hypot(*normal):
        message = f"{entity.dxftype()} (entity {_handle(entity)}) is not in the x-y plane"
        raise source.fault(message, _OUT_OF_PLANE, entity=_handle(entity))
    return math.copysign(1.0, normal[2])


def _round(entity: Any, source: Source) -> list[Piece]:
    facing = _facing(entity, source)
    centre = (
        facing * float(entity.dxf.center[0]) * source.factor,
        float(entity.dxf.center[1]) * source.factor,
    )
    radius = float(entity.dxf.radius) * source.factor
    if radius <= 0.0:
        message = f"{entity.dxftype()} (entity {_handle(entity)}) at {source.spot(centre)}"
        message += f" has the radius {entity.dxf.radius:g}; expected more than 0"
        raise source.fault(message, "draw it again", entity=_handle(entity), place=centre)
    first, sweep = 0.0, 360.0
    if entity.dxftype() == "ARC":
        first = float(entity.dxf.start_angle)
        ahead = float(entity.dxf.end_angle) - first
        sweep = 360.0 if abs(ahead) >= 360.0 - 1e-9 else ahead % 360.0
    angle = math.radians(first) if facing > 0 else math.pi - math.radians(first)
    return [arc_piece(centre, radius, angle, facing * math.radians(sweep), _handle(entity))]


def _flat_polyline(entity: Any, source: Source) -> list[Piece]:
    return _segments(entity, source, entity.get_points("xyb"), closed=bool(entity.closed))


def _old_polyline(entity: Any, source: Source) -> list[Piece]:
    if not entity.is_2d_polyline or entity.dxf.flags & entity.SPLINE_FIT_VERTICES_ADDED:
        message = f"POLYLINE (entity {_handle(entity)}) is three-dimensional or smoothed"
        hint = "in CAD, remove the smoothing or redraw it as a flat polyline of lines and arcs"
        raise source.fault(message, hint, entity=_handle(entity))
    points = [(*one.dxf.location.vec2, one.dxf.get("bulge", 0.0)) for one in entity.vertices]
    return _segments(entity, source, points, closed=bool(entity.is_closed))


def _segments(entity: Any, source: Source, vertices: Iterable[Any], *, closed: bool) -> list[Piece]:
    facing = _facing(entity, source)
    corners = [
        ((facing * float(x) * source.factor, float(y) * source.factor), facing * float(bulge))
        for x, y, bulge in vertices
    ]
    if len(corners) < 2:
        message = f"{entity.dxftype()} (entity {_handle(entity)}) has a single point or none"
        raise source.fault(message, "delete it", entity=_handle(entity))
    closed = closed and math.dist(corners[0][0], corners[-1][0]) > 1e-9
    ends = corners[1:] + corners[:1] if closed else corners[1:]
    return [
        bulged(start, end, bulge, f"{_handle(entity)} segment {number}")
        for number, ((start, bulge), (end, _)) in enumerate(
            zip(corners, ends, strict=False), start=1
        )
    ]


_READERS = MappingProxyType(
    {
        "LINE": _line,
        "ARC": _round,
        "CIRCLE": _round,
        "LWPOLYLINE": _flat_polyline,
        "POLYLINE": _old_polyline,
    }
)
