"""What a necking step did: axial load against what the wall bears, thickness and size of the neck.

The limits of the wall are the plastic one, all of its section at its flow stress, and elastic
buckling. A calculation of the section alone sees both, but no wrinkles round the circumference.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.case.stage import Neck
from formsim.errors import FormsimError
from formsim.results.closed_form import Row
from formsim.results.curve import bottom_line, face_lines, strip
from formsim.results.forces import force_curves
from formsim.results.record import StageRecord
from formsim.results.theory import necking
from formsim.results.theory.limits import require
from formsim.results.thickness import thickness_profile
from formsim.solver.body import Body
from formsim.solver.state import State
from formsim.stages.neck import die_angle
from formsim.stages.wall import held_line, wall_strength

LEAN = math.radians(4.0)
"""Angle to the axis up to which the sheet before the rim is the cylinder of the neck."""

END = 2
"""Lines at the rim that do not count for the size of a neck: the free edge bends on its own."""

CLOSE, OFF = 0.1, 1.0
"""How far from the throat a neck counts as made and a rim as off it, in thicknesses."""

EVEN = 1e-9
"""Difference of radius, over that of the wall, that is rounding."""

RING = 5
"""Columns before the rim that stand for it: the very edge bends on its own."""


@dataclass(frozen=True)
class NeckSize:
    """Cylinder behind the shoulder.

    Attributes
    ----------
    diameter : of its outside, mean over its length [mm]
    thickness : mean [mm]
    length : from the shoulder to the rim [mm]
    """

    diameter: float
    thickness: float
    length: float


def axial_load(record: StageRecord) -> Floats:
    """Axial load on the body over the increments, die and pilot together, (n_rows) [N]."""
    load: Floats = np.abs(force_curves(record).force.sum(axis=1))
    return load


def crush_load(record: StageRecord) -> float:
    """Axial load at which the weakest section of the wall yields, as hardened as it came [N].

    Source: ``2 pi R t sigma_y(ep)``, see ``stages.wall.wall_strength``.
    """
    return _strength(record)[0]


def buckling_load(record: StageRecord) -> float:
    """Axial load at which the wall would buckle elastically in rings [N].

    Source: S. P. Timoshenko and J. M. Gere, Theory of Elastic Stability, 1961 (memory), see
    ``theory.necking.buckling_load``; a perfect wall, real ones bear a fraction of it.
    """
    material, thickness = record.material, _strength(record)[1]
    return necking.buckling_load(material.young, material.poisson, thickness)


def load_ratio(record: StageRecord) -> float:
    """Largest axial load over what the wall bears, yielding or buckling [-]."""
    return float(axial_load(record).max()) / min(crush_load(record), buckling_load(record))


@dataclass(frozen=True)
class Ring:
    """Last columns before the rim.

    Attributes
    ----------
    diameter : of the middle of the sheet, mean [mm]
    thickness : true to volume, mean [mm]
    """

    diameter: float
    thickness: float


def rim_ring(body: Body, state: State) -> Ring:
    """Ring of the last columns before the rim, whose hoop strain the closed forms speak of."""
    middle = face_lines(body, state)[1].middles[-RING:]
    thickness = thickness_profile(body, state).volume_thickness[-RING:]
    return Ring(2.0 * float(middle[:, 0].mean()), float(thickness.mean()))


def neck_size(body: Body, state: State) -> NeckSize:
    """Cylinder of the neck: the upright part around its narrowest place.

    Raises
    ------
    FormsimError : the sheet narrows up to its rim, as a cone does
    """
    lines = _neck_lines(body, state)
    outside = bottom_line(body, state.places(body)).knots
    profile = thickness_profile(body, state)
    return NeckSize(
        diameter=2.0 * float(outside[lines, 0].mean()),
        thickness=float(profile.thickness[lines].mean()),
        length=float(profile.arc_length[-1] - profile.arc_length[lines[0]]),
    )


def neck_diameter(body: Body, state: State) -> float:
    """Outer diameter of the neck, its springback included in a free state [mm]."""
    return neck_size(body, state).diameter


def neck_thickness(body: Body, state: State) -> float:
    """Mean thickness of the neck [mm]."""
    return neck_size(body, state).thickness


def equal_ratio_necks(body: float, neck: float, count: int) -> tuple[float, ...]:
    """Throat diameters of dies that each reduce by the same share [mm].

    Parameters
    ----------
    body, neck : diameters before the first die and behind the last one [mm]
    count : number of dies

    Raises
    ------
    FormsimError : the neck is no narrower than the body, or there is no die
    """
    if not 0.0 < neck < body or count < 1:
        message = f"{count} necks from {body:g} to {neck:g} mm cannot be made"
        raise FormsimError(message, hint="the neck must be narrower than the body, one die or more")
    ratio = (neck / body) ** (1.0 / count)
    return tuple(body * ratio**k for k in range(1, count + 1))


def neck_notes(record: StageRecord, stage: Neck) -> tuple[str, ...]:
    """What an engineer should know about a finished step beside its numbers."""
    thickness, throat = _strength(record)[1], 0.5 * stage.die.diameter
    wall = held_line(record.body, record.formed, 0.0)
    outside = bottom_line(record.body, record.formed.places(record.body)).knots[wall:, 0]
    reach, rim = float(outside.min()), float(outside[-1])
    notes = []
    if reach > throat + CLOSE * thickness:
        notes.append(
            f"the rim has not reached the throat: its radius is {reach:.3f} mm and that of the"
            f" throat {throat:.3f} mm; a larger depth would bring it there"
        )
    elif rim > throat + OFF * thickness:
        notes.append(
            f"the rim stands off the throat: behind the land it lips outwards by"
            f" {rim - throat:.3f} mm; a longer land or a tighter pilot keeps it straight"
        )
    ratio = load_ratio(record)
    if ratio > 0.5:
        notes.append(
            f"the axial load is {ratio:.2f} of what a perfect wall bears; dents and a wall that is"
            " not round take half of that and more"
        )
    return tuple(notes)


def neck_rows(record: StageRecord, stage: Neck) -> list[Row]:
    """Closed forms beside the simulated numbers of a necking step."""
    start = record.frames[0].state
    before, after = rim_ring(record.body, start), rim_ring(record.body, record.formed)
    load = float(axial_load(record).max())
    flow = mean_flow(record, math.log(before.diameter / after.diameter))
    outside = bottom_line(record.body, start.places(record.body)).knots
    widest = float(outside[:, 0].max())

    def nosing() -> float:
        necked = 2.0 * widest - before.diameter > 2.0 * before.thickness
        require(not necked, "for a straight wall, the rim was necked before")
        return necking.extended_nosing_load(
            flow,
            before.diameter,
            after.diameter,
            0.5 * (before.thickness + after.thickness),
            math.degrees(die_angle(stage.die, widest)),
            stage.friction.die,
            entry_radius=stage.die.entry_radius + 0.5 * before.thickness,
            throat_radius=stage.die.throat_radius + 0.5 * before.thickness,
        )

    name = record.name
    source = "Nadai 1943; Lange 1985 (memory)"
    return [
        Row(
            f"{name}: axial load with friction and bending",
            "N",
            nosing,
            load,
            source,
            "hardening along the cone and bending of the rim",
        ),
        Row(
            f"{name}: axial load at which the wall yields, and the largest one",
            "N",
            lambda: crush_load(record),
            load,
            "section times flow stress",
            says="limit",
        ),
        Row(
            f"{name}: axial load at which a perfect wall buckles, and the largest one",
            "N",
            lambda: buckling_load(record),
            load,
            "Timoshenko and Gere 1961 (memory)",
            says="limit",
        ),
        rim_row(record, "rim", before, after),
    ]


def rim_row(record: StageRecord, place: str, before: Ring, after: Ring) -> Row:
    """Thickness of a free rim whose diameter changed, beside the simulated one."""
    r_bar = record.material.r_bar
    return Row(
        f"{record.name}: thickness ratio of the {place}, hoop stress alone",
        "",
        lambda: necking.rim_thickness_ratio(before.diameter, after.diameter, r_bar),
        after.thickness / before.thickness,
        "Hill 1948 (memory)",
        "bending and the pressure of the tool",
    )


def mean_flow(record: StageRecord, hoop: float) -> float:
    """Mean flow stress of the rim from its strain before the stage over a hoop strain [MPa]."""
    last = RING * strip(record.body).layers
    worked = float(record.frames[0].state.strain[-last:].mean())
    strains = worked + np.linspace(0.0, hoop, 51)
    return float(record.material.flow.stress(strains).mean())


def _strength(record: StageRecord) -> tuple[float, float]:
    """Load and thickness of the weakest section of the wall at the start of the stage."""
    start = record.frames[0].state
    line = held_line(record.body, start, 0.0)
    load, area = wall_strength(record.body, record.material, start, line)
    radius = float(face_lines(record.body, start)[1].knots[line, 0])
    return load, area / (2.0 * math.pi * radius)


def _neck_lines(body: Body, state: State) -> Ints:
    """Upright lines around the narrowest one above the wall; an outward lip is left out."""
    profile = thickness_profile(body, state)
    wall = held_line(body, state, 0.0)
    last = len(profile.slope) - END
    radius = profile.radius[wall:last]
    narrowest = wall + int(np.flatnonzero(radius < radius.min() + EVEN * radius[0])[-1])
    leaning = np.flatnonzero(np.abs(profile.slope[:last] - 0.5 * math.pi) > LEAN)
    if narrowest in leaning:
        message = "there is no neck to measure: the sheet is not upright before its rim"
        raise FormsimError(message, hint="push the rim through the throat of the die")
    first = int(leaning[leaning < narrowest].max(initial=wall - 1)) + 1
    return np.arange(first, int(leaning[leaning > narrowest].min(initial=last)))
