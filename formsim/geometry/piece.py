"""Lines and arcs of a drawing: their points, their ends, and where two of them meet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from formsim.geometry.outline import Point

_TURN = 2.0 * math.pi
_HALVED_FROM = math.radians(350.0)


@dataclass(frozen=True)
class Piece:
    """A line, or an arc where ``centre`` is given, walked from ``start`` to ``end``.

    Attributes
    ----------
    start, end : [mm]
    entity : handle in the drawing and, in a polyline, number of the segment
    centre : of an arc, None for a line [mm]
    sweep : angle of an arc from start to end, counterclockwise positive [rad]
    """

    start: Point
    end: Point
    entity: str = ""
    centre: Point | None = None
    sweep: float = 0.0

    @property
    def radius(self) -> float:
        """Radius of an arc, 0 for a line [mm]."""
        return 0.0 if self.centre is None else math.dist(self.start, self.centre)

    @property
    def first(self) -> float:
        """Angle of the start seen from the centre of an arc [rad]."""
        centre = self.centre or self.start
        return math.atan2(self.start[1] - centre[1], self.start[0] - centre[0])

    @property
    def length(self) -> float:
        """Length along the piece [mm]."""
        return self.radius * abs(self.sweep) if self.centre else math.dist(self.start, self.end)

    def at(self, share: float) -> Point:
        """Point at a share of the length, 0 at the start, 1 at the end [mm]."""
        if share in (0.0, 1.0):
            return self.end if share else self.start
        if self.centre is None:
            (r0, z0), (r1, z1) = self.start, self.end
            return r0 + share * (r1 - r0), z0 + share * (z1 - z0)
        return on_circle(self.centre, self.radius, self.first + share * self.sweep)

    def direction(self, share: float) -> Point:
        """Unit tangent at a share of the length."""
        if self.centre is None:
            length = math.dist(self.start, self.end)
            return (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length
        angle = self.first + share * self.sweep
        turn = math.copysign(1.0, self.sweep)
        return -turn * math.sin(angle), turn * math.cos(angle)

    def turned(self) -> Piece:
        """The same piece walked the other way."""
        return replace(self, start=self.end, end=self.start, sweep=-self.sweep)

    def between(self, start: Point, end: Point) -> Piece:
        """Copy with other ends; an arc keeps its sweep, so its radius changes with the chord."""
        if (start, end) == (self.start, self.end):
            return self
        if self.centre is None:
            return replace(self, start=start, end=end)
        return bulged(start, end, math.tan(0.25 * self.sweep), self.entity)

    def farthest(self, towards: Point) -> tuple[float, float]:
        """Share of the point that lies farthest in a direction, and how far it lies [mm]."""
        shares = [0.0, 1.0]
        if self.centre is None:
            shares.append(0.5)
        else:
            share = self.share_of(math.atan2(towards[1], towards[0]))
            shares += [share] if share <= 1.0 else []
        reaches = [(towards[0] * r + towards[1] * z, s) for s in shares for r, z in [self.at(s)]]
        best = max(reach for reach, _ in reaches)
        return next(s for reach, s in reversed(reaches) if reach > best - 1e-9), best

    def share_of(self, angle: float) -> float:
        """Share of an arc at an angle around its centre; beyond 1 where the arc is not."""
        ahead = (angle - self.first) * math.copysign(1.0, self.sweep) % _TURN
        return ahead / abs(self.sweep)


def on_circle(centre: Point, radius: float, angle: float) -> Point:
    """Point of a circle at an angle [mm, rad]."""
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def arc_piece(centre: Point, radius: float, first: float, sweep: float, entity: str = "") -> Piece:
    """Arc from the angle ``first`` over ``sweep`` [rad]."""
    start, end = (on_circle(centre, radius, angle) for angle in (first, first + sweep))
    return Piece(start, end, entity, centre, sweep)


def bulged(start: Point, end: Point, bulge: float, entity: str = "") -> Piece:
    """Segment of a polyline: a line for bulge 0, else an arc with ``bulge = tan(sweep/4)``."""
    if bulge == 0.0 or start == end:
        return Piece(start, end, entity)
    aside = 0.25 * (1.0 / bulge - bulge)
    dr, dz = end[0] - start[0], end[1] - start[1]
    middle = (0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1]))
    centre = (middle[0] - aside * dz, middle[1] + aside * dr)
    return Piece(start, end, entity, centre, 4.0 * math.atan(bulge))


def halves(piece: Piece) -> tuple[Piece, ...]:
    """The piece, or two halves of it where it is nearly a full circle."""
    if piece.centre is None or abs(piece.sweep) < _HALVED_FROM:
        return (piece,)
    middle, sweep = piece.at(0.5), 0.5 * piece.sweep
    return replace(piece, end=middle, sweep=sweep), replace(piece, start=middle, sweep=sweep)


def nearest(piece: Piece, point: Point) -> tuple[float, float]:
    """Distance of a point to a piece [mm], and the share of the closest point."""
    shares = [0.0, 1.0]
    if piece.centre is None:
        (r0, z0), (tr, tz) = piece.start, piece.direction(0.0)
        share = ((point[0] - r0) * tr + (point[1] - z0) * tz) / piece.length
    else:
        share = piece.share_of(
            math.atan2(point[1] - piece.centre[1], point[0] - piece.centre[0]),
        )
    shares += [share] if 0.0 <= share <= 1.0 else []
    return min((math.dist(piece.at(s), point), s) for s in shares)


def overlap(one: Piece, other: Piece, tolerance: float) -> Point | None:
    """A point of the stretch two pieces share, None where they do not lie on each other."""
    if not _same_carrier(one, other, tolerance):
        return None
    for upper, lower in ((one, other), (other, one)):
        margin = 2.0 * tolerance / lower.length
        for share in (0.5, 0.0, 1.0):
            distance, beside = nearest(lower, upper.at(share))
            if distance <= tolerance and margin < beside < 1.0 - margin:
                return upper.at(share)
    return None


def _same_carrier(one: Piece, other: Piece, tolerance: float) -> bool:
    if one.centre is not None and other.centre is not None:
        apart = math.dist(one.centre, other.centre)
        return apart <= tolerance and abs(one.radius - other.radius) <= tolerance
    if one.centre is not None or other.centre is not None:
        return False
    short, long = sorted((one, other), key=lambda piece: piece.length)
    tr, tz = long.direction(0.0)
    return all(
        abs(tr * (z - long.start[1]) - tz * (r - long.start[0])) <= tolerance
        for r, z in (short.start, short.end)
    )


def meetings(one: Piece, other: Piece, slack: float) -> list[Point]:
    """Points that lie on both pieces, within ``slack`` of them [mm]; none along an overlap."""
    if one.centre is None and other.centre is None:
        found = _line_line(one, other)
    elif one.centre is not None and other.centre is not None:
        found = _circle_circle(one, other)
    else:
        found = _line_circle(one, other) if one.centre is None else _line_circle(other, one)
    return [at for at in found if max(nearest(one, at)[0], nearest(other, at)[0]) <= slack]


def _line_line(one: Piece, other: Piece) -> list[Point]:
    (r0, z0), (tr, tz), (sr, sz) = one.start, one.direction(0.0), other.direction(0.0)
    cross = tr * sz - tz * sr
    if abs(cross) < 1e-12:
        return []
    along = ((other.start[0] - r0) * sz - (other.start[1] - z0) * sr) / cross
    return [(r0 + along * tr, z0 + along * tz)]


def _line_circle(line: Piece, arc: Piece) -> list[Point]:
    centre = arc.centre or arc.start
    (r0, z0), (tr, tz) = line.start, line.direction(0.0)
    along = (centre[0] - r0) * tr + (centre[1] - z0) * tz
    foot = (r0 + along * tr, z0 + along * tz)
    return _across(foot, (tr, tz), arc.radius**2 - math.dist(foot, centre) ** 2)


def _circle_circle(one: Piece, other: Piece) -> list[Point]:
    centre, second = one.centre or one.start, other.centre or other.start
    apart = math.dist(centre, second)
    if apart < 1e-12:
        return []
    er, ez = (second[0] - centre[0]) / apart, (second[1] - centre[1]) / apart
    along = 0.5 * (apart + (one.radius - other.radius) * (one.radius + other.radius) / apart)
    foot = (centre[0] + along * er, centre[1] + along * ez)
    return _across(foot, (-ez, er), one.radius**2 - along**2)


def _across(foot: Point, along: Point, half_squared: float) -> list[Point]:
    if half_squared < 0.0:
        return []
    half = math.sqrt(half_squared)
    return [(foot[0] + s * half * along[0], foot[1] + s * half * along[1]) for s in (-1.0, 1.0)]
