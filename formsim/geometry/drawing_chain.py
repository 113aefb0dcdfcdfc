"""Pieces of a drawing put end to end, and refused where they are not one clean chain."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from formsim.geometry.drawing_file import Source
from formsim.geometry.outline import Point
from formsim.geometry.piece import Piece, meetings, nearest, overlap

_ROUNDING = 1e-9
_REPORTED = 1e-6
_TOUCH = 1e-6


@dataclass(frozen=True)
class Gap:
    """A small gap between two pieces that was closed by moving an end.

    Attributes
    ----------
    place : where the ends are now [mm]
    size : how far they were apart [mm]
    entities : the two pieces in the drawing
    """

    place: Point
    size: float
    entities: tuple[str, str]


@dataclass(frozen=True)
class Chain:
    """Pieces end to end; the last ends where the first starts when it is closed."""

    pieces: tuple[Piece, ...]
    closed: bool
    gaps: tuple[Gap, ...] = ()

    @property
    def joints(self) -> Iterator[tuple[int, int]]:
        """Numbers of the pieces before and after every joint."""
        count = len(self.pieces)
        return ((k, (k + 1) % count) for k in range(count if self.closed else count - 1))


@dataclass(frozen=True)
class _End:
    piece: int
    last: bool
    place: Point


def chained(pieces: Sequence[Piece], source: Source, tolerance: float) -> Chain:
    """One chain of all pieces, small gaps closed.

    Parameters
    ----------
    pieces : none shorter than the tolerance
    tolerance : largest gap between two ends that belong together [mm]

    Raises
    ------
    DrawingError : pieces overlap, branch, cross, or make several chains
    """
    _refuse_overlaps(pieces, source, tolerance)
    partners = _partners(pieces, source, tolerance)
    chains = list(_walks(pieces, partners))
    _refuse_touching(pieces, partners, source, tolerance)
    if len(chains) > 1:
        raise _several(chains, source, tolerance)
    chain = _without_gaps(chains[0])
    _refuse_crossings(chain, source, tolerance)
    return chain


def _refuse_overlaps(pieces: Sequence[Piece], source: Source, tolerance: float) -> None:
    for one, other in combinations(pieces, 2):
        place = overlap(one, other, max(tolerance, _TOUCH))
        if place is None:
            continue
        message = (
            f"entities {one.entity} and {other.entity} lie on each other at {source.spot(place)};"
            " expected every line and arc once"
        )
        hint = "delete the duplicate; a check for overlapping objects in CAD finds them all"
        raise source.fault(message, hint, entity=other.entity, place=place)


def _ends(pieces: Sequence[Piece]) -> list[_End]:
    return [
        _End(k, last, piece.end if last else piece.start)
        for k, piece in enumerate(pieces)
        for last in (False, True)
    ]


def _partners(pieces: Sequence[Piece], source: Source, tolerance: float) -> dict[_End, _End]:
    """The one end within the tolerance of each end; free ends are not in it."""
    reach = max(tolerance, _ROUNDING)
    met: dict[_End, list[_End]] = {end: [] for end in _ends(pieces)}
    for one, other in combinations(met, 2):
        if math.dist(one.place, other.place) <= reach:
            met[one].append(other)
            met[other].append(one)
    for end, others in met.items():
        if len(others) > 1:
            raise _branch(pieces, end, others, source, tolerance)
    return {end: others[0] for end, others in met.items() if others}


def _branch(
    pieces: Sequence[Piece], end: _End, others: list[_End], source: Source, tolerance: float
) -> Exception:
    names = ", ".join(dict.fromkeys(pieces[one.piece].entity for one in (end, *others)))
    message = (
        f"the outline branches at {source.spot(end.place)}: {len(others) + 1} ends meet there"
        f" (entities {names}); expected two"
    )
    hint = (
        "move what does not belong to the outline to another layer;"
        f" if short pieces are meant, make the gap tolerance smaller than {tolerance:g} mm"
    )
    return source.fault(message, hint, entity=pieces[end.piece].entity, place=end.place)


def _walks(pieces: Sequence[Piece], partners: dict[_End, _End]) -> Iterator[Chain]:
    """Every chain once: open ones from a free end, then closed ones."""
    todo = dict.fromkeys(range(len(pieces)))
    ends = _ends(pieces)
    for begin in [end for end in ends if end not in partners] + ends:
        if begin.piece not in todo:
            continue
        walk: list[Piece] = []
        end: _End | None = begin
        while end is not None and end.piece in todo:
            del todo[end.piece]
            piece = pieces[end.piece]
            walk.append(piece.turned() if end.last else piece)
            end = partners.get(ends[2 * end.piece + (not end.last)])
        yield Chain(tuple(walk), closed=begin in partners)


def _refuse_touching(
    pieces: Sequence[Piece], partners: dict[_End, _End], source: Source, tolerance: float
) -> None:
    """Refuse a free end that lies on the middle of a piece: one that was not trimmed, mostly."""
    for end in _ends(pieces):
        if end in partners:
            continue
        for k, piece in enumerate(pieces):
            distance, share = nearest(piece, end.place)
            inside = 2.0 * tolerance < share * piece.length < piece.length - 2.0 * tolerance
            if k != end.piece and inside and distance <= max(tolerance, _TOUCH):
                own = pieces[end.piece].entity
                message = (
                    f"entity {own} ends on the middle of entity {piece.entity} at"
                    f" {source.spot(end.place)}; expected ends to meet ends"
                )
                hint = f"trim entity {piece.entity} there, or move the piece to another layer"
                raise source.fault(message, hint, entity=own, place=end.place)


def _several(chains: list[Chain], source: Source, tolerance: float) -> Exception:
    listed = "; ".join(_told(chain, source) for chain in chains[:4])
    more = f"; and {len(chains) - 4} more" if len(chains) > 4 else ""
    message = f"{len(chains)} separate chains: {listed}{more}; expected one"
    hint = "keep one outline to a layer"
    opened = [chain for chain in chains if not chain.closed]
    pairs = [
        (math.dist(a, b), a, b, one.pieces[0].entity)
        for one, other in combinations(opened, 2)
        for a in (one.pieces[0].start, one.pieces[-1].end)
        for b in (other.pieces[0].start, other.pieces[-1].end)
    ]
    if not pairs:
        return source.fault(message, hint, entity=chains[0].pieces[0].entity)
    size, a, b, entity = min(pairs)
    message += (
        f". The nearest ends are {size:.4g} mm apart, at {source.spot(a)} and {source.spot(b)},"
        f" more than the gap tolerance of {tolerance:g} mm"
    )
    return source.fault(message, f"close that gap in the drawing; {hint}", entity=entity, place=a)


def _told(chain: Chain, source: Source) -> str:
    count = f"{len(chain.pieces)} piece" + ("s" if len(chain.pieces) != 1 else "")
    start, end = source.spot(chain.pieces[0].start), source.spot(chain.pieces[-1].end)
    if chain.closed:
        return f"{count}, closed, through {start}"
    return f"{count} from {start} to {end}"


def _without_gaps(chain: Chain) -> Chain:
    """Every joint at one point; arcs stay as they are where a line can be moved instead."""
    pieces, gaps = list(chain.pieces), []
    for k, j in chain.joints:
        before, after = pieces[k], pieces[j]
        size = math.dist(before.end, after.start)
        if size <= _ROUNDING:
            continue
        place = _joint(before, after)
        pieces[k] = before.between(before.start, place)
        pieces[j] = (pieces[k] if k == j else after).between(place, after.end)
        if size > _REPORTED:
            gaps.append(Gap(place, size, (before.entity, after.entity)))
    return Chain(tuple(pieces), chain.closed, tuple(gaps))


def _joint(before: Piece, after: Piece) -> Point:
    """Where two ends are brought together; of two arcs the longer one moves."""
    if before.centre is None and after.centre is None:
        (r0, z0), (r1, z1) = before.end, after.start
        return 0.5 * (r0 + r1), 0.5 * (z0 + z1)
    if before.centre is None:
        return after.start
    if after.centre is None:
        return before.end
    return before.end if before.length < after.length else after.start


def _refuse_crossings(chain: Chain, source: Source, tolerance: float) -> None:
    shared = {
        frozenset(pair): [chain.pieces[pair[0]].end] for pair in chain.joints if len(set(pair)) > 1
    }
    if chain.closed and len(chain.pieces) == 2:
        shared[frozenset((0, 1))].append(chain.pieces[0].start)
    near = max(2.0 * tolerance, _TOUCH)
    for (k, one), (j, other) in combinations(enumerate(chain.pieces), 2):
        joints = shared.get(frozenset((k, j)), [])
        for place in meetings(one, other, _TOUCH):
            if all(math.dist(place, joint) > near for joint in joints):
                message = (
                    f"the outline crosses itself at {source.spot(place)}: entities"
                    f" {one.entity} and {other.entity} meet there"
                )
                hint = "trim the two pieces at their corner, or delete the one that is not meant"
                raise source.fault(message, hint, entity=one.entity, place=place)
