"""Whether a drawn tool has the diameters that the case states beside it."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.case.stage import (
    Bake,
    Bulge,
    Flange,
    Neck,
    Pressurise,
    Redraw,
    Stage,
    Stretch,
    TopLoad,
    Trim,
)
from formsim.geometry.drawing import DrawnOutline
from formsim.geometry.piece import Piece

AGREES = 0.02
"""Largest difference between a diameter of the case and of its drawing [mm]."""

WIDEST, NARROWEST = "widest", "narrowest"


def misfits(stage: Stage, name: str, drawn: DrawnOutline) -> Iterator[str]:
    """Diameters of a drawing that are not those of the case, and a ring off its z = 0."""
    found = {
        WIDEST: 2.0 * max(piece.farthest((1.0, 0.0))[1] for piece in drawn.pieces),
        NARROWEST: 2.0 * narrowest_radius(drawn),
    }
    for where, what, asked in _diameters(stage, name):
        if abs(found[where] - asked) > AGREES:
            yield (
                f"at its {where} it is drawn {found[where]:.6g} mm in diameter, but {what} is"
                f" {asked:.6g} mm, which checks and theory use; make both agree within {AGREES:g}"
                " mm, and leave shanks and mounting parts out of the drawing"
            )
    if name.startswith("rings"):
        rings = getattr(stage, "rings", ())
        yield from _off_zero(drawn, rings[int(name[len("rings[") : -1])].land)


def narrowest_radius(drawn: DrawnOutline) -> float:
    """Smallest radius of an outline [mm]."""
    return -max(piece.farthest((-1.0, 0.0))[1] for piece in drawn.pieces)


def _diameters(stage: Stage, name: str) -> Iterator[tuple[str, str, float]]:
    """Where a diameter is measured, its name in the case and its value [mm]."""
    if isinstance(stage, Bulge | Trim | Bake | Flange | Pressurise | TopLoad):
        return
    if isinstance(stage, Neck):
        if name == "die":
            yield NARROWEST, "die.diameter", stage.die.diameter
        elif stage.pilot is not None:
            wide = stage.die.diameter - 2.0 * stage.pilot.clearance
            yield WIDEST, "die.diameter less two times pilot.clearance", wide
        return
    if name == "punch":
        yield WIDEST, "punch.diameter", stage.punch.diameter
    elif name == "die" and isinstance(stage, Stretch):
        yield NARROWEST, "die.opening_diameter", stage.die.opening_diameter
    elif name == "die":
        yield from _drawing_die(stage)
    else:
        yield from _around(stage, name)


def _drawing_die(stage: Stage) -> Iterator[tuple[str, str, float]]:
    die, punch = getattr(stage, "die", None), getattr(stage, "punch", None)
    if die is None or punch is None:
        return
    yield NARROWEST, "punch.diameter and two times die.clearance", die.opening(punch)
    if isinstance(stage, Redraw) and die.outer_diameter is not None:
        yield WIDEST, "die.outer_diameter", die.outer_diameter


def _around(stage: Stage, name: str) -> Iterator[tuple[str, str, float]]:
    if name in ("sleeve", "dome"):
        yield WIDEST, f"{name}.diameter", getattr(stage, name).diameter
    elif name.startswith("rings"):
        ring = getattr(stage, "rings", ())[int(name[len("rings[") : -1])]
        yield NARROWEST, f"{name}.bore", ring.bore


def _off_zero(drawn: DrawnOutline, land: float) -> Iterator[str]:
    """Says when the land of a drawn ring does not end at z = 0, where the sheet enters it."""
    slack = AGREES
    least = narrowest_radius(drawn)
    heights = [z for piece in drawn.pieces for z in _at_radius(piece, least)]
    low, high = min(heights), max(heights)
    if high < -land - slack or low > slack:
        yield (
            f"its land is drawn from z = {low:.4g} to {high:.4g} mm; expected the side where the"
            f" sheet enters it at z = 0 and the land of {land:g} mm below: move the drawing"
        )


def _at_radius(piece: Piece, radius: float) -> list[float]:
    """Heights of a piece at the smallest radius of its outline."""
    share, _ = piece.farthest((-1.0, 0.0))
    places = [piece.at(one) for one in (0.0, share, 1.0)]
    return [z for r, z in places if r < radius + 1e-6]
