"""How each tool of a stage faces the sheet, as a drawing of it is read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from formsim.case.drawing import Drawing
from formsim.case.stage import Neck, Redraw, Stage
from formsim.geometry.drawing import FreeSide


@dataclass(frozen=True)
class Role:
    """Place of a tool beside the sheet.

    Attributes
    ----------
    side : where the sheet is
    zero : what lies at z = 0: the lowest or highest point, to which a drawing is moved, or what the
        drawing says
    shallow : only its face meets the sheet, so that what lies behind it is out of reach
    leaves : the sheet leaves it freely at the start of the walk, the lower end of a ring
    upright : a bore that goes on along the axis where its drawing ends
    """

    side: FreeSide
    zero: Literal["lowest", "highest", "drawn"]
    shallow: bool = False
    leaves: bool = False
    upright: bool = False


PUNCH = SLEEVE = REVERSE_DIE = Role("below", "lowest")
HOLDER = Role("below", "lowest", shallow=True)
DIE = DOME = Role("above", "highest")
CLAMP = Role("above", "highest", shallow=True)
TAPER_CLAMP = Role("above", "drawn", shallow=True)
RING = Role("inside", "drawn", shallow=True, leaves=True)
NECK_DIE = Role("inside", "drawn", upright=True)
PILOT = Role("outside", "drawn")
FLANGE_TOOL = Role("below", "drawn")

_ROLES = {
    "punch": PUNCH,
    "die": DIE,
    "holder": HOLDER,
    "sleeve": SLEEVE,
    "dome": DOME,
    "clamp": CLAMP,
    "pilot": PILOT,
    "tool": FLANGE_TOOL,
}


def clamp_role(*, tapered: bool) -> Role:
    """Role of a clamp ring; below the taper of a ringed punch its height counts from the punch."""
    return TAPER_CLAMP if tapered else CLAMP


def drawings_in(stage: Stage) -> Iterator[tuple[str, Drawing, Role]]:
    """Key within the stage, drawing and role of every tool that has an outline drawn."""
    rings = getattr(stage, "rings", ())
    tools = {name: getattr(stage, name, None) for name in _ROLES}
    tools |= {f"rings[{number}]": ring for number, ring in enumerate(rings)}
    for name, tool in tools.items():
        if tool is not None and tool.outline is not None:
            yield name, tool.outline, role_of(stage, name)


def role_of(stage: Stage, name: str) -> Role:
    """Role of a tool by its key within the stage, such as ``punch`` or ``rings[0]``."""
    if name.startswith("rings"):
        return RING
    if name == "die" and isinstance(stage, Neck):
        return NECK_DIE
    if name == "die" and isinstance(stage, Redraw) and stage.direction == "reverse":
        return REVERSE_DIE
    if name == "clamp":
        punch = getattr(stage, "punch", None)
        return clamp_role(tapered=punch is not None and punch.nose_ring is not None)
    return _ROLES[name]
