"""Picture of what was understood of a drawn outline: pieces, radii, gaps, free side, axis."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from formsim.arrays import Floats
from formsim.geometry.drawing import DrawnOutline
from formsim.geometry.outline import Point
from formsim.geometry.piece import Piece
from formsim.report.style import INK, colour, new_figure, plain, save_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_PER_PIECE = 60
_LONG = 2.5
_ROWS, _MARKED, _LABELLED = 36, 8, 24
_WIDE = 48
_FREE, _GAP, _SOLID = "#2b8a7e", "#b3261e", -1.0

Box = tuple[float, float, float, float]


def save_drawing(drawn: DrawnOutline, path: Path) -> tuple[Path, Path]:
    """Save the picture as SVG and PNG; ``path`` has no ending."""
    return save_figure(partial(drawing_figure, drawn), path)


def drawing_figure(drawn: DrawnOutline) -> Figure:
    """The outline with its pieces numbered, and beside it a list of them."""
    figure = new_figure(10.5, 6.4)
    axes, words = figure.subplots(1, 2, width_ratios=(1.6, 1.0))
    box = _box(drawn)
    size = max(box[1] - box[0], box[3] - box[2])
    for number, piece in enumerate(drawn.pieces):
        _hatch_free(axes, piece, 0.03 * size)
        axes.plot(*_points(piece).T, color=colour(number % 2), linewidth=2.0, zorder=3)
    _number_pieces(axes, drawn, box, size)
    _mark_joints(axes, drawn)
    _draw_axis(axes, box)
    plain(axes)
    axes.set(xlim=box[:2], ylim=box[2:], xlabel="radius [mm]", ylabel="height [mm]")
    axes.set_title(f"hatched: free space, where the sheet is ({drawn.free_side})")
    _write_list(words, drawn)
    return figure


def _points(piece: Piece) -> Floats:
    count = 2 if piece.centre is None else _PER_PIECE
    return np.array([piece.at(float(share)) for share in np.linspace(0.0, 1.0, count)])


def _box(drawn: DrawnOutline) -> Box:
    """Limits of the picture; a straight end that is far longer than the rest is cut off."""
    shown = np.concatenate([_points(piece) for piece in _shortened(drawn.pieces)])
    (left, low), (right, high) = shown.min(axis=0), shown.max(axis=0)
    margin = 0.12 * float(max(right - left, high - low))
    left = min(left, 0.0) if left < 3.0 * (right - left) else left
    return left - margin, right + margin, low - margin, high + margin


def _shortened(pieces: Sequence[Piece]) -> list[Piece]:
    first, *rest = pieces
    if not rest:
        return [first]
    *middle, last = rest
    ends = (first.turned(), last)
    inner = np.concatenate([_points(piece) for piece in middle] + [[end.start] for end in ends])
    inner = np.concatenate([inner, *(_points(end) for end in ends if end.centre is not None)])
    span = float(np.ptp(inner, axis=0).max())
    return [*middle, *(_cut_off(end, span) for end in ends)]


def _cut_off(end: Piece, span: float) -> Piece:
    if end.centre is not None or span <= 0.0 or end.length < _LONG * span:
        return end
    return Piece(end.start, end.at(0.5 * span / end.length))


def _normal(piece: Piece, share: float) -> Point:
    """Unit normal into free space."""
    tr, tz = piece.direction(share)
    return -tz, tr


def _hatch_free(axes: Axes, piece: Piece, width: float) -> None:
    points = _points(piece)
    if piece.centre is not None and piece.sweep > 0.0:
        width = min(width, piece.radius)
    normals = [_normal(piece, float(share)) for share in np.linspace(0.0, 1.0, len(points))]
    beside = points + width * np.array(normals)
    strip = np.concatenate([points, beside[::-1]])
    axes.fill(*strip.T, facecolor="none", edgecolor=_FREE, hatch="////", linewidth=0.0, zorder=2)


def _number_pieces(axes: Axes, drawn: DrawnOutline, box: Box, size: float) -> None:
    taken: list[Point] = []
    for number, piece in enumerate(drawn.pieces, start=1):
        share = _share_in_view(piece, box)
        place, (nr, nz) = piece.at(share), _normal(piece, share)
        spots = (
            (place[0] + side * step * size * nr, place[1] + side * step * size * nz)
            for step in (0.045, 0.09, 0.135, 0.18, 0.225)
            for side in (_SOLID, -_SOLID)
        )
        spot = _free_spot(spots, taken, 0.045 * size)
        taken.append(spot)
        plainly = piece.centre is None or len(drawn.pieces) > _LABELLED
        text = f"{number}" if plainly else f"{number}: R {_short(piece.radius)}"
        axes.annotate(
            text,
            place,
            spot,
            ha="center",
            va="center",
            fontsize=8.0,
            color=INK,
            zorder=6,
            arrowprops={"arrowstyle": "-", "color": INK, "lw": 0.5, "shrinkA": 0, "shrinkB": 0},
            bbox={"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none"},
            annotation_clip=True,
        )


def _free_spot(spots: Iterator[Point], taken: Sequence[Point], apart: float) -> Point:
    """First spot away from all labels, across twice as far as up; else the last one."""
    spot = (0.0, 0.0)
    for spot in spots:
        if all(
            math.hypot(0.5 * (spot[0] - r), spot[1] - z) > apart or abs(spot[1] - z) > apart
            for r, z in taken
        ):
            return spot
    return spot


def _share_in_view(piece: Piece, box: Box) -> float:
    """Middle of the part of a piece inside the picture."""
    shares = [
        float(share)
        for share in np.linspace(0.0, 1.0, 401)
        for r, z in [piece.at(float(share))]
        if box[0] <= r <= box[1] and box[2] <= z <= box[3]
    ]
    return 0.5 * (shares[0] + shares[-1]) if shares else 0.5


def _mark_joints(axes: Axes, drawn: DrawnOutline) -> None:
    for piece in drawn.pieces:
        axes.plot(*piece.start, "o", color=INK, markersize=2.2, zorder=4)
    for corner in drawn.corners:
        axes.plot(*corner.place, "s", mfc="none", color=INK, markersize=7.0, zorder=5)
    for gap in drawn.gaps:
        axes.plot(*gap.place, "o", mfc="none", color=_GAP, markersize=11.0, mew=1.4, zorder=5)


def _draw_axis(axes: Axes, box: Box) -> None:
    axes.axvline(0.0, color=INK, linewidth=0.9, linestyle=(0, (12, 3, 2, 3)), zorder=1)
    seen = box[0] < 0.0
    text, place = ("axis", 0.0) if seen else ("axis at r = 0, left of here", box[0])
    axes.annotate(text, (place, box[3]), (3, -10), textcoords="offset points", fontsize=8.0)


def _write_list(words: Axes, drawn: DrawnOutline) -> None:
    words.axis("off")
    rows = _rows(drawn)
    if len(rows) > _ROWS:
        rows = [*rows[: _ROWS - 1], f"and {len(rows) - _ROWS + 1} rows more"]
    words.text(
        0.0, 1.0, "\n".join(rows), va="top", fontsize=8.0, linespacing=1.45, parse_math=False
    )


def _rows(drawn: DrawnOutline) -> list[str]:
    """Text beside the picture: faults that were cured first, then every piece."""
    kind = "closed section" if drawn.closed else "open outline"
    rows = [f"{drawn.file}, layer {drawn.layer}", f"drawn in {drawn.unit}, shown in mm; {kind}", ""]
    for note in drawn.notes:
        rows += textwrap.wrap(note, _WIDE)
    rings = [
        f"ring: gap of {1000 * gap.size:.3g} um closed at {_spot(gap.place)}" for gap in drawn.gaps
    ]
    squares = [
        f"square: {'edge' if corner.turn < 0 else 'notch'} of {abs(corner.turn):.3g} deg"
        f" at {_spot(corner.place)}"
        for corner in drawn.corners
    ]
    rows += [*_some(rings), *_some(squares)]
    rows += [""] if rows[-1] else []
    return rows + [_told(number, piece) for number, piece in enumerate(drawn.pieces, start=1)]


def _some(rows: list[str]) -> list[str]:
    if len(rows) <= _MARKED:
        return rows
    return [*rows[: _MARKED - 1], f"and {len(rows) - _MARKED + 1} more of these"]


def _told(number: int, piece: Piece) -> str:
    if piece.centre is None:
        return f"{number}  line {_short(piece.length)} mm, to {_spot(piece.end)}"
    bend = "hollow" if piece.sweep > 0 else "round"
    angle = math.degrees(abs(piece.sweep))
    return f"{number}  {bend} R {_short(piece.radius)}, {angle:.4g} deg, to {_spot(piece.end)}"


def _spot(place: Point) -> str:
    return f"r {_short(place[0])}, z {_short(place[1])}"


def _short(number: float) -> str:
    return f"{round(number, 4) + 0.0:.7g}"
