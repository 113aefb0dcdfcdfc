"""What every ironing ring does: reduction, force, wall stress behind it, speed of the wall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.case.stage import Iron, Stroke
from formsim.case.tools import Ring
from formsim.results.curve import middle_line, strip
from formsim.results.forces import force_curves
from formsim.results.record import Frame, StageRecord
from formsim.results.residual_stress import point_stresses
from formsim.results.thickness import column_volumes

PLANE_STRAIN = 2.0 / np.sqrt(3.0)
"""Yield in plane strain tension over yield in simple tension (von Mises): the punch keeps the wall
behind a ring from shrinking round the axis."""

WORKING = 0.5
"""A ring works fully while its force is above this share of its peak."""

BEHIND, AHEAD = 4.0, 2.0
"""Length of wall looked at behind the land and ahead of the entry, in sheet thicknesses there."""


@dataclass(frozen=True)
class RingFigures:
    """One ring of a stage.

    Attributes
    ----------
    name : of the tool
    gap : per side to the punch [mm]
    entry_thickness, exit_thickness : of the wall ahead and behind, mean over its work [mm]
    reduction : loss of thickness over that ahead [-]
    mean_force, peak_force : axial, over its full work and at most, passing elements evened out [N]
    stress_ratio : largest axial stress of the wall behind over its plane strain yield stress [-]
    speed_ratio : speed of the wall behind the ring over that ahead of it, against the ring [-]
    """

    name: str
    gap: float
    entry_thickness: float
    exit_thickness: float
    reduction: float
    mean_force: float
    peak_force: float
    stress_ratio: float
    speed_ratio: float


@dataclass(frozen=True)
class MeanForce:
    """Mean force of a tool over the strokes at which it works fully.

    Attributes
    ----------
    force : mean over the stroke [N]
    first, last : strokes between which it works [mm]
    """

    force: float
    first: float
    last: float


def mean_force(record: StageRecord, name: str) -> MeanForce | None:
    """Mean force of a ring over its full work; None where it never worked."""
    curves = force_curves(record)
    force = np.abs(curves.force[:, curves.tools.index(name)])
    busy = works_fully(force)
    way = np.diff(curves.stroke, prepend=curves.stroke[0])
    if not busy.any() or way[busy].sum() <= 0.0:
        return None
    mean = float((force * way)[busy].sum() / way[busy].sum())
    strokes = curves.stroke[busy]
    return MeanForce(mean, float(strokes.min()), float(strokes.max()))


def works_fully(force: Floats) -> Bools:
    """Rows in which a ring works fully, by its force without sign, (n)."""
    busy: Bools = force > WORKING * force.max(initial=0.0)
    return busy


def ring_figures(record: StageRecord, stage: Iron | Stroke) -> tuple[RingFigures, ...]:
    """Figures of the rings of a stage in their order; rings that never worked are left out."""
    names = [tool.name for tool in record.tools if tool.name.startswith("ring")]
    found = []
    for name, ring in zip(names, stage.rings, strict=True):
        figures = _ring(record, name, ring, 0.5 * (ring.bore - stage.punch.diameter))
        if figures is not None:
            found.append(figures)
    return tuple(found)


def last_stress_ratio(record: StageRecord, stage: Iron | Stroke) -> tuple[str, float] | None:
    """Ring with the most loaded wall behind it in the last state, and its stress ratio there [-].

    The ratio is that of the most loaded column: a wall that gives way does so in a few of them.
    None where no ring was pressed.
    """
    frames = [frame for frame in record.frames if frame.phase == "forming"]
    if not frames:
        return None
    force, names = np.abs(force_curves(record).force[-1]), [tool.name for tool in record.tools]
    rings = [name for name in names if name.startswith("ring")]
    line = middle_line(record.body, frames[-1].state.places(record.body))
    ratio = _stress_ratio(record, frames[-1])
    pairs = []
    for name, ring in zip(rings, stage.rings, strict=True):
        leave = frames[-1].positions[name] - ring.land
        behind = (line.middles[:, 1] < leave) & (line.middles[:, 0] > 0.5 * stage.punch.diameter)
        if force[names.index(name)] > 0.0 and behind.any():
            pairs.append((name, float(ratio[behind].max())))
    return max(pairs, key=lambda pair: pair[1], default=None)


def _ring(record: StageRecord, name: str, ring: Ring, gap: float) -> RingFigures | None:
    mean = mean_force(record, name)
    frames = _working(record, mean) if mean else []
    if mean is None or not frames:
        return None
    squeezed = _ahead(record, frames[0], name)
    views = [_wall(record, f, name, ring, squeezed) for f in frames]
    entry, leave, ratio = (np.array(values) for values in zip(*views, strict=True))
    seen = np.isfinite(leave)
    if not seen.any():
        return None
    entry, leave, ratio = entry[seen], leave[seen], ratio[seen]
    curves = force_curves(record)
    force = np.abs(curves.force[:, curves.tools.index(name)])
    return RingFigures(
        name=name,
        gap=gap,
        entry_thickness=float(entry.mean()),
        exit_thickness=float(leave.mean()),
        reduction=float((1.0 - leave / entry).mean()),
        mean_force=mean.force,
        peak_force=float(evened(curves.stroke, force, ring.land).max()),
        stress_ratio=float(ratio.max()),
        speed_ratio=float((entry / leave).mean()),
    )


def evened(stroke: Floats, force: Floats, length: float) -> Floats:
    """Running mean of a force over a length of stroke, (n) [N].

    Elements pass under a land one by one and ripple the force; the mean over a land length shows
    what the press feels.
    """
    work = np.concatenate([[0.0], np.cumsum(0.5 * (force[1:] + force[:-1]) * np.diff(stroke))])
    low = np.maximum(stroke - 0.5 * length, stroke[0])
    high = np.minimum(stroke + 0.5 * length, stroke[-1])
    span = np.interp(high, stroke, work) - np.interp(low, stroke, work)
    mean: Floats = span / np.maximum(high - low, 1e-12)
    return mean


def _working(record: StageRecord, mean: MeanForce) -> list[Frame]:
    """Kept states between the strokes at which a ring begins and ends to work fully."""
    formed = [frame for frame in record.frames if frame.phase == "forming"]
    return [frame for frame in formed if mean.first <= frame.stroke <= mean.last]


def _ahead(record: StageRecord, frame: Frame, name: str) -> Bools:
    """Columns that a ring has still to squeeze."""
    line = middle_line(record.body, frame.state.places(record.body))
    ahead: Bools = line.middles[:, 1] > frame.positions[name]
    return ahead


def _wall(
    record: StageRecord, frame: Frame, name: str, ring: Ring, squeezed: Bools
) -> tuple[float, float, float]:
    """Thickness ahead of and behind a ring, and the stress ratio behind it."""
    line = middle_line(record.body, frame.state.places(record.body))
    thickness = column_volumes(record.body, frame.state) / line.areas()
    height, land = line.middles[:, 1], frame.positions[name]
    upright = line.middles[:, 0] > 0.5 * ring.bore - 3.0 * thickness.max()
    cone = 0.5 * float(thickness.max()) / np.tan(np.radians(ring.entry_angle))
    ahead = upright & (height > land + cone)
    nearest = height < land + cone + AHEAD * float(thickness.max())
    leave = land - ring.land
    behind = squeezed & (height < leave)
    close = height > leave - BEHIND * float(thickness.max())
    entry = thickness[ahead & nearest] if (ahead & nearest).any() else thickness[-1:]
    after = behind & close
    if not after.any():
        return float(entry.mean()), np.nan, np.nan
    ratio = _stress_ratio(record, frame)[after]
    return float(entry.mean()), float(thickness[after].mean()), float(ratio.mean())


def _stress_ratio(record: StageRecord, frame: Frame) -> Floats:
    """Stress along the sheet over plane strain yield, mean of every column [-]."""
    body, state = record.body, frame.state
    count = strip(body).count
    along, _ = point_stresses(body, record.material, state)
    strain = state.strain.reshape(count, -1)
    strength = PLANE_STRAIN * record.material.flow.stress(strain.mean(axis=1))
    ratio: Floats = along.reshape(count, -1).mean(axis=1) / strength
    return ratio
