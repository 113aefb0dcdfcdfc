"""Rings of sheet that no tool holds and that are pressed along the hoop: an index, no forecast.

An axisymmetric model cannot wrinkle. The index is the hoop pressure of such a ring over the stress
at which a long strip of its width and thickness would buckle.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats, runs
from formsim.geometry.distance import gaps
from formsim.results.curve import between_lines, bottom_line, middle_line, strip, top_line
from formsim.results.record import Frame, StageRecord
from formsim.results.residual_stress import point_stresses
from formsim.results.strains import middle_strains
from formsim.results.theory.rings import NARROWEST, ring_buckling_stress
from formsim.results.thickness import first_thickness

NEAR, SUNK = 0.1, 0.5
"""Gap to a tool up to which it holds a column, and depth beyond which it is another side of the
tool, in thicknesses. Our own numbers."""

PRESSED = 0.02
"""Mean hoop pressure over the first yield stress below which nothing is pressed. Our own number."""

FLOWS = 1e-5
"""Growth of the plastic strain since the last kept state with which a ring counts as flowing."""


@dataclass(frozen=True)
class Ring:
    """An unsupported ring at one moment.

    Attributes
    ----------
    first, last : its columns, the last one not included
    stroke : of the stage [mm]
    width, thickness : [mm]
    pressure : mean hoop stress, pressure positive [MPa]
    buckling : at which it would buckle [MPa]
    free : it reaches to the rim
    """

    first: int
    last: int
    stroke: float
    width: float
    thickness: float
    pressure: float
    buckling: float
    free: bool

    @property
    def index(self) -> float:
        """Hoop pressure over the buckling stress [-]."""
        return self.pressure / self.buckling

    @property
    def middle(self) -> int:
        """Column in its middle."""
        return (self.first + self.last) // 2


def worst_rings(record: StageRecord) -> list[Ring]:
    """Ring of the largest index for every column that is in one, each ring once."""
    count = strip(record.body).count
    best: list[Ring | None] = [None] * count
    frames = [frame for frame in record.frames if frame.phase != "springback"]
    for before, frame in zip(frames, frames[1:], strict=False):
        for ring in _rings(record, before, frame):
            for column in range(ring.first, ring.last):
                known = best[column]
                if known is None or ring.index > known.index:
                    best[column] = ring
    return list(dict.fromkeys(ring for ring in best if ring is not None))


def _rings(record: StageRecord, before: Frame, frame: Frame) -> Iterator[Ring]:
    body, state = record.body, frame.state
    shape = (strip(body).count, -1)
    line = middle_line(body, state.places(body))
    lengths, strains = line.lengths(), middle_strains(body, state)
    thickness = between_lines(first_thickness(body)) * np.exp(-strains[0] - strains[1])
    along, around = point_stresses(body, record.material, state)
    hoop = around.reshape(shape).mean(axis=1)
    strain = state.strain.reshape(shape).mean(axis=1)
    since = strain - record.frames[0].state.strain.reshape(shape).mean(axis=1)
    flowing = strain - before.state.strain.reshape(shape).mean(axis=1)
    loose = ~_held(record, frame, thickness) & (hoop < -PRESSED * record.material.yield_stress)
    for first, last in runs(loose):
        inside = slice(first, last)
        width, mean = float(lengths[inside].sum()), float(thickness[inside].mean())
        if width <= NARROWEST * mean:
            continue
        pressure = -float(np.average(hoop[inside], weights=lengths[inside]))
        flows = float(flowing[inside].mean()) > FLOWS
        secant, tangent = _moduli(
            record, float(strain[inside].mean()), float(since[inside].mean()), flows
        )
        free = last == len(lengths)
        across = float(along.reshape(shape)[inside].mean())
        material = record.material
        buckling = ring_buckling_stress(
            material.young,
            material.poisson,
            secant,
            tangent,
            mean,
            width,
            tension=across,
            free=free,
        )
        yield Ring(first, last, frame.stroke, width, mean, pressure, buckling, free)


def _moduli(record: StageRecord, strain: float, since: float, flows: bool) -> tuple[float, float]:
    """Secant and tangent modulus of a ring; its strain counts from the begin of the stage [MPa]."""
    young, flow = record.material.young, record.material.flow
    if not flows:
        return young, young
    stress, slope = float(flow.stress(strain)), float(flow.slope(strain))
    secant = stress / (stress / young + max(since, 0.0))
    return secant, min(young * slope / (young + slope), secant)


def _held(record: StageRecord, frame: Frame, thickness: Floats) -> Bools:
    """Columns at which a tool is on either face, (n_columns)."""
    body = record.body
    places = frame.state.places(body)
    faces = {"bottom": bottom_line(body, places), "top": top_line(body, places)}
    held = np.zeros(len(thickness), dtype=bool)
    for tool in record.tools:
        if tool.name not in frame.positions or tool.edge not in faces:
            continue
        at = faces[tool.edge].middles - [0.0, frame.positions[tool.name]]
        gap = gaps(tool.outline, at)
        held |= (gap < NEAR * thickness) & (gap > -SUNK * thickness)
    return held
