"""Balance of heat of a stage, and how coarse its steps of temperature are."""

from dataclasses import replace

import numpy as np
import pytest

from formsim.material.heat import Heating, LinearSoftening
from formsim.report.advice import UNKNOWN, advice_on
from formsim.results.trust_heat import LOST, heat_checks
from formsim.solver.state import Energy
from formsim.solver.tempo import cold
from tests.unit.shaped import blank, draw_record, shaped

PER_WORK = 0.9 / (2720.0 * 900.0) * 1e6
"""K for each MPa of plastic work: 0.9 of it into 2720 kg/m3 at 900 J/(kg K), by hand 0.3676."""


SOFTER = LinearSoftening(0.002, 20.0)


def worked(rise, work, lost=0.01, softening=SOFTER):
    """A draw of a flat blank that warmed evenly [K] while the press left work [N mm] in it."""
    body = blank()
    record = draw_record(body, [shaped(body, lambda r, z: (r, z))] * 2)
    shape = record.formed.plastic.shape[:2]
    begin = replace(record.frames[0].state, heat=cold(shape, 20.0))
    end = replace(record.formed, heat=cold(shape, 20.0 + rise))
    # A tenth of the work of the press went into friction.
    energy = Energy(external=work / 0.9, friction=work / 9.0)
    rows = (*record.increments[:-1], replace(record.increments[-1], energy=energy))
    rows = tuple(replace(row, lost_to_heat=lost) for row in rows)
    metal = replace(record.material, heating=Heating(PER_WORK, 20.0, softening))
    frames = (replace(record.frames[0], state=begin), *record.frames[1:])
    return replace(record, material=metal, frames=frames, formed=end, increments=rows)


def test_the_heat_of_the_work_is_the_rise_by_hand():
    """100 MPa all over warm by 36.76 K: 0.9 * 1e8 J/m3 / (2720 * 900 J/(m3 K))."""
    volume = float(blank().volume.sum())
    right, step = heat_checks(worked(36.765, 100.0 * volume))
    assert right.computed == pytest.approx(0.0, abs=1e-4)
    assert right.passed and step.passed
    short = next(iter(heat_checks(worked(0.9 * 36.765, 100.0 * volume))))
    assert short.computed == pytest.approx(0.1, abs=1e-4)
    assert not short.passed


def test_long_increments_are_told():
    volume = float(blank().volume.sum())
    _, step = heat_checks(worked(36.765, 100.0 * volume, lost=1.1 * LOST))
    assert not step.passed
    assert len(list(heat_checks(worked(36.765, volume, softening=None)))) == 1


def test_nothing_is_told_where_no_temperature_is_followed():
    body = blank()
    record = draw_record(body, [shaped(body, lambda r, z: (r, z))] * 2)
    assert not list(heat_checks(record))


def test_what_fails_is_explained():
    volume = float(blank().volume.sum())
    for check in heat_checks(worked(1.0, volume, lost=np.inf)):
        assert advice_on(check.name) is not UNKNOWN
