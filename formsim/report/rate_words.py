"""What rate law and heating of a card mean for a case, before anything is solved."""

from __future__ import annotations

from math import nan

from formsim.case.card import CowperSymonds, MaterialCard
from formsim.case.schema import Case
from formsim.case.stage import (
    Bulge,
    Dome,
    Draw,
    Flange,
    Formed,
    Iron,
    Neck,
    Redraw,
    Stage,
    Stretch,
    Stroke,
)
from formsim.material.model import Material, rate_law
from formsim.report.lines import folded
from formsim.report.words import number

SHOWN = (0.01, 1.0, 100.0)
"""Strain rates a law is told at [1/s]."""

WORK = 100.0
"""Plastic work the heat is told for [MPa]."""


def material_lines(card: MaterialCard) -> list[str]:
    """Rate law and heating of a card in words; none without."""
    law, heating = rate_law(card.strain_rate), Material.from_card(card).heating
    lines = []
    if law is not None:
        name = "Cowper-Symonds" if isinstance(card.strain_rate, CowperSymonds) else "power law"
        told = ", ".join(f"{float(law.factor(r)):.3f} at {number(r)} /s" for r in SHOWN)
        lines += folded(f"rate    {name}: flow stress times {told}")
    if heating is not None and card.heating is not None:
        rise = heating.per_work * WORK
        told = f"heat    {card.heating.heat_share:g} of the plastic work stays as heat:"
        told += f" {WORK:g} MPa warm by {rise:.1f} K, none leaves within a stage"
        if heating.softening is None:
            told += "; the flow stress does not change"
        else:
            left = float(heating.softening.factor(heating.ambient + rise))
            told += f"; the flow stress is then {left:.3f} of that at {heating.ambient:g} degC"
        lines += folded(told)
    return lines


def speed_lines(case: Case) -> list[str]:
    """Nominal strain rate of every stage with a speed, and what the law gives there.

    Speed over radius: the hoop strain rate of sheet that flows in over the edge of its tool.
    """
    law = rate_law(case.sheet.material.strain_rate)
    lines: list[str] = []
    for stage in case.stages:
        if law is None or not isinstance(stage, Formed) or stage.speed is None:
            continue
        rate = stage.speed / (0.5 * tool_diameter(stage))
        lines += folded(
            f"speed   {stage.name}: {stage.speed:g} mm/s, {number(rate)} /s by speed over radius:"
            f" flow stress times {float(law.factor(rate)):.3f}; bends and rings are faster"
        )
    return lines


def tool_diameter(stage: Stage) -> float:
    """Diameter of the tool that moves in a stage, of a fluid that of the disc [mm]; else nan."""
    match stage:
        case Draw() | Redraw() | Iron() | Stroke() | Dome() | Stretch():
            return stage.punch.diameter
        case Neck():
            return stage.die.diameter
        case Flange():
            return stage.tool.diameter
        case Bulge():
            return stage.diameter
        case _:
            return nan
