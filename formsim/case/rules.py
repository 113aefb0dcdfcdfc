"""Pre-flight rules: a case against handbook figures, before anything is solved."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import cast

from formsim.case.card import (
    HockettSherby,
    Hollomon,
    Ludwik,
    MaterialCard,
    Swift,
    SwiftVoce,
    Voce,
)
from formsim.case.finding import COMMON, SHOP_READ, Finding, Verdict, ranged
from formsim.case.rules_limits import limit_findings
from formsim.case.rules_line import line_findings
from formsim.case.rules_metal import metal_findings
from formsim.case.rules_tested import tested_findings
from formsim.case.schema import Case
from formsim.case.sheet import Sheet
from formsim.case.stage import Dome, Draw, Stage
from formsim.case.tools import Clamp, Punch

HOLDER_RULE = (
    "0.015 Y, memory; band: common practice, no source; a run counts draw ratio and D/t too, by"
    " Siebel"
)
HOLDER_BAND = (0.3, 2.0)
HOLDER_NOTHING = 0.05
"""Share of the textbook holder pressure below which the holder does not hold."""

CAP = f"area of a spherical cap; the bounds {COMMON}"


def preflight(case: Case) -> tuple[Finding, ...]:
    """Compare every stage of a case with handbook figures; guidance, not limits."""
    card = case.sheet.material
    findings: list[Finding] = list(metal_findings(card, yield_stress(card)))
    findings += limit_findings(case.limits)
    findings += tested_findings(card, case.forming_limit, case.sheet.thickness)
    before: Stage | None = case.before[-1] if case.before else None
    for stage, workpiece in zip(case.stages, case.received(), strict=True):
        if isinstance(stage, Draw):
            findings += _draw_findings(case.sheet, stage)
        if isinstance(stage, Dome):
            findings += dome_findings(case.sheet, stage)
        if isinstance(before, Draw) and isinstance(stage, Dome):
            findings += punch_findings(before, stage)
        if workpiece is not None:
            findings += line_findings(workpiece, stage, limiting_ratio(case.sheet.material))
        before = stage
    return tuple(findings)


def yield_stress(card: MaterialCard) -> float:
    """Stress at which the flow curve of a card begins [MPa].

    A Hollomon curve begins where it meets the elastic line, stress = young * strain.
    """
    flow = card.flow
    match flow:
        case Voce() | HockettSherby():
            return flow.saturation - flow.drop
        case Swift():
            return float(flow.strength * flow.prestrain**flow.exponent)
        case SwiftVoce():
            rising = float(flow.strength * flow.prestrain**flow.exponent)
            return flow.share * rising + (1.0 - flow.share) * (flow.saturation - flow.drop)
        case Ludwik():
            return flow.yield_stress
        case Hollomon():
            power = flow.strength * card.young**-flow.exponent
            return float(power ** (1.0 / (1.0 - flow.exponent)))
        case _:
            return flow.stress[0]


def holder_pressure_rule(card: MaterialCard) -> float:
    """Holder pressure the textbook rule asks for, 0.015 of the yield stress [MPa].

    Source: textbook shop form, memory; it stands for the flange held at the start.
    """
    return 0.015 * yield_stress(card)


def limiting_ratio(card: MaterialCard) -> float:
    """Largest draw ratio of a first draw at an efficiency of 0.75 [-].

    Source: R. L. Whiteley, Trans. ASM 52, 1960 (memory): ln of the ratio is
    ``efficiency sqrt((1 + r)/2)``.
    """
    return math.exp(0.75 * math.sqrt(0.5 * (1.0 + card.r_bar)))


def held_area(sheet: Sheet, draw: Draw) -> float:
    """Area of the flat flange under the holder at the start of a draw [mm2]."""
    edge = draw.die.opening(draw.punch) + 2.0 * draw.die.radius
    return 0.25 * math.pi * (sheet.blank_diameter**2 - edge**2)


def _draw_findings(sheet: Sheet, draw: Draw) -> Iterator[Finding]:
    yield _draw_ratio(sheet, draw)
    yield _clearance(sheet, draw)
    yield _die_radius(sheet, draw)
    yield _nose_radius(sheet, draw)
    yield _held_width(sheet, draw)
    if draw.holder.force is not None:
        yield _holder_pressure(sheet, draw, draw.holder.force)


def _draw_ratio(sheet: Sheet, draw: Draw) -> Finding:
    ratio, limit = sheet.blank_diameter / draw.punch.diameter, limiting_ratio(sheet.material)
    safe = min(1.8, limit)
    verdict: Verdict = "good" if ratio <= safe else "watch" if ratio <= limit else "will fail"
    texts = {
        "good": "",
        "watch": "close to the largest first draw: little margin against a torn base",
        "will fail": "beyond the limiting ratio the base tears: draw in two steps or take a"
        " smaller blank",
    }
    return Finding(
        f"{draw.name}: draw ratio",
        ratio,
        f"up to {safe:.3g}, limit {limit:.3g}",
        f"{SHOP_READ}; limit Whiteley 1960, memory",
        verdict,
        texts[verdict],
    )


def _clearance(sheet: Sheet, draw: Draw) -> Finding:
    return ranged(
        f"{draw.name}: clearance in thicknesses",
        draw.die.clearance / sheet.thickness,
        (1.07, 1.15),
        "the thickened rim is ironed in the gap: force and die wear rise",
        "the wall stands loose in the gap: it may pucker and come out tapered",
    )


def _die_radius(sheet: Sheet, draw: Draw) -> Finding:
    return ranged(
        f"{draw.name}: die radius in thicknesses",
        draw.die.radius / sheet.thickness,
        (4.0, 10.0),
        "sharp bending over the die: higher force, more thinning, scoring",
        "the rim leaves the holder early: wrinkles as it passes the die radius",
    )


def _nose_radius(sheet: Sheet, draw: Draw) -> Finding:
    return ranged(
        f"{draw.name}: punch nose radius in thicknesses",
        draw.punch.nose_radius / sheet.thickness,
        (4.0, 8.0),
        "the sheet thins over a sharp nose: the base may tear there",
        "much sheet is unsupported over a large nose: it may pucker",
    )


def _held_width(sheet: Sheet, draw: Draw) -> Finding:
    edge = draw.die.opening(draw.punch) + 2.0 * draw.die.radius
    width = 0.5 * (sheet.blank_diameter - edge) / sheet.thickness
    text = "hardly any flange under the holder: it will not guide the draw" if width < 5.0 else ""
    verdict: Verdict = "watch" if text else "good"
    rule = f"{draw.name}: held flange width in thicknesses"
    return Finding(rule, width, "at least 5", COMMON, verdict, text)


def _holder_pressure(sheet: Sheet, draw: Draw, force: float) -> Finding:
    pressure, wanted = force / held_area(sheet, draw), holder_pressure_rule(sheet.material)
    low, high = HOLDER_BAND[0] * wanted, HOLDER_BAND[1] * wanted
    text, verdict = "", "good"
    if pressure < HOLDER_NOTHING * wanted:
        verdict = "will wrinkle"
        text = "the holder hardly holds: the flange wrinkles, which this program cannot see"
    elif pressure < low:
        verdict, text = "watch", "light: watch the flange for wrinkles"
    elif pressure > high:
        verdict = "watch"
        text = "heavy: more friction, a higher punch force and more thinning"
    rule, limit = f"{draw.name}: holder pressure [MPa]", f"{low:.3g} to {high:.3g}"
    return Finding(rule, pressure, limit, HOLDER_RULE, cast("Verdict", verdict), text)


def dome_findings(sheet: Sheet, dome: Dome) -> Iterator[Finding]:
    """A dome and its clamp against what the sheet stands."""
    cavity = _cavity_diameter(dome.punch)
    if cavity is not None:
        yield _dome_depth(dome, cavity)
        yield _dome_gap(sheet, dome, cavity)
    shoulder = dome.dome.shoulder_radius / sheet.thickness
    text = "sharp shoulder: the sheet thins and may tear there" if shoulder < 4.0 else ""
    rule = f"{dome.name}: dome shoulder radius in thicknesses"
    yield Finding(rule, shoulder, "at least 4", COMMON, "watch" if text else "good", text)
    if dome.clamp is not None and dome.clamp.force is not None:
        yield _clamp_pressure(sheet, dome, dome.clamp, dome.clamp.force)


def _dome_depth(dome: Dome, cavity: float) -> Finding:
    """Mean thinning of the dome is ln(1 + (2 depth/diameter)^2) when no sheet is drawn in."""
    ratio = dome.depth / cavity
    thinning = 100.0 * (1.0 - 1.0 / (1.0 + 4.0 * ratio**2))
    verdict: Verdict = "good" if ratio <= 0.2 else "watch" if ratio <= 0.35 else "will fail"
    stretched = f"{thinning:.0f} % mean thinning where no sheet is drawn in"
    text = {
        "good": "",
        "watch": f"deep: up to {stretched}",
        "will fail": f"too deep for one press: {stretched}; the crown or shoulder tears",
    }[verdict]
    rule = f"{dome.name}: dome depth over cavity diameter"
    return Finding(rule, ratio, "up to 0.2, at most 0.35", CAP, verdict, text)


def _dome_gap(sheet: Sheet, dome: Dome, cavity: float) -> Finding:
    gap = 0.5 * (cavity - dome.dome.diameter) / sheet.thickness
    text = "the sheet is ironed between dome tool and cavity" if gap < 1.5 else ""
    rule = f"{dome.name}: gap of dome tool to cavity in thicknesses"
    return Finding(rule, gap, "at least 1.5", COMMON, "watch" if text else "good", text)


def _clamp_pressure(sheet: Sheet, dome: Dome, clamp: Clamp, force: float) -> Finding:
    """Pressure of the clamp over the yield stress; at 1 the nose is squeezed flat."""
    share = force / _clamped_area(dome, clamp) / yield_stress(sheet.material)
    verdict: Verdict = "good" if share <= 0.5 else "watch" if share <= 1.0 else "will fail"
    text = {
        "good": "",
        "watch": "heavy: the clamp marks the nose and lets no sheet be drawn in",
        "will fail": "more than the yield stress: the clamp squeezes the nose flat",
    }[verdict]
    rule = f"{dome.name}: clamp pressure over yield stress"
    return Finding(rule, share, "up to 0.5, at most 1", COMMON, verdict, text)


def _clamped_area(dome: Dome, clamp: Clamp) -> float:
    """Area under the clamp ring, as seen along the axis [mm2]."""
    punch = dome.punch
    if punch.nose_ring is not None:
        inner, outer = punch.nose_ring.diameter, punch.diameter
    else:
        inner = clamp.inner_diameter or _cavity_diameter(punch) or dome.dome.diameter
        outer = clamp.outer_diameter or punch.diameter - 2.0 * punch.nose_radius
    return max(0.25 * math.pi * (outer**2 - inner**2), 1e-9)


def _cavity_diameter(punch: Punch) -> float | None:
    if punch.nose_ring is not None:
        return punch.nose_ring.diameter - 2.0 * punch.nose_ring.radius
    return punch.cavity.diameter if punch.cavity is not None else None


def punch_findings(draw: Draw, dome: Dome) -> Iterator[Finding]:
    """Dimensions in which the dome's punch differs from the one that drew the cup."""
    drawn, pressed = (dict(_sizes(stage.punch)) for stage in (draw, dome))
    for what in dict.fromkeys([*drawn, *pressed]):
        first, second = drawn.get(what), pressed.get(what)
        shaped = what.startswith("nose ring") or None not in (first, second)
        if shaped and first != second:
            yield Finding(
                f"{dome.name}: punch {what} [mm]",
                second or 0.0,
                f"{'none' if first is None else f'{first:g}'}, as in {draw.name}",
                "the same punch, or one of its shape, usually makes both",
                "watch",
                f"the punch of {draw.name} differs: the cup is formed anew where they do not fit",
            )


def _sizes(punch: Punch) -> Iterator[tuple[str, float]]:
    for key, value in punch.model_dump(exclude={"outline"}).items():
        if isinstance(value, dict):
            inner = {f"{key} {name}": size for name, size in value.items()}
            yield from ((_spaced(name), s) for name, s in inner.items() if s is not None)
        elif value is not None:
            yield _spaced(key), value


def _spaced(key: str) -> str:
    return key.replace("_", " ")
