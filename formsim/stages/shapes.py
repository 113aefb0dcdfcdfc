"""Outlines of punches, dies, holders and dome tools from their dimensions."""

from __future__ import annotations

import math

import numpy as np

from formsim.geometry.outline import CONVEX, Outline, arc, chain, line

TALL = 500.0

STEP_ROUND = 5.0
"""Rounds at the ends of the cone of a stepped punch, in lengths of the cone."""

CONE = 0.15
"""Height of the cones of an ironing ring, in radii of its bore; common practice, no source."""


def flat_punch(radius: float, nose_radius: float) -> Outline:
    """Punch with a flat nose whose face is at z = 0; the sheet is below and outside."""
    return chain([(radius, TALL), (radius, 0.0), (-1.0, 0.0)], [nose_radius])


def round_punch(radius: float) -> Outline:
    """Hemispherical punch with its pole at z = 0."""
    wall = line((radius, TALL), (radius, radius))
    nose = arc((0.0, radius), radius, CONVEX, 0.0, -math.pi / 2 - 0.05)
    return Outline(np.array([wall, nose]))


def cavity_punch(
    radius: float, nose_radius: float, cavity_radius: float, lip_radius: float, depth: float
) -> Outline:
    """Flat-nosed punch with a cavity in its face, for the dome."""
    floor = min(2.0 * lip_radius, 0.5 * depth)
    points = [
        (radius, TALL),
        (radius, 0.0),
        (cavity_radius, 0.0),
        (cavity_radius, depth),
        (-1.0, depth),
    ]
    return chain(points, [nose_radius, lip_radius, floor])


def ring_punch(
    radius: float,
    nose_radius: float,
    ring_radius: float,
    ring_round: float,
    height: float,
    depth: float,
) -> Outline:
    """Punch whose nose tapers down to a rounded ring around a cavity.

    Parameters
    ----------
    radius : of the wall [mm]
    nose_radius : between wall and taper [mm]
    ring_radius : of the lowest circle of the ring, at z = 0 [mm]
    ring_round : rounding of the ring [mm]
    height : of the corner between wall and taper above the ring [mm]
    depth : of the cavity above the ring [mm]
    """
    foot, slope = _taper(radius, ring_radius, ring_round, height)
    inner = ring_radius - ring_round
    upper = chain([(radius, TALL), (radius, height), foot], [nose_radius])
    ring = arc((ring_radius, ring_round), ring_round, CONVEX, slope, -math.pi)
    floor = min(ring_round, 0.5 * (depth - ring_round))
    cavity = chain([(inner, ring_round), (inner, depth), (-1.0, depth)], [floor])
    return Outline(np.concatenate([upper.pieces, ring[None], cavity.pieces]))


def stepped(punch: Outline, height: float, upper: float, length: float) -> Outline:
    """Punch whose wall is narrower from a height on, with a cone between.

    Parameters
    ----------
    punch : its first piece is the wall, from above down to the nose
    height : where the cone begins [mm]
    upper : radius above the cone [mm]
    length : of the cone [mm]
    """
    radius, end = float(punch.pieces[0, 3]), float(punch.pieces[0, 4])
    points = [(upper, TALL), (upper, height + length), (radius, height), (radius, end)]
    wall = chain(points, [STEP_ROUND * length, STEP_ROUND * length])
    return Outline(np.concatenate([wall.pieces, punch.pieces[1:]]))


def _taper(
    radius: float, ring_radius: float, ring_round: float, height: float
) -> tuple[tuple[float, float], float]:
    """Point where the taper meets the ring, and the angle of the normal there [rad]."""
    across, up = radius - ring_radius, height - ring_round
    distance = math.hypot(across, up)
    normal = math.atan2(up, across) - math.acos(ring_round / distance)
    foot = (
        ring_radius + ring_round * math.cos(normal),
        ring_round + ring_round * math.sin(normal),
    )
    return foot, normal


def die(opening: float, radius: float, land: float, relief: float) -> Outline:
    """Drawing die with its face at z = 0: profile radius, cylindrical land, relieved throat."""
    below = -radius - land
    if relief <= 0.0:
        return chain([(opening, -TALL), (opening, 0.0), (TALL, 0.0)], [radius])
    back = opening + relief
    points = [
        (back, -TALL),
        (back, below - 4.0 * relief),
        (opening, below),
        (opening, 0.0),
        (TALL, 0.0),
    ]
    return chain(points, [2.0 * relief, 2.0 * relief, radius])


def sleeve(radius: float, corner_radius: float, inner: float, edge_radius: float) -> Outline:
    """Redraw sleeve whose face is at z = 0, sheet below and outside."""
    points = [(radius, TALL), (radius, 0.0), (inner, 0.0), (inner, TALL)]
    return chain(points, [corner_radius, edge_radius])


def reverse_ring(
    outer: float,
    outer_radius: float,
    opening: float,
    radius: float,
    land: float,
    relief: float,
) -> Outline:
    """Ring inside a cup, crest at z = 0, sheet below: outer wall, crest, relieved throat."""
    above = radius + land
    points = [(outer, TALL), (outer, 0.0), (opening, 0.0)]
    if relief <= 0.0:
        return chain([*points, (opening, TALL)], [outer_radius, radius])
    back = opening + relief
    points += [(opening, above), (back, above + 4.0 * relief), (back, TALL)]
    return chain(points, [outer_radius, radius, 2.0 * relief, 2.0 * relief])


def ironing_ring(
    bore: float,
    entry_angle: float,
    entry_radius: float,
    land: float,
    exit_angle: float,
) -> Outline:
    """Ironing ring with the entry side of its land at z = 0, sheet inside.

    Parameters
    ----------
    bore : radius of the land [mm]
    entry_angle, exit_angle : of the cones to the axis [deg]
    entry_radius : of the corners between cones and land [mm]
    """
    entry, back = math.radians(entry_angle), math.radians(exit_angle)
    height, tail = CONE * bore, CONE * bore
    points = [
        (bore + tail * math.tan(back), -land - tail),
        (bore, -land),
        (bore, 0.0),
        (bore + height * math.tan(entry), height),
        (TALL, height),
    ]
    return chain(points, [entry_radius, entry_radius, 0.2 * height])


def holder(inner: float, edge_radius: float) -> Outline:
    """Flat blank holder whose face is at z = 0, sheet below."""
    return chain([(TALL, 0.0), (inner, 0.0), (inner, TALL)], [edge_radius])


def dome_tool(crown_radius: float, shoulder_radius: float, radius: float) -> Outline:
    """Dome tool with its pole at z = 0, sheet above: crown, shoulder, cylinder."""
    reach = radius - shoulder_radius
    centre = -crown_radius
    blend = math.acos(reach / (crown_radius - shoulder_radius))
    z = centre + (crown_radius - shoulder_radius) * math.sin(blend)
    pieces = [
        arc((0.0, centre), crown_radius, CONVEX, math.pi / 2 + 0.05, blend),
        arc((reach, z), shoulder_radius, CONVEX, blend, 0.0),
        line((radius, z), (radius, z - TALL)),
    ]
    return Outline(np.array(pieces))


def flat_ring(inner: float, outer: float, edge_radius: float) -> Outline:
    """Flat clamp ring below the sheet with its face at z = 0."""
    points = [(inner, -TALL), (inner, 0.0), (outer, 0.0), (outer, -TALL)]
    return chain(points, [edge_radius, edge_radius])


def taper_ring(
    radius: float, ring_radius: float, ring_round: float, height: float, gap: float, edge: float
) -> Outline:
    """Clamp ring below the taper of a ringed punch, ``gap`` away from it along the normal."""
    foot, slope = _taper(radius, ring_radius, ring_round, height)
    top = (radius, height)
    length = math.dist(foot, top)
    along = ((top[0] - foot[0]) / length, (top[1] - foot[1]) / length)
    shift = (gap * math.cos(slope), gap * math.sin(slope))
    first = (
        foot[0] + shift[0] + 0.1 * length * along[0],
        foot[1] + shift[1] + 0.1 * length * along[1],
    )
    last = (
        foot[0] + shift[0] + 0.8 * length * along[0],
        foot[1] + shift[1] + 0.8 * length * along[1],
    )
    return chain([(first[0], -TALL), first, last, (last[0], -TALL)], [edge, edge])
