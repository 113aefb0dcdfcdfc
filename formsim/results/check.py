"""A number beside what it should be: the one type for trust, theory and expectations."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from formsim.case.expect import OF_A_TEST, OF_RISK
from formsim.case.schema import Case
from formsim.case.stage import Pressurise, Stage, TopLoad
from formsim.errors import FormsimError
from formsim.results.course import course
from formsim.results.forces import peak_forces
from formsim.results.measures import measure, measure_of_risk, measure_of_test
from formsim.results.record import Line, StageRecord
from formsim.results.risk import Risk
from formsim.results.strength import no_strength
from formsim.results.trace import Trace


@dataclass(frozen=True)
class Check:
    """A computed number, what was expected, and how far it may be off.

    Attributes
    ----------
    name : what was checked, with the stage
    computed, expected : in ``unit``
    tolerance : largest accepted difference, in ``unit``
    unit : of the three numbers, empty for a ratio
    source : where expectation or tolerance come from
    bounds : least and largest accepted number instead, infinite where there is none
    note : why there is no number, which then is nan and fails the check
    """

    name: str
    computed: float
    expected: float
    tolerance: float
    unit: str
    source: str
    bounds: tuple[float, float] | None = None
    note: str = ""

    @property
    def band(self) -> tuple[float, float]:
        """Least and largest accepted number."""
        return self.bounds or (self.expected - self.tolerance, self.expected + self.tolerance)

    @property
    def passed(self) -> bool:
        """Whether the number lies within the band."""
        low, high = self.band
        return low <= self.computed <= high


def limit_checks(case: Case, line: Line) -> tuple[Check, ...]:
    """What tools may bear and what bodies must, by the user; a limit not given is not checked.

    Forces of bodies that are tested until they give way are left out: of these counts what the
    case requires them to hold.
    """
    limits, checks = case.limits, list[Check]()
    for record, stage in zip(line.stages, case.stages, strict=False):
        checks += _required(record, stage)
        if record.specimen:
            continue
        if limits.press_force is not None:
            force = max(peak_forces(record).values(), default=0.0)
            checks.append(
                Check(
                    f"{record.name}: largest tool force",
                    force,
                    0.0,
                    limits.press_force,
                    "N",
                    "limits.press_force of the case",
                    (-math.inf, limits.press_force),
                )
            )
    return tuple(checks)


def risk_checks(rows: Sequence[Risk]) -> tuple[Check, ...]:
    """The user's limits of the sheet: the worst place of every stage and risk.

    Limits that the user has not set fail nothing.
    """
    worst: dict[tuple[str, str], Risk] = {}
    for row in rows:
        if not row.own or row.value is None:
            continue
        known = worst.get((row.stage, row.risk))
        if known is None or row.value > (known.value or 0.0):
            worst[row.stage, row.risk] = row
    return tuple(
        Check(
            f"{row.stage}: {_largest(row)}",
            row.value or 0.0,
            0.0,
            row.limit or 0.0,
            row.unit,
            row.source,
            (-math.inf, row.limit or 0.0),
        )
        for row in worst.values()
    )


def _largest(row: Risk) -> str:
    return "largest thinning" if row.risk == "thinning" else f"{row.risk}, {row.zone}"


def _required(record: StageRecord, stage: Stage) -> Iterator[Check]:
    """What a body has to hold by its stage against what it held."""
    match stage:
        case Pressurise():
            until = {} if stage.until == "limit" else {"until": stage.until}
            asked, what, unit = stage.named | until, "inside pressure held", "MPa"
        case TopLoad() if stage.required:
            asked, what, unit = {"required": stage.required}, "top load held", "N"
        case _:
            return
    why = no_strength(record)
    held = math.nan if why else course(record).held
    for name, least in asked.items():
        told = what if name == "required" else f"{what}, {name}"
        source = f"{stage.kind}.{name} of the case"
        band = least, math.inf
        yield Check(f"{record.name}: {told}", held, least, 0.0, unit, source, band, why)


def expectations(case: Case, line: Line, traces: Sequence[Trace] = ()) -> tuple[Check, ...]:
    """The case's own ``[[expect]]`` entries against the run.

    Parameters
    ----------
    traces : what the columns of the stages went through, of a ``RiskReport``
    """
    checks = []
    stages = {stage.name: stage for stage in case.stages}
    for wanted in case.expect:
        low, high = wanted.band
        if math.isinf(low):
            low = high - 2.0 * abs(high)
        if math.isinf(high):
            high = low + 2.0 * abs(low)
        stage = wanted.stage or line.stages[-1].name
        where = "" if wanted.at is None else f" at {wanted.at:g} mm"
        value, note = measured(line, stages[stage], wanted.measure, wanted.at, traces)
        checks.append(
            Check(
                name=f"{stage}: {wanted.measure}{where}",
                computed=value,
                expected=wanted.value if wanted.value is not None else 0.5 * (low + high),
                tolerance=0.5 * (high - low),
                unit=wanted.unit,
                source=wanted.source,
                bounds=wanted.band,
                note=note,
            )
        )
    return tuple(checks)


def measured(
    line: Line, stage: Stage, name: str, at: float | None, traces: Sequence[Trace] = ()
) -> tuple[float, str]:
    """Value of a measure of a stage, in its unit; not a number where there is none, and why."""
    try:
        if name in OF_RISK:
            return measure_of_risk(traces, stage.name, name, at), ""
        if name in OF_A_TEST:
            return measure_of_test(line, stage, name), ""
        return measure(line, stage.name, name, at), ""
    except FormsimError as error:
        return math.nan, str(error)
