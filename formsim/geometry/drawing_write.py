"""Tool outlines written to a DXF drawing, for a designer to open in CAD."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from formsim.arrays import Floats
from formsim.errors import DrawingError
from formsim.geometry.outline import LINE, Outline, Point
from formsim.geometry.piece import Piece, arc_piece

AXIS_LAYER = "axis_of_rotation"
_FORBIDDEN = '<>/\\":;?*=`|,'
_MILLIMETRES = 4


def write_outlines(
    path: str | Path, outlines: Mapping[str, Outline], *, replace: bool = False
) -> Path:
    """Write outlines as lines and arcs in mm, each on a layer of its own.

    x is the radius and y the height. What outlines have beyond the axis is cut off, and the axis
    is drawn on the layer ``axis_of_rotation``.

    Parameters
    ----------
    path : DXF file to write
    outlines : layer -> outline
    replace : write over a file that is there

    Raises
    ------
    DrawingError : a layer cannot have this name, or the file is there or cannot be written
    """
    file = Path(path)
    _refuse(file, outlines, replace=replace)
    return _saved(_document(outlines), file)


def _refuse(file: Path, layers: Iterable[str], *, replace: bool) -> None:
    _refuse_names(file, layers)
    if file.exists() and not replace:
        message, hint = "is there already", "choose another name, or allow to replace it"
        raise DrawingError(message, file=file.name, hint=hint)


def _saved(document: Any, file: Path) -> Path:
    try:
        document.saveas(file)
    except OSError as error:
        reason = (error.strerror or "no reason given").lower()
        message = f"cannot be written: {reason}"
        hint = "write into a folder that is there and yours"
        raise DrawingError(message, file=str(file), hint=hint) from None
    return file


def write_lines(path: Path, lines: Mapping[str, Floats], *, replace: bool = False) -> Path:
    """Write lines through points in mm, each on a layer of its own, and the axis of rotation.

    Parameters
    ----------
    lines : layer -> points, (n, 2) [mm]

    Raises
    ------
    DrawingError : a layer cannot have this name, or the file is there or cannot be written
    """
    _refuse(path, lines, replace=replace)
    return _saved(_lines_document(lines), path)


def _lines_document(lines: Mapping[str, Floats]) -> Any:
    document, space = _empty()
    for number, (layer, points) in enumerate(lines.items(), start=1):
        document.layers.add(layer, color=number % 6 + 1)
        space.add_lwpolyline(points.tolist(), dxfattribs={"layer": layer})
    _add_axis(document, np.concatenate(list(lines.values()))[:, 1].tolist())
    return document


def _refuse_names(file: Path, layers: Iterable[str]) -> None:
    seen = {AXIS_LAYER}
    for layer in layers:
        bad = set(layer) & set(_FORBIDDEN)
        if not layer.strip() or bad or not layer.isprintable() or len(layer) > 255:
            message = f'"{layer}" cannot name a layer; expected text without {" ".join(_FORBIDDEN)}'
            raise DrawingError(message, file=file.name, layer=layer, hint="use letters and digits")
        if layer.casefold() in seen:
            message = f'the layer "{layer}" is taken; upper and lower case are the same in DXF'
            raise DrawingError(message, file=file.name, layer=layer, hint="use another name")
        seen.add(layer.casefold())


def _document(outlines: Mapping[str, Outline]) -> Any:
    document, space = _empty()
    heights = [0.0]
    for number, (layer, outline) in enumerate(outlines.items(), start=1):
        document.layers.add(layer, color=number % 6 + 1)
        for piece in pieces_of(outline):
            _add(space, piece, layer)
            heights += [piece.start[1], piece.end[1]]
    _add_axis(document, heights)
    return document


def _empty() -> tuple[Any, Any]:
    """New drawing in mm and the space that is drawn in."""
    from ezdxf.filemanagement import new

    document = new("R2010", units=_MILLIMETRES)
    return document, document.modelspace()


def _add_axis(document: Any, heights: Sequence[float]) -> None:
    document.layers.add(AXIS_LAYER, color=8)
    ends = ((0.0, min(heights) - 5.0), (0.0, max(heights) + 5.0))
    document.modelspace().add_line(*ends, dxfattribs={"layer": AXIS_LAYER})


def _add(space: Any, piece: Piece, layer: str) -> None:
    attributes = {"layer": layer}
    if piece.centre is None:
        space.add_line(piece.start, piece.end, dxfattribs=attributes)
        return
    angles = sorted((piece.first, piece.first + piece.sweep))
    space.add_arc(
        piece.centre,
        piece.radius,
        *(math.degrees(angle) for angle in angles),
        dxfattribs=attributes,
    )


def pieces_of(outline: Outline) -> Iterator[Piece]:
    """Pieces of an outline right of the axis."""
    for row in outline.pieces:
        piece = _piece(row)
        start, end = piece.start[0] < 0.0, piece.end[0] < 0.0
        if start and end:
            continue
        if end:
            piece = _cut(piece)
        elif start:
            piece = _cut(piece.turned()).turned()
        if piece.length > 1e-9:
            yield piece


def _piece(row: Floats) -> Piece:
    if row[0] == LINE:
        r0, z0, r1, z1 = (float(value) for value in row[1:5])
        return Piece((r0, z0), (r1, z1))
    centre: Point = (float(row[1]), float(row[2]))
    middle, half = math.atan2(row[6], row[5]), float(np.arccos(np.clip(row[7] + 1e-12, -1.0, 1.0)))
    turn = -float(row[4])
    return arc_piece(centre, float(row[3]), middle - turn * half, 2.0 * turn * half)


def _cut(piece: Piece) -> Piece:
    """The piece up to where it passes the axis."""
    (r0, z0), (r1, z1) = piece.start, piece.end
    if piece.centre is None:
        return Piece(piece.start, (0.0, z0 + (z1 - z0) * r0 / (r0 - r1)))
    ahead = math.acos(max(-1.0, min(1.0, -piece.centre[0] / piece.radius)))
    shares = (piece.share_of(angle) for angle in (ahead, -ahead))
    share = max((one for one in shares if one <= 1.0), default=0.0)
    return arc_piece(piece.centre, piece.radius, piece.first, share * piece.sweep)
