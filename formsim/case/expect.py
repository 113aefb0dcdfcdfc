"""Expected results: a measure, a reference value or band, and where it comes from."""

from __future__ import annotations

import math
from types import MappingProxyType
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, ValidationInfo, field_validator, model_validator

from formsim.case.base import LENGTH, Table, Words
from formsim.case.nearest import nearest, question
from formsim.case.quantity import Quantity, refuse
from formsim.case.units import base_unit

OF_A_TEST = MappingProxyType(
    {
        "limit_pressure": "stress",
        "crush_load": "force",
        "service_centre_growth": "length",
        "service_nose_growth": "length",
        "permanent_centre_growth": "length",
        "permanent_nose_growth": "length",
    }
)
"""Measures of a body under test, with one value for the whole stage -> dimension."""

OF_RISK = MappingProxyType({"damage": "ratio", "limit_curve_share": "ratio"})
"""Measures of what the sheet of a stage has been through, at its worst place -> dimension."""

MEASURES = MappingProxyType(
    {
        "height": "length",
        "dome_depth": "length",
        "min_thickness": "length",
        "max_thickness": "length",
        "min_thickness_radius": "length",
        "max_thinning_percent": "percent",
        "max_thinning_strain": "ratio",
        "pole_thickness_strain": "ratio",
        "pole_radial_strain": "ratio",
        "punch_force": "force",
        "holder_force": "force",
        "dome_force": "force",
        "clamp_force": "force",
        "pressure": "stress",
        **OF_RISK,
        **OF_A_TEST,
    }
)
"""Measure -> dimension. Forces and pressure are the peak over the stage unless ``at`` is given.

``pole_*`` are log strains at the axis, thinning negative; ``max_thinning_strain`` is the
largest thinning, positive. ``damage`` is the largest by the law of the case,
``limit_curve_share`` the largest share of the limit curve in the stage, 1 on it.
``limit_pressure`` and ``crush_load`` are what a body holds at most;
``service_*`` is how much its base has grown at the service pressure, ``permanent_*`` what is left
of the growth after a proof pressure.
"""

RELATIVE = Quantity("a relative tolerance", "ratio", 1.0e-6, 1.0)


def _known_measure(raw: Any) -> Any:
    if isinstance(raw, str) and raw not in MEASURES:
        asked = question(nearest(raw, MEASURES))
        refuse(f"no measure of this name; {asked or 'known are ' + ', '.join(MEASURES)}")
    return raw


Measure = Annotated[str, BeforeValidator(_known_measure)]


class Wanted(Table):
    """A measure of a stage, the last one where none is named, and the band it should lie in.

    ``at`` is the punch depth or pole height [mm] to look at; without it the end or peak of the
    stage.
    """

    measure: Measure
    stage: str | None = None
    at: Annotated[float | None, LENGTH] = None
    low: float | None = None
    high: float | None = None

    @field_validator("low", "high", "value", mode="before", check_fields=False)
    @classmethod
    def _read_number(cls, raw: Any, info: ValidationInfo) -> Any:
        dimension = MEASURES.get(info.data.get("measure", ""))
        if dimension is None or raw is None:
            return raw
        return Quantity("a number", dimension, -math.inf, math.inf).read(raw)

    @field_validator("high")
    @classmethod
    def _in_order(cls, high: float | None, info: ValidationInfo) -> float | None:
        low = info.data.get("low")
        if low is not None and high is not None and low > high:
            refuse(f"low {low:g} is above high {high:g}")
        return high

    @property
    def unit(self) -> str:
        """Unit of the measure and its bounds."""
        return base_unit(MEASURES[self.measure])


class Expect(Wanted):
    """One expectation, compared after the run.

    ``value`` with a relative ``tolerance``, or a band ``low`` to ``high``.
    """

    source: Words
    value: float | None = None
    tolerance: Annotated[float | None, RELATIVE] = None

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        band = self.low is not None or self.high is not None
        if (self.value is None) != band:
            refuse("expected value with tolerance, or a band of low and high")
        if (self.value is None) != (self.tolerance is None):
            refuse("value and tolerance belong together; a band low, high needs neither")
        return self

    @property
    def band(self) -> tuple[float, float]:
        """Lowest and highest accepted value."""
        if self.value is not None and self.tolerance is not None:
            half = abs(self.value) * self.tolerance
            return self.value - half, self.value + half
        low = -math.inf if self.low is None else self.low
        return low, math.inf if self.high is None else self.high
