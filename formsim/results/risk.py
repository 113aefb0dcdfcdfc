"""Where a line is over: every risk of every zone against its limit, with the source of the limit.

A limit that nobody gave is said to be missing. A limit of physics, such as a wall that yields, is
told with its source and fails no run. A rule of thumb is advice: beyond it a place is to be
watched.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from operator import neg
from typing import Literal

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.case.schema import Case
from formsim.case.stage import Draw, Flange, Iron, Neck, Stage, Stroke
from formsim.errors import TheoryRangeError
from formsim.results.damage import DamageLaw, damage_law
from formsim.results.damage_told import damage_words, first_reached
from formsim.results.estimates import HOLDER, given_pressure, needed_pressure
from formsim.results.flanging import edge_strain
from formsim.results.ironing import ring_figures
from formsim.results.limit_curve import SLIGHT, GivenCurve, limit_curve
from formsim.results.necking import load_ratio
from formsim.results.record import Line, StageRecord
from formsim.results.risk_words import BEYOND, INDEX, NO_LIMIT, reason
from formsim.results.trace import Trace, history_of, trace_of
from formsim.results.wrinkling import worst_rings
from formsim.results.zones import ZONES

Verdict = Literal["safe", "watch", "over", "no limit given", "not judged"]

YIELD = "plane strain yield stress of the wall as it has hardened"
BEARS = "wall yields, or a perfect wall buckles, whichever comes first"
SIEBEL = f"{HOLDER}, factor 2.5, by draw ratio and D/t; check goes by 0.015 of the yield stress"
STRIP = "flat strip, Timoshenko and Gere 1961, Gerard and Becker 1957 (memory)"

BROUGHT = 0.95
"""Share of a number that was there before a stage from which its tools are not to blame; own."""

IRONED_PLACE = "ironed: the curve does not hold under pressure across the sheet"
PRESSED = (
    "no limit applies: the sheet is pressed together there and gets no thinner, so that no neck"
    " opens; see the wrinkle index"
)


@dataclass(frozen=True)
class Risk:
    """One risk of one zone against its limit.

    Attributes
    ----------
    stage, zone : where; the zone is a tool or the whole part where no zone fits
    risk : what could go wrong
    value, limit : number and limit in ``unit``; None where there is none
    unit : empty for a ratio
    margin : share of the limit that is left, negative beyond it, at most 1; None without a limit
    verdict : in a word
    way : place along the sheet before the first stage, in a flat blank its radius [mm]; None where
        it has none
    stroke : at which it was worst, or a damage over its limit came to it [mm]; None for the end
    source : of the limit, or why there is none
    own : whether the user set the limit, so that exceeding it fails the run
    reason : in a sentence
    """

    stage: str
    zone: str
    risk: str
    value: float | None
    limit: float | None
    unit: str
    margin: float | None
    verdict: Verdict
    way: float | None
    stroke: float | None
    source: str
    own: bool
    reason: str


@dataclass(frozen=True)
class RiskReport:
    """All risks of a line.

    Attributes
    ----------
    given : limit curve of the case
    law : damage law of the case
    unused : limits of the case that no stage of it is compared with
    before, traces : what the columns of every stage went through, of stages of the results the
        case starts from and of its own; tests up to a limit left out
    rows : every risk of every stage and zone
    watch_percent : share of a limit with less than which left a place is to be watched [%]
    """

    given: GivenCurve
    law: DamageLaw
    unused: tuple[str, ...]
    before: tuple[Trace, ...]
    traces: tuple[Trace, ...]
    rows: tuple[Risk, ...]
    watch_percent: float

    @property
    def whole(self) -> tuple[Trace, ...]:
        """Traces of all stages the sheet went through."""
        return (*self.before, *self.traces)

    @property
    def notes(self) -> tuple[str, ...]:
        """Limits that were asked for and cannot be worked out, or say less than they should."""
        return (*self.given.warnings, *filter(None, [self.law.warning]), *self.unused)

    @property
    def worst(self) -> tuple[Risk, ...]:
        """The row with the least margin, or the largest value, of every risk and zone.

        Those over a limit come first, then what is near a limit of the user, then advice.
        """
        best: dict[tuple[str, str], Risk] = {}
        for row in self.rows:
            known = best.get((row.risk, row.zone))
            if known is None or _severity(row) > _severity(known):
                best[row.risk, row.zone] = row
        return tuple(sorted(best.values(), key=lambda row: (_rank(row), *map(neg, _severity(row)))))


def _rank(row: Risk) -> int:
    if row.verdict == "watch":
        return 1 if row.own else 2
    return {"over": 0, "safe": 3}.get(row.verdict, 4)


def _severity(row: Risk) -> tuple[float, float]:
    return (-np.inf if row.margin is None else -row.margin, row.value or 0.0)


def risk_report(case: Case, line: Line) -> RiskReport:
    """Risks of all stages that have been made.

    The stages of results the case starts from are judged by its own limits: by what they did to
    the sheet, not by their tools.
    """
    given, law = limit_curve(case), damage_law(case)
    before = tuple(trace_of(history, given.curve, law) for history in line.before)
    traces, rows = list[Trace](), list[Risk]()
    kinds = {stage.name: stage.kind for stage in case.before}
    for trace in before:
        rows += _Judge(case, trace, given, law, kinds.get(trace.stage, "")).sheet()
    for number, (record, stage) in enumerate(zip(line.stages, case.stages, strict=False)):
        if record.specimen:
            continue
        history = history_of(record, stage, case.made_before(number))
        trace = trace_of(history, given.curve, law)
        traces.append(trace)
        judge = _Judge(case, trace, given, law, stage.kind)
        rows += [*judge.sheet(), *judge.tools(line, record, stage), *judge.wrinkles(record)]
    unused = tuple(unused_limits(case))
    watch = case.limits.watch_percent
    return RiskReport(given, law, unused, before, tuple(traces), tuple(rows), watch)


def unused_limits(case: Case) -> Iterator[str]:
    """Limits of the case that no stage of it can be compared with."""
    if case.limits.cut_edge is not None and not any(isinstance(one, Flange) for one in case.stages):
        yield (
            "limits.cut_edge is compared with nothing: it holds for the edge of a flange stage, and"
            " this case has none"
        )


@dataclass(frozen=True)
class _Judge:
    """Rows of one stage."""

    case: Case
    trace: Trace
    given: GivenCurve
    law: DamageLaw
    kind: str

    def sheet(self) -> Iterator[Risk]:
        """Thinning, limit curve and damage of every zone."""
        trace, limits = self.trace, self.case.limits
        allowed = limits.max_thinning_percent
        for zone, inside in _zones(trace):
            at = _largest(trace.thinned, inside)
            source = NO_LIMIT if allowed is None else "max_thinning_percent under [limits]"
            value = float(trace.thinned[at])
            kind = self._cause(trace.thinning[0, at], float(trace.thinning[-1, at]))
            yield self._row(zone, "thinning", value, allowed, "%", source, column=at, kind=kind)
            yield self._curve_row(zone, inside)
            yield self._damage_row(zone, inside)

    def _cause(self, first: float, value: float) -> str:
        """Kind of the stage whose tools are to blame, empty where an earlier one is."""
        return "" if len(self.trace.damage) > 1 and first > BROUGHT * value else self.kind

    def _damage_row(self, zone: str, inside: Bools) -> Risk:
        trace, law = self.trace, self.law
        at = _largest(trace.damage[-1], inside)
        reached = None if law.critical is None else first_reached(trace, inside, law.critical)
        return self._row(
            zone,
            "damage",
            float(trace.damage[-1, at]),
            law.critical,
            "",
            f"{law.name}: {law.source}",
            column=at,
            stroke=None if reached is None else reached.stroke,
            kind=self._cause(trace.damage[0, at], float(trace.damage[-1, at])),
            told=damage_words(trace, law, at, reached),
        )

    def _curve_row(self, zone: str, inside: Bools) -> Risk:
        curve, trace, share = self.given.curve, self.trace, self.trace.worst_share
        if curve is None:
            return self._row(zone, "limit curve", None, None, "", self.given.note)
        judged, beyond = inside & ~np.isnan(share), inside & trace.beyond
        why = _not_judged(trace, inside, judged)
        if why:
            return self._row(zone, "limit curve", None, None, "", why, verdict="not judged")
        at = _largest(share, judged)
        value, told = float(share[at]), _readings(trace, at)
        verdict: Verdict | None = None
        if beyond.any():
            told += f"; {BEYOND}"
            verdict = "watch" if value <= 1.0 else None
        return self._row(
            zone,
            "limit curve",
            value,
            1.0,
            "",
            f"{told}; {curve.source}",
            column=at,
            stroke=float(trace.nearest_stroke[at]),
            verdict=verdict,
            told=told,
            kind=self._cause(trace.known_share[0, at], value),
        )

    def tools(self, line: Line, record: StageRecord, stage: Stage) -> Iterator[Risk]:
        """What tools and the wall behind them bear."""
        if isinstance(stage, Draw):
            yield self._holder(line, record, stage)
        if isinstance(stage, Iron | Stroke):
            for ring in ring_figures(record, stage):
                if np.isfinite(ring.stress_ratio):
                    ratio = ring.stress_ratio
                    yield self._row(ring.name, "ironing", ratio, 1.0, "", YIELD, own=False)
        if isinstance(stage, Neck):
            ratio = load_ratio(record)
            yield self._row("wall", "neck load", ratio, 1.0, "", BEARS, own=False)
        if isinstance(stage, Flange):
            edge = self.case.cut_edge
            limit, source = (edge.largest, edge.source) if edge else (None, NO_LIMIT)
            yield self._row("edge", "edge stretch", edge_strain(record), limit, "", source)

    def _holder(self, line: Line, record: StageRecord, stage: Draw) -> Risk:
        name = "holder pressure"
        if stage.holder.force is None:
            why = "the holder keeps a gap, no pressure"
            return self._row("holder", name, None, None, "", why, verdict="not judged")
        given = given_pressure(self.case.sheet, record, stage)
        try:
            needed = needed_pressure(line, record, stage)
        except TheoryRangeError as error:
            return self._row("holder", name, None, None, "", str(error), verdict="not judged")
        source = f"needed {needed:.3g} MPa over given {given:.3g} MPa; {SIEBEL}"
        value = needed / max(given, 1e-9)
        return self._row("holder", name, value, 1.0, "", source, advice=True)

    def wrinkles(self, record: StageRecord) -> Iterator[Risk]:
        """Index of the worst unsupported ring of every zone."""
        best: dict[str, Risk] = {}
        limit = self.case.limits.wrinkle_index
        for ring in worst_rings(record):
            zone = self.trace.zones[ring.middle]
            source = (
                f"{INDEX if limit else STRIP}; {ring.width:.3g} mm wide, {ring.thickness:.3g} mm"
                f" thick, {'one edge free' if ring.free else 'both edges held'}"
            )
            row = self._row(
                zone,
                "wrinkle index",
                ring.index,
                limit or 1.0,
                "",
                source,
                column=ring.middle,
                stroke=ring.stroke,
                advice=limit is None,
            )
            if zone not in best or ring.index > (best[zone].value or 0.0):
                best[zone] = row
        yield from best.values()

    def _row(
        self,
        zone: str,
        risk: str,
        value: float | None,
        limit: float | None,
        unit: str,
        source: str,
        *,
        column: int | None = None,
        stroke: float | None = None,
        own: bool = True,
        advice: bool = False,
        verdict: Verdict | None = None,
        told: str = "",
        kind: str | None = None,
    ) -> Risk:
        margin = None if value is None or limit is None else 1.0 - max(value, 0.0) / limit
        said = verdict or judged(margin, self.case.limits.watch_percent)
        if advice and said == "over":
            said = "watch"
        return Risk(
            stage=self.trace.stage,
            zone=zone,
            risk=risk,
            value=value,
            limit=limit,
            unit=unit,
            margin=margin,
            verdict=said,
            way=None if column is None else float(self.trace.way[column]),
            stroke=stroke,
            source=source,
            own=own and not advice and limit is not None,
            reason=reason(
                risk, said, zone, value, limit, source, told, self.kind if kind is None else kind
            ),
        )


def judged(margin: float | None, watch_percent: float) -> Verdict:
    """Verdict on a margin: over beyond the limit, watch with less left than the stated share."""
    if margin is None:
        return NO_LIMIT
    if margin < 0.0:
        return "over"
    return "watch" if 100.0 * margin < watch_percent else "safe"


def _not_judged(trace: Trace, inside: Bools, judged: Bools) -> str:
    """Why no limit curve holds for a zone; empty where one does."""
    if not judged.any():
        return IRONED_PLACE if trace.ironed[inside].all() else BEYOND
    thinner = (trace.major[-1] + trace.minor[-1])[judged] > 0.0
    if trace.beyond[inside].any() or thinner.any() or trace.worst_share[judged].max() >= SLIGHT:
        return ""
    return PRESSED


def _readings(trace: Trace, column: int) -> str:
    """Both readings of the limit curve for a column where it was nearest, in words."""
    state = trace.nearest[column]
    straight, level = (float(one[state, column]) for one in (trace.straight, trace.level))
    told = f"{100.0 * straight:.0f} % of the straight way to the limit curve"
    if not np.isfinite(level) or level <= 0.0:
        return told
    gap = float(trace.major[state, column]) * (1.0 / level - 1.0)
    side = "below" if gap >= 0.0 else "above"
    return f"{told}, {100.0 * level:.0f} % at equal minor strain ({abs(gap):.3f} {side} it)"


def _zones(trace: Trace) -> Iterator[tuple[str, Bools]]:
    names = np.array(trace.zones)
    for zone in ZONES:
        inside: Bools = names == zone
        if inside.any():
            yield zone, inside


def _largest(values: Floats, inside: Bools) -> int:
    return int(np.where(inside, values, -np.inf).argmax())
