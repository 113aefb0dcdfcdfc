"""What a body bears over a test of its strength: where it is stable, leaps and gives way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.results.forces import force_curves
from formsim.results.record import StageRecord

PASSED = 0.999
"""Share of its peak to which a load has fallen once its limit is passed."""

LEAPT = 0.02
"""Share of its peak below which a load without stable equilibrium is only tools touching."""


@dataclass(frozen=True)
class Course:
    """Load over the increments of a test, and what of it counts.

    Increments of finite length may follow a body past the point where it gives way, along shapes
    in which it could not stay; what it bears there is no strength. A base that the pressure has
    turned inside out has given way, whatever it holds then.

    Attributes
    ----------
    load : inside pressure [MPa] or top load [N], the row before any load first, (n_rows)
    stable : whether the body would stay as it is, (n_rows)
    leap : first row without a stable equilibrium, where that is not only tools touching; None
        where it stays stable. A body may leap while it is filled for a top load
    top : row of the largest load in a stable equilibrium, of a pressure before the leap
    held : largest load before the leap, in the unit of ``load``
    limit : load of ``top`` where the body has passed it since, else None
    filled : pressure a body held while it was filled for a top load; None where it stayed stable
        until then [MPa]
    """

    load: Floats
    stable: Bools
    leap: int | None
    top: int
    held: float
    limit: float | None
    filled: float | None

    @property
    def largest(self) -> float:
        """Load of the row ``top``."""
        return float(self.load[self.top])

    @property
    def gave_way(self) -> bool:
        """Whether the body has passed its largest load, or is no longer stable."""
        return self.limit is not None


def course(record: StageRecord) -> Course:
    """Course of a test by inside pressure or top load."""
    load = applied_load(record)
    stable: Bools = np.array([True, *(row.unstable == 0 for row in record.increments)])
    filling = _leap_while_filled(record, stable)
    leap = _first_leap(load, stable) if filling is None else filling
    sure: Floats = np.where(stable, load, -np.inf)
    top = int(sure[: leap if record.kind == "pressurise" else None].argmax())
    passed = load[-1] < PASSED * load[top] or not stable[top:].all()
    held = float(sure[:leap].max())
    limit = float(load[top]) if passed else None
    filled = None if filling is None else float(_pressure(record)[:filling].max())
    return Course(load, stable, leap, top, held, limit, filled)


def _first_leap(load: Floats, stable: Bools) -> int | None:
    least = LEAPT * float(load[stable].max())
    loose = np.flatnonzero(~stable & (load > least))
    return int(loose[0]) if loose.size else None


def _leap_while_filled(record: StageRecord, stable: Bools) -> int | None:
    """First row without a stable equilibrium while the pressure of a top load comes on."""
    if record.kind != "top_load" or not record.pressures:
        return None
    pressure, stroke = _pressure(record), force_curves(record).stroke
    loose = np.flatnonzero(~stable & (stroke <= 0.0) & (pressure > LEAPT * pressure.max()))
    return int(loose[0]) if loose.size else None


def _pressure(record: StageRecord) -> Floats:
    return force_curves(record).pressure[:, 0]


def load_curve(record: StageRecord) -> tuple[Floats, Floats]:
    """Top load and travel since it began, over the increments, (n_rows) [N] and [mm].

    While the body is filled, before stroke 0, it bears none.
    """
    curves = force_curves(record)
    load: Floats = np.where(curves.stroke > 0.0, np.abs(curves.force).max(axis=1, initial=0.0), 0.0)
    touched = np.flatnonzero(load > 1e-3 * load.max(initial=0.0))
    begin = curves.stroke[max(int(touched[0]) - 1, 0)] if touched.size else curves.stroke[0]
    return load, np.maximum(curves.stroke - begin, 0.0)


def applied_load(record: StageRecord) -> Floats:
    """What a body is tested by, over the increments: pressure [MPa] or top load [N], (n_rows)."""
    return load_curve(record)[0] if record.kind == "top_load" else _pressure(record)


def given_way(record: StageRecord) -> str:
    """Where and at what the body that a stage passes on has given way, empty for a sound one.

    What becomes of a body that is tested up to its limit does not matter: another goes on.
    """
    if record.spoilt or record.specimen or record.kind != "pressurise":
        return record.spoilt
    limit = course(record).limit
    return "" if limit is None else f"{record.name}, at {limit:.4g} MPa inside"
