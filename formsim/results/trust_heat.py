"""Trust checks of a stage whose metal is heated by its plastic work."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from formsim.results.check import Check
from formsim.results.record import StageRecord
from formsim.solver.tempo import temperatures

HEAT = 0.02
"""Heat that may be missing, over that of the work left in the metal; own limit, twice that of the
energies, whose gap counts for more where much of the work is friction."""

LOST = 0.05
"""Share of the flow stress that may be lost to heat within one increment; own limit. At 0.03, in
the template cup at 300 mm/s, a quarter of the increment changed the peak force by 0.4 % and the
largest rise of temperature by 0.2 %."""


def heat_checks(record: StageRecord) -> Iterator[Check]:
    """Balance of heat of a stage, and how coarse its steps of temperature are.

    Nothing where no temperature is followed or no tool has worked.
    """
    heating = record.material.heating
    if heating is None or not record.increments:
        return
    begin, end = temperatures(record.frames[0].state), temperatures(record.formed)
    if begin is None or end is None:
        return
    yield Check(
        f"{record.name}: heat of the work left in the metal not found as rise of temperature",
        heat_missing(record),
        0.0,
        HEAT,
        "",
        "no heat leaves the sheet within a stage; own limit",
    )
    if heating.softening is not None:
        yield Check(
            f"{record.name}: largest share of the flow stress lost to heat within one increment",
            max(row.lost_to_heat for row in record.increments),
            0.0,
            LOST,
            "",
            "own limit",
        )


def heat_missing(record: StageRecord) -> float:
    """Heat of the work the metal took up in a stage that the rise of temperature lacks, over it.

    The work is that of the press less what friction, springs and helps took, so it knows nothing of
    the plastic work of the points, from which their temperatures come.
    """
    heating = record.material.heating
    begin, end = temperatures(record.frames[0].state), temperatures(record.formed)
    if heating is None or begin is None or end is None:
        return 0.0
    energy = record.increments[-1].energy
    kept = energy.elastic + energy.friction + energy.viscous + energy.guard + energy.sinking
    given = heating.per_work * (energy.external - kept)
    risen = float((record.body.volume * (end - begin)).sum())
    return (given - risen) / given if abs(given) > np.finfo(float).tiny else 0.0
