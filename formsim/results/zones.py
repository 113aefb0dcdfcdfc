"""Names for the places on a part, from the punch dimensions and the current shape."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formsim.arrays import Floats
from formsim.case.stage import (
    Bulge,
    Dome,
    Draw,
    Flange,
    Iron,
    Neck,
    Redraw,
    Stage,
    Stretch,
    Stroke,
)
from formsim.case.tools import DomeTool, Punch
from formsim.results.shape import flange_start
from formsim.results.thickness import ThicknessProfile, thickness_profile
from formsim.solver.body import Body
from formsim.solver.state import State

ZONES = (
    *("base", "nose", "wall", "neck", "rim", "flange"),
    *("dome crown", "dome shoulder", "chime"),
)
UPRIGHT = math.radians(85.0)
CLEAR_OF_PUNCH = 0.75
RIM_THICKNESSES = 3.0
NARROWED = 1.0
"""How much smaller than that of the wall the radius of a neck is, in thicknesses."""


@dataclass(frozen=True)
class Thinnest:
    """Smallest thickness of a state.

    Attributes
    ----------
    thickness : along the normal, by volume where the sheet is kinked [mm]
    thinning_percent : loss of thickness [%]
    original_radius : where, in the flat blank [mm]
    radius, z : where now [mm]
    line : number of the line between columns
    zone : one of ``ZONES``
    kinked : whether the sheet is kinked there
    """

    thickness: float
    thinning_percent: float
    original_radius: float
    radius: float
    z: float
    line: int
    zone: str
    kinked: bool = False


def thinnest(body: Body, state: State, stage: Stage, before: Sequence[Stage] = ()) -> Thinnest:
    """Thinnest place of the whole sheet and its zone; ``before`` are the stages before this one."""
    profile = thickness_profile(body, state)
    k = int(profile.thickness.argmin())
    return Thinnest(
        thickness=float(profile.thickness[k]),
        thinning_percent=float(profile.thinning_percent[k]),
        original_radius=float(profile.original_radius[k]),
        radius=float(profile.radius[k]),
        z=float(profile.z[k]),
        line=k,
        zone=zones(profile, stage, before)[k],
        kinked=bool(profile.kinked[k]),
    )


def zones(profile: ThicknessProfile, stage: Stage, before: Sequence[Stage] = ()) -> tuple[str, ...]:
    """Zone of every line between columns, one of ``ZONES``.

    The dome reaches to its blend circle (crown) and to the edge of the cavity (shoulder). The base,
    of a domed body the chime on which it stands, reaches to where the nose begins, or the nose ring
    ends, the nose to where the sheet stands up or leaves the punch, the wall to the neck, the
    flange or the rim, which is the last three thicknesses along the sheet.
    Base and nose are those of the last punch, the stages before counted.
    """
    if isinstance(stage, Bulge):
        return _name(profile, _sphere(profile, 0.5 * stage.diameter, 0.5), flange=False)
    if isinstance(stage, Stretch):
        return _name(profile, _stretched(profile, stage))
    made = (*before, stage)
    punched = [one for one in made if isinstance(one, Draw | Redraw | Iron | Stroke | Dome)]
    names = _cup(profile, punched[-1]) if punched else _upright(profile)
    if any(isinstance(one, Neck) for one in made):
        _put_neck(profile, names)
    if any(isinstance(one, Flange) for one in made):
        _put_flange(profile, names)
    return _name(profile, names)


def upright_zones(profile: ThicknessProfile) -> tuple[str, ...]:
    """Zones of a tube or cup that no stage has worked yet."""
    return _name(profile, _upright(profile))


def _upright(profile: ThicknessProfile) -> NDArray[np.str_]:
    """Base and wall of a tube or cup by its shape alone."""
    names = np.full(len(profile.radius), "wall", dtype="<U16")
    upright = np.flatnonzero(np.abs(profile.slope) > UPRIGHT)
    names[: int(upright[0]) if upright.size else 0] = "base"
    return names


def _put_neck(profile: ThicknessProfile, names: NDArray[np.str_]) -> None:
    """Neck of a body by its radius; the shoulder belongs to it."""
    wall = np.flatnonzero(names == "wall")
    if not wall.size:
        return
    first = int(wall[0])
    narrow = profile.radius < profile.radius[first] - NARROWED * profile.original_thickness
    narrowed = np.flatnonzero(narrow & (np.arange(len(names)) > first))
    if narrowed.size:
        names[narrowed[0] :] = "neck"


def _put_flange(profile: ThicknessProfile, names: NDArray[np.str_]) -> None:
    """What stands outwards of the neck, or of the wall where there is none, up to the rim."""
    inside = np.flatnonzero(names == ("neck" if (names == "neck").any() else "wall"))
    if not inside.size:
        return
    narrowest = float(profile.radius[inside].min())
    wide = profile.radius > narrowest + NARROWED * profile.original_thickness
    names[int(np.flatnonzero(~wide)[-1]) + 1 :] = "flange"


def _cup(
    profile: ThicknessProfile, stage: Draw | Redraw | Iron | Stroke | Dome
) -> NDArray[np.str_]:
    punch, r = stage.punch, profile.radius
    names = np.full(len(r), "wall", dtype="<U16")
    clear = r > 0.5 * punch.diameter + CLEAR_OF_PUNCH * profile.original_thickness
    upright = (np.abs(profile.slope) > UPRIGHT) & (r > nose_begin(punch))
    outside = np.flatnonzero(upright | clear)
    wall = int(outside[0]) if outside.size else len(r)
    inside = np.arange(len(r)) < wall
    names[inside] = "nose"
    names[inside & (r < nose_begin(punch))] = "base"
    if isinstance(stage, Dome | Stroke) and stage.dome is not None:
        names[inside & (r < stand_end(punch))] = "chime"
        names[inside & (r < cavity_edge(punch))] = "dome shoulder"
        names[inside & (r < _blend(stage.dome))] = "dome crown"
    return names


def _stretched(profile: ThicknessProfile, stage: Stretch) -> NDArray[np.str_]:
    radius, nose = 0.5 * stage.punch.diameter, stage.punch.nose_radius
    edge = 0.5 * stage.die.opening_diameter + stage.die.radius
    if math.isclose(radius, nose):
        names = _sphere(profile, radius, 0.5)
    else:
        names = np.full(len(profile.radius), "wall", dtype="<U16")
        names[profile.radius < radius] = "nose"
        names[profile.radius < radius - nose] = "base"
    names[profile.radius > edge] = "flange"
    return names


def _sphere(profile: ThicknessProfile, radius: float, share: float) -> NDArray[np.str_]:
    crown = profile.radius < share * radius
    return np.where(crown, "dome crown", "dome shoulder").astype("<U16")


def _name(
    profile: ThicknessProfile, names: NDArray[np.str_], *, flange: bool = True
) -> tuple[str, ...]:
    """Put in flange and rim, which do not depend on the tools."""
    left = profile.arc_length[-1] - profile.arc_length
    if flange:
        names[flange_start(profile.slope) :] = "flange"
    names[left < RIM_THICKNESSES * profile.original_thickness[-1]] = "rim"
    return tuple(str(name) for name in names)


def nose_begin(punch: Punch) -> float:
    """Radius at which the nose of a punch begins [mm]."""
    if punch.nose_ring is not None:
        return 0.5 * punch.nose_ring.diameter - punch.nose_ring.radius
    return 0.5 * punch.diameter - punch.nose_radius


def stand_end(punch: Punch) -> float:
    """Radius at which the ring ends that a domed body stands on [mm]."""
    ring = punch.nose_ring
    return nose_begin(punch) if ring is None else 0.5 * ring.diameter + ring.radius


def cavity_edge(punch: Punch) -> float:
    """Radius at which the rounded edge of the cavity ends [mm]."""
    if punch.nose_ring is not None:
        return 0.5 * punch.nose_ring.diameter - punch.nose_ring.radius
    cavity = punch.cavity
    if cavity is None or cavity.diameter is None or cavity.radius is None:
        return 0.0
    return 0.5 * cavity.diameter + cavity.radius


def _blend(dome: DomeTool) -> float:
    """Radius of the circle where crown and shoulder of the dome tool meet [mm]."""
    reach = 0.5 * dome.diameter - dome.shoulder_radius
    return dome.crown_radius * reach / (dome.crown_radius - dome.shoulder_radius)


def zone_minima(profile: ThicknessProfile, names: tuple[str, ...]) -> dict[str, float]:
    """Smallest thickness of every zone that is there [mm]."""
    thickness: Floats = profile.thickness
    place = np.array(names)
    return {zone: float(thickness[place == zone].min()) for zone in ZONES if (place == zone).any()}
