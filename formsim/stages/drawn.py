"""The outline of a tool: as drawn where the case names a drawing, else built from its dimensions.

Built shapes run to half a metre beyond the sheet; a drawing ends where it was drawn and is carried
on straight. Between two straight pieces of a convex corner the contact sees nothing: corners that
come from rounding are bridged, others are left to ``stages/drawn_check.py``.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from formsim.arrays import Floats
from formsim.case.drawing import Drawing
from formsim.errors import DrawingError
from formsim.geometry.drawing import DrawnOutline, read_outline
from formsim.geometry.outline import CONVEX, Outline, Point, arc, line
from formsim.geometry.piece import Piece, meetings
from formsim.stages.roles import Role
from formsim.stages.shapes import TALL

BRIDGED = 2.0
"""Convex corners up to this turn come from rounding in a drawing or a closed gap; the contact gets
a round of no size there, which is too flat to cut into the sheet [deg]."""

_ENOUGH = 0.5 * TALL
_SAME = 1e-9


@dataclass(frozen=True)
class Fitted:
    """A drawing made ready for contact.

    Attributes
    ----------
    drawn : what was understood, in the coordinates of the drawing
    outline : as the stage uses it
    carried : ends of the drawing from which it goes on straight [mm]
    ends : ends where it stops [mm]
    """

    drawn: DrawnOutline
    outline: Outline
    carried: tuple[Point, ...]
    ends: tuple[Point, ...]


def outline_of(drawing: Drawing | None, role: Role, built: Callable[[], Outline]) -> Outline:
    """Outline of a tool with z = 0 where its role says.

    Raises
    ------
    DrawingError : the drawing gives no clean outline, or is not what it was
    """
    return built() if drawing is None else fitted(drawing, role).outline


@lru_cache(maxsize=64)
def fitted(drawing: Drawing, role: Role) -> Fitted:
    """A drawing read, moved to its z = 0, its corners bridged and its ends carried on."""
    _refuse_changed(drawing)
    drawn = read_outline(
        drawing.file.path,
        drawing.layer,
        free_side=role.side,
        unit=drawing.unit,
        gap_tolerance=drawing.gap_tolerance,
    )
    rows = _bridged(drawn)
    carried, ends = [], []
    for last, piece in _open_ends(drawn, drawing.gap_tolerance):
        place = piece.end
        if (piece.centre is None and piece.length >= _ENOUGH) or (role.leaves and not last):
            continue
        if not _goes_on(piece, drawn, role, last=last):
            ends.append(place)
            continue
        carried.append(place)
        rows = _carry_on(rows, piece, last=last)
    up = _to_zero(drawn, role)
    outline = Outline(np.array(rows))
    return Fitted(drawn, outline.moved(0.0, up) if up else outline, tuple(carried), tuple(ends))


def _refuse_changed(drawing: Drawing) -> None:
    file = drawing.file
    try:
        content = hashlib.sha256(file.path.read_bytes()).hexdigest()
    except OSError:
        return
    if content != file.content:
        message, hint = "has changed since the case was read", "start again"
        raise DrawingError(message, file=file.name, hint=hint)


def _bridged(drawn: DrawnOutline) -> list[Floats]:
    """Rows of the outline, with a round of no size at every slight convex corner."""
    turns = {corner.place: corner.turn for corner in drawn.corners if is_slight(corner.turn)}
    rows: list[Floats] = []
    for row, piece in zip(drawn.outline.pieces, drawn.pieces, strict=True):
        rows.append(row)
        if piece.end in turns:
            tr, tz = piece.direction(1.0)
            first, turn = math.atan2(tr, -tz), math.radians(turns[piece.end])
            rows.append(arc(piece.end, 0.0, CONVEX, first, first + turn))
    return rows


def is_slight(turn: float) -> bool:
    """Whether a corner is convex and so slight that it is bridged [deg]."""
    return -BRIDGED <= turn < 0.0


def _open_ends(drawn: DrawnOutline, tolerance: float) -> Iterator[tuple[bool, Piece]]:
    """Pieces at the ends of an open outline, each walked outwards, without those on the axis."""
    if drawn.closed:
        return
    for last, piece in ((False, drawn.pieces[0].turned()), (True, drawn.pieces[-1])):
        if piece.end[0] > max(tolerance, _SAME):
            yield last, piece


def _goes_on(piece: Piece, drawn: DrawnOutline, role: Role, *, last: bool) -> bool:
    """Whether a tool goes on straight where its drawing ends.

    A ring does so only where it is cut off across: its cones would cut into the sheet. A necking
    die does so along its bore too. Where the straight would run into the tool itself, the end lies
    at its back.
    """
    tr, tz = piece.direction(1.0)
    along = tz if last else -tz
    if role.side == "inside" and tr <= abs(tz) and not (role.upright and along > abs(tr)):
        return False
    own = drawn.pieces[-1 if last else 0]
    beyond = _beyond(piece)
    return not any(meetings(beyond, other, _SAME) for other in drawn.pieces if other is not own)


def _beyond(piece: Piece) -> Piece:
    (r, z), (tr, tz) = piece.end, piece.direction(1.0)
    return Piece((r, z), (r + TALL * tr, z + TALL * tz))


def _carry_on(rows: list[Floats], piece: Piece, *, last: bool) -> list[Floats]:
    beyond = _beyond(piece)
    straight = piece.centre is None
    start = piece.start if straight else piece.end
    ends = (start, beyond.end) if last else (beyond.end, start)
    kept = rows if not straight else rows[:-1] if last else rows[1:]
    return [*kept, line(*ends)] if last else [line(*ends), *kept]


def _to_zero(drawn: DrawnOutline, role: Role) -> float:
    """How far a drawing has to be moved up [mm]."""
    if role.zero == "drawn":
        return 0.0
    sign = 1.0 if role.zero == "highest" else -1.0
    level = sign * max(piece.farthest((0.0, sign))[1] for piece in drawn.pieces)
    return 0.0 if abs(level) < _SAME else -level
