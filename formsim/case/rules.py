"""Pre-flight rules: a case against handbook figures, before anything is solved."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from formsim.case.card import HockettSherby, Hollomon, Ludwik, MaterialCard, Swift, Voce
from formsim.case.schema import Case
from formsim.case.sheet import Sheet
from formsim.case.stage import Draw

Verdict = Literal["good", "watch", "over"]

SHOP = "shop rule, memory"
SHOP_READ = "shop rule, read"
HOLDER_RULE = "holder pressure 0.015 Y, memory; the band around it common practice, no source"
HOLDER_BAND = (0.3, 2.0)


@dataclass(frozen=True)
class Finding:
    """One rule applied to one value of a case.

    Attributes
    ----------
    rule : what was looked at, with the stage
    value : the value of the case, in the unit the rule names
    limit : the range or bound it was compared with, as text
    source : where the rule comes from
    verdict : good, watch (outside the usual range) or over (beyond what works)
    consequence : what happens at the press; empty when good
    """

    rule: str
    value: float
    limit: str
    source: str
    verdict: Verdict
    consequence: str


def preflight(case: Case) -> tuple[Finding, ...]:
    """Compare every drawing stage of a case with handbook figures; guidance, not limits."""
    findings: list[Finding] = []
    for stage in case.stages:
        if isinstance(stage, Draw):
            findings += _draw_findings(case.sheet, stage)
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
        case Ludwik():
            return flow.yield_stress
        case Hollomon():
            if flow.exponent == 1.0:
                return 0.0
            power = flow.strength * card.young**-flow.exponent
            return float(power ** (1.0 / (1.0 - flow.exponent)))
        case _:
            return flow.stress[0]


def holder_pressure_rule(card: MaterialCard) -> float:
    """Holder pressure the textbook rule asks for, 0.015 of the yield stress [MPa].

    Source: textbook shop form, memory; it stands for the flange held at the start.
    """
    return 0.015 * yield_stress(card)


def held_area(sheet: Sheet, draw: Draw) -> float:
    """Area of the flat flange under the holder at the start of a draw [mm2]."""
    edge = draw.opening_diameter + 2.0 * draw.die.radius
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
    ratio = sheet.blank_diameter / draw.punch.diameter
    verdict: Verdict = "good" if ratio <= 1.8 else "watch" if ratio <= 2.2 else "over"
    texts = {
        "good": "",
        "watch": "close to the largest first draw: little margin against a torn base",
        "over": "the base will most likely tear: draw in two steps or take a smaller blank",
    }
    limit = "largest first draw 1.8 to 2.2"
    return Finding(f"{draw.name}: draw ratio", ratio, limit, SHOP_READ, verdict, texts[verdict])


def _clearance(sheet: Sheet, draw: Draw) -> Finding:
    return _ranged(
        f"{draw.name}: clearance in thicknesses",
        draw.die.clearance / sheet.thickness,
        (1.07, 1.15),
        "the thickened rim is ironed in the gap: force and die wear rise",
        "the wall stands loose in the gap: it may pucker and come out tapered",
    )


def _die_radius(sheet: Sheet, draw: Draw) -> Finding:
    return _ranged(
        f"{draw.name}: die radius in thicknesses",
        draw.die.radius / sheet.thickness,
        (4.0, 10.0),
        "sharp bending over the die: higher force, more thinning, scoring",
        "the rim leaves the holder early: wrinkles as it passes the die radius",
    )


def _nose_radius(sheet: Sheet, draw: Draw) -> Finding:
    return _ranged(
        f"{draw.name}: punch nose radius in thicknesses",
        draw.punch.nose_radius / sheet.thickness,
        (4.0, 8.0),
        "the sheet thins over a sharp nose: the base may tear there",
        "much sheet is unsupported over a large nose: it may pucker",
    )


def _ranged(
    rule: str, value: float, limits: tuple[float, float], below: str, above: str
) -> Finding:
    low, high = limits
    text = below if value < low * (1.0 - 1.0e-9) else above if value > high * (1.0 + 1.0e-9) else ""
    return Finding(rule, value, f"{low:g} to {high:g}", SHOP, "watch" if text else "good", text)


def _held_width(sheet: Sheet, draw: Draw) -> Finding:
    edge = draw.opening_diameter + 2.0 * draw.die.radius
    width = 0.5 * (sheet.blank_diameter - edge) / sheet.thickness
    text = "hardly any flange under the holder: it will not guide the draw" if width < 5.0 else ""
    verdict: Verdict = "watch" if text else "good"
    rule = f"{draw.name}: held flange width in thicknesses"
    return Finding(rule, width, "at least 5", "common practice, no source", verdict, text)


def _holder_pressure(sheet: Sheet, draw: Draw, force: float) -> Finding:
    pressure, wanted = force / held_area(sheet, draw), holder_pressure_rule(sheet.material)
    low, high = HOLDER_BAND[0] * wanted, HOLDER_BAND[1] * wanted
    text = ""
    if pressure < low:
        text = "light: watch the flange for wrinkles"
    elif pressure > high:
        text = "heavy: more friction, a higher punch force and more thinning"
    rule, limit = f"{draw.name}: holder pressure [MPa]", f"{low:.2g} to {high:.2g}"
    return Finding(rule, pressure, limit, HOLDER_RULE, "watch" if text else "good", text)
