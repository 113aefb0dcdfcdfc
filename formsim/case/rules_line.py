"""Pre-flight rules behind the first draw: redraw, ironing, trim, neck and flange."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from formsim.case.finding import COMMON, SHOP, SHOP_READ, Finding, Verdict, bounded, ranged
from formsim.case.stage import Flange, Iron, Neck, Redraw, Stage, Stroke, Trim
from formsim.case.tools import FlangeTool, Punch, RedrawDie, Ring, Sleeve
from formsim.case.workpiece import Workpiece

USUAL_REDRAW = (1.1, 1.4)
VESSEL_RING = 0.35
"""Largest reduction of a ring in one published vessel design, 34.3 % (read), rounded up."""
VESSEL = "Chinese Journal of Mechanical Engineering 35, 2022, table 8, one vessel design, read"
SLAB = "slab without hardening, Sachs 1927, Hill 1950, memory"
NOSING = "A. Nadai, ASME, 1943, memory: plane stress, no bending"
NECK_STEP = 5.0
"""Usual radial reduction of a necking step, in thicknesses of the rim."""
FLANGE_STRAIN = 0.10


def line_findings(before: Workpiece, stage: Stage, limiting_ratio: float) -> Iterator[Finding]:
    """Findings of one stage behind the first draw.

    Parameters
    ----------
    before : what the stage is given
    stage : any; kinds with rules elsewhere give nothing
    limiting_ratio : of a first draw of this sheet [-]
    """
    name = stage.name
    if isinstance(stage, Redraw | Stroke):
        yield from _redraw(name, before, stage.punch, stage.die, limiting_ratio)
        if stage.sleeve is not None:
            yield from _sleeve(name, before, stage.sleeve)
    if isinstance(stage, Redraw) and stage.die.outer_radius is not None:
        yield _corner(f"{name}: ring edge radius", stage.die.outer_radius / before.wall)
    if isinstance(stage, Iron):
        yield _loose_punch(name, before, stage.punch)
    if isinstance(stage, Iron | Stroke):
        friction = stage.friction.ring, stage.friction.punch
        yield from ring_findings(name, before, stage.punch, stage.rings, friction)
    if isinstance(stage, Trim) and before.height is not None:
        yield _trimmed(name, before.height, stage.height)
    if isinstance(stage, Neck):
        yield from _neck(name, before, stage)
    if isinstance(stage, Flange):
        yield _flange(name, before, stage)


def slab_share(
    reduction: float, entry_angle: float, ring_friction: float, punch_friction: float
) -> float:
    """Wall stress behind a ring over its strength, no hardening; the wall yields at 1 [-].

    Parameters
    ----------
    reduction : share of the wall the ring takes, below 1 [-]
    entry_angle : of the entry cone to the axis [deg]
    ring_friction, punch_friction : Coulomb friction [-]

    Source: G. Sachs (1927), R. Hill, The Mathematical Theory of Plasticity, 1950 (memory):
    ``(1 + 1/B) [1 - (1 - red)**B]``, ``B = (mu_ring - mu_punch)/tan(angle)``.
    """
    b = (ring_friction - punch_friction) / math.tan(math.radians(entry_angle))
    way = math.log1p(-reduction)
    if abs(b) < 1.0e-9:
        return -way
    return -(1.0 + 1.0 / b) * math.expm1(b * way)


def nosing_share(body: float, neck: float, angle: float, friction: float) -> float:
    """Stress along a wall where it enters a conical die, over its flow stress, no bending [-].

    Parameters
    ----------
    body, neck : mean diameters where the wall enters the cone and at its rim [mm]
    angle : of the cone to the axis [deg]
    friction : Coulomb friction [-]

    Source: A. Nadai, "Plastic state of stress in curved shells", ASME, 1943 (memory;
    re-derived): plane stress, Tresca, constant thickness, hoop stress equal to the flow stress,
    ``d(s r)/dr = Y (1 + mu/tan(angle))``, so ``(1 + mu/tan(angle)) (1 - d1/d0)``.
    """
    return (1.0 + friction / math.tan(math.radians(angle))) * (1.0 - neck / body)


def flange_strain(neck: float, tool: FlangeTool, depth: float) -> float:
    """Hoop strain of the edge if the turned wall kept its length, a little more than real [-].

    Parameters
    ----------
    neck : inside diameter of the rim before [mm]
    tool : pilot, round and face
    depth : travel of the tool from first touch, the length of wall that is turned [mm]

    Source: geometry of the round and the straight face behind it.
    """
    angle = math.radians(tool.angle)
    turned = min(depth / tool.radius, angle)
    straight = max(depth - tool.radius * angle, 0.0)
    wider = tool.radius * (1.0 - math.cos(turned)) + straight * math.sin(angle)
    return math.log1p(2.0 * wider / neck)


def _redraw(
    name: str, before: Workpiece, punch: Punch, die: RedrawDie, limiting_ratio: float
) -> Iterator[Finding]:
    yield _redraw_ratio(name, before.inner / punch.diameter, limiting_ratio)
    yield ranged(
        f"{name}: clearance in thicknesses",
        die.clearance / before.wall,
        (1.07, 1.15),
        "the thickened rim is ironed in the gap: force and die wear rise",
        "the wall stands loose in the gap: it may pucker and come out tapered",
    )
    yield ranged(
        f"{name}: die radius in thicknesses",
        die.radius / before.wall,
        (4.0, 10.0),
        "sharp bending over the die: higher force, more thinning, scoring",
        "the wall leaves the sleeve early: wrinkles as it passes the die radius",
    )
    yield ranged(
        f"{name}: punch nose radius in thicknesses",
        punch.nose_radius / before.wall,
        (4.0, 8.0),
        "the sheet thins over a sharp nose: the base may tear there",
        "much sheet is unsupported over a large nose: it may pucker",
    )


def _redraw_ratio(name: str, ratio: float, limiting_ratio: float) -> Finding:
    low, high = USUAL_REDRAW
    verdict: Verdict = "good"
    text = ""
    if ratio > limiting_ratio:
        verdict, text = "will fail", "beyond even a first draw: the base tears; redraw in two steps"
    elif ratio > high:
        verdict, text = "watch", "a large step: little margin against a torn base"
    elif ratio < low:
        verdict, text = "watch", "a small step: the same cup may need fewer redraws"
    return Finding(
        f"{name}: redraw ratio",
        ratio,
        f"{low:g} to {high:g}, limit {limiting_ratio:.3g}",
        f"{SHOP_READ}; limit Whiteley 1960 for a first draw, memory",
        verdict,
        text,
    )


def _sleeve(name: str, before: Workpiece, sleeve: Sleeve) -> Iterator[Finding]:
    gap = 0.5 * (before.inner - sleeve.diameter) / before.wall
    yield ranged(
        f"{name}: gap of sleeve and cup in thicknesses",
        gap,
        (0.0, 1.0),
        "the sleeve does not enter the cup",
        "the cup is not centred on the sleeve: an uneven rim, puckers above the corner",
        COMMON,
    )
    yield _corner(f"{name}: sleeve corner radius", sleeve.corner_radius / before.wall)


def _corner(what: str, corner: float) -> Finding:
    text = "sharp bending over it: higher force, more thinning" if corner < 4.0 else ""
    verdict: Verdict = "watch" if text else "good"
    return Finding(f"{what} in thicknesses", corner, "at least 4", SHOP, verdict, text)


def _loose_punch(name: str, before: Workpiece, punch: Punch) -> Finding:
    return ranged(
        f"{name}: gap of punch and cup in thicknesses",
        0.5 * (before.inner - punch.diameter) / before.wall,
        (0.0, 1.0),
        "the punch does not enter the cup",
        "the cup hangs loose: the first ring draws it narrower before it irons it",
        COMMON,
    )


def ring_findings(
    name: str,
    before: Workpiece,
    punch: Punch,
    rings: Sequence[Ring],
    friction: tuple[float, float],
) -> Iterator[Finding]:
    """Rings of one stroke; ``friction`` is that of the rings and of the punch."""
    wall, total = before.wall, 1.0
    for number, ring in enumerate(rings, start=1):
        gap = 0.5 * (ring.bore - punch.diameter)
        share = 1.0 - gap / wall
        which = f"{name}: ring {number}" if len(rings) > 1 else f"{name}: ring"
        yield from _ring(which, share, gap, ring, friction)
        total *= min(gap / wall, 1.0)
        wall = min(wall, gap)
    most = 1.0 - (1.0 - VESSEL_RING) ** len(rings)
    text = "more than these rings usually take: add a ring" if 1.0 - total > most else ""
    verdict: Verdict = "watch" if text else "good"
    yield Finding(
        f"{name}: total reduction", 1.0 - total, f"up to {most:.3g}", VESSEL, verdict, text
    )


def _ring(
    which: str, share: float, gap: float, ring: Ring, friction: tuple[float, float]
) -> Iterator[Finding]:
    if share <= 0.0:
        text = "wider than the nominal wall: it only irons the thickened rim"
        yield Finding(f"{which} reduction", share, "above 0", COMMON, "watch", text)
        return
    load = slab_share(share, ring.entry_angle, *friction)
    small = Finding(f"{which} reduction", share, f"up to {VESSEL_RING:g}", VESSEL, "good", "")
    if share > VESSEL_RING:
        text = "a hard ring: heat and galling, little margin against a torn wall"
        small = Finding(small.rule, share, small.limit, VESSEL, "watch", text)
    yield small
    yield bounded(
        f"{which} wall stress over strength",
        load,
        (0.8, 1.0),
        f"{SLAB}; 0.8 {COMMON}",
        (
            "close to the strength of the ironed wall: a scratch or a dry spot tears it",
            "the ironed wall cannot carry the load: it tears behind the ring",
        ),
    )
    yield ranged(
        f"{which} land in exit thicknesses",
        ring.land / gap,
        (1.0, 10.0),
        "a short land wears fast and leaves the wall uneven",
        "a long land adds friction and heat and no reduction",
        COMMON,
    )
    yield ranged(
        f"{which} entry angle [deg]",
        ring.entry_angle,
        (5.0, 12.0),
        "a slender cone: much friction, a high force",
        "a blunt cone: redundant shear, it may shave the wall",
        COMMON,
    )


def _trimmed(name: str, height: float, cut: float) -> Finding:
    """Metal above the cut as a share of the height the wall should have by volume."""
    share = 1.0 - cut / height
    verdict: Verdict = "good"
    text = ""
    if share < 0.0:
        verdict, text = "watch", "the body may be too short for the cut, which then is refused"
    elif share < 0.02:
        verdict, text = "watch", "hardly anything to cut: an uneven rim stays uneven"
    elif share > 0.12:
        verdict, text = "watch", "much metal is cut off: a smaller blank would do"
    return Finding(
        f"{name}: share of the height cut off",
        share,
        "0.02 to 0.12",
        f"height by constant volume and nominal walls; the range {COMMON}",
        verdict,
        text,
    )


def _neck(name: str, before: Workpiece, stage: Neck) -> Iterator[Finding]:
    die, t = stage.die, before.rim_wall
    step = 0.5 * (before.mouth - die.diameter) / t
    text = "a large step: the wall may pleat round the neck, which this program cannot see"
    yield Finding(
        f"{name}: radial step in thicknesses",
        step,
        f"up to {NECK_STEP:g}",
        COMMON,
        "watch" if step > NECK_STEP * (1.0 + 1e-9) else "good",
        text if step > NECK_STEP * (1.0 + 1e-9) else "",
    )
    mean, neck = before.mouth - t, die.diameter - t
    load = nosing_share(mean, neck, die.angle, stage.friction.die)
    load *= math.cos(math.radians(die.angle))
    load *= mean * t / ((before.inner + before.wall) * before.wall)
    yield bounded(
        f"{name}: axial load over what crushes the wall",
        load,
        (0.5, 1.0),
        f"{NOSING}; 0.5 {COMMON}",
        (
            "the wall below carries it only if it is straight and held",
            "the wall below is crushed before the rim gives way",
        ),
    )
    if stage.pilot is not None:
        yield ranged(
            f"{name}: pilot gap in thicknesses of the rim",
            stage.pilot.clearance / t,
            (1.0, 1.5),
            "the neck is ironed between die and pilot: a high load",
            "the pilot does not guide the rim: it may curl inwards",
            COMMON,
        )


def _flange(name: str, before: Workpiece, stage: Flange) -> Finding:
    strain = flange_strain(before.mouth - 2.0 * before.rim_wall, stage.tool, stage.depth)
    text = "the edge is stretched far: it may crack, most of all at marks of the trim"
    over = strain > FLANGE_STRAIN
    return Finding(
        f"{name}: hoop strain of the edge",
        strain,
        f"up to {FLANGE_STRAIN:g}",
        f"geometry; the limit {COMMON}",
        "watch" if over else "good",
        text if over else "",
    )
