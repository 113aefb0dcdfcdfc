"""Outlines of dies, holders, sleeves and dome tools as the case describes or draws them."""

from __future__ import annotations

from formsim.case.stage import Redraw, Stretch
from formsim.case.tools import DomeTool, DrawDie, Holder, Punch, Sleeve
from formsim.geometry.outline import Outline
from formsim.stages import shapes
from formsim.stages.drawn import outline_of
from formsim.stages.roles import DIE, DOME, HOLDER, REVERSE_DIE, SLEEVE


def die_outline(die: DrawDie, punch: Punch) -> Outline:
    """Die of a draw or of a direct redraw, its face at z = 0."""
    opening = 0.5 * die.opening(punch)
    return outline_of(
        die.outline, DIE, lambda: shapes.die(opening, die.radius, die.land, die.relief)
    )


def holder_outline(holder: Holder, punch: Punch) -> Outline:
    """Blank holder, its face at z = 0."""
    inner = 0.5 * punch.diameter + holder.clearance
    return outline_of(holder.outline, HOLDER, lambda: shapes.holder(inner, holder.edge_radius))


def sleeve_outline(sleeve: Sleeve, punch: Punch) -> Outline:
    """Redraw sleeve, its face at z = 0."""
    outer, inner = 0.5 * sleeve.diameter, 0.5 * punch.diameter + sleeve.clearance
    return outline_of(
        sleeve.outline,
        SLEEVE,
        lambda: shapes.sleeve(outer, sleeve.corner_radius, inner, sleeve.edge_radius),
    )


def reverse_die_outline(stage: Redraw) -> Outline:
    """Ring inside the cup of a reverse redraw, its crest at z = 0."""
    die, opening = stage.die, 0.5 * stage.die.opening(stage.punch)
    outer, crest = 0.5 * (die.outer_diameter or 0.0), die.outer_radius or 0.0
    return outline_of(
        die.outline,
        REVERSE_DIE,
        lambda: shapes.reverse_ring(outer, crest, opening, die.radius, die.land, die.relief),
    )


def dome_outline(dome: DomeTool) -> Outline:
    """Dome tool, its pole at z = 0."""
    return outline_of(
        dome.outline,
        DOME,
        lambda: shapes.dome_tool(dome.crown_radius, dome.shoulder_radius, 0.5 * dome.diameter),
    )


def stretch_die_outline(stage: Stretch, thickness: float) -> Outline:
    """Die ring of a stretching stage, its face at z = 0."""
    die = stage.die
    return outline_of(
        die.outline,
        DIE,
        lambda: shapes.die(0.5 * die.opening_diameter, die.radius, thickness, 0.0),
    )
