"""Top of the page of a run: the verdict, five numbers, and what must not be overlooked."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from formsim.report.advice import advice_on
from formsim.report.error_table import bar_lines
from formsim.report.risk_table import over_lines, shown
from formsim.report.rule_text import finding_text
from formsim.report.verdict import Ending, ending, found
from formsim.report.words import KINKED, number, wanted
from formsim.results.store import LAST_STATE
from formsim.results.summary import BY_VOLUME

GOOD, BAD = "good", "bad"
ADVICE = ("wrinkle index", "holder pressure")
"""Risks that are to be watched at most: advice, no limits of the metal."""
_KEPT = re.compile(rf"(the last accepted state is ).*(?={re.escape(LAST_STATE)})")
"""Where a run left its state on the machine that made it; the page may have moved since."""


class Headline(NamedTuple):
    """A number to look at first: what it is, its value with unit, and where."""

    label: str
    value: str
    unit: str
    where: str


class Failure(NamedTuple):
    """A check that failed; cause, consequence and remedy are empty but for trust checks."""

    kind: str
    name: str
    found: str
    wanted: str
    place: str
    cause: str
    consequence: str
    remedy: str


class Top(NamedTuple):
    """What stands at the top of the page.

    Attributes
    ----------
    tone : ``good`` or ``bad``
    ending : the verdict in a sentence, what to try, and what the numbers are
    unsound : checks that the result this one starts from did not pass
    headlines : at most five
    failures : checks that failed, trust checks first
    over, watched : sentences on places beyond a limit of physics, and on those to be watched
    findings : sentences on handbook rules the case does not keep
    warnings : sentences of the run itself
    """

    tone: str
    ending: Ending
    unsound: tuple[str, ...]
    headlines: tuple[Headline, ...]
    failures: tuple[Failure, ...]
    over: tuple[str, ...]
    watched: tuple[str, ...]
    findings: tuple[str, ...]
    warnings: tuple[str, ...]


def top(summary: Mapping[str, Any]) -> Top:
    """Top of the page from a summary, finished or not."""
    said = ending(summary)
    said = said._replace(verdict=_KEPT.sub(r"\1", said.verdict))
    unsound = tuple(map(str, (summary.get("start") or {}).get("failed") or ()))
    if summary.get("finished") and summary.get("passed"):
        said = said._replace(verdict=f"Finished: {said.verdict}")
    return Top(
        tone=GOOD if summary.get("passed") and not unsound else BAD,
        ending=said,
        unsound=unsound,
        headlines=tuple(headlines(summary)),
        failures=tuple(_failures(summary)),
        over=tuple(over_lines(summary)),
        watched=tuple(
            f"{row['stage']}: {row['reason']}"
            for row in shown(summary.get("risk", ()))
            if row["verdict"] == "watch"
        ),
        findings=tuple(finding_text(finding) for finding in summary.get("findings", ())),
        warnings=(*map(str, summary.get("warnings", ())), *bar_lines(summary)),
    )


def headlines(summary: Mapping[str, Any]) -> Iterator[Headline]:
    """Thickness, thinning, height, press force, and the nearest limit or a strength."""
    made = made_stages(summary)
    if not made:
        return
    part = made[-1]
    where = f"{part['min_thickness_zone']}, R {part['min_thickness_radius']:.1f} mm of the sheet"
    least = f"{where} before the first stage{_measured(part)}"
    yield Headline("smallest thickness", f"{part['min_thickness']:.4f}", "mm", least)
    thin = max(made, key=lambda stage: float(stage["max_thinning_percent"]))
    most = _moment(thin) + (", by volume" if _measured(thin) else "")
    yield Headline("largest thinning", f"{thin['max_thinning_percent']:.1f}", "%", most)
    yield Headline("height", f"{part['height']:.2f}", "mm", _moment(part))
    yield from _press_force(made)
    yield from _limit_or_strength(summary)


def _moment(stage: Mapping[str, Any]) -> str:
    """When a number of a stage was taken: one that was given up has no part after it."""
    return (
        f"after {stage['name']}" if stage.get("complete", True) else f"{stage['name']}, as it ended"
    )


def _measured(stage: Mapping[str, Any]) -> str:
    return f"; {KINKED}" if stage.get("min_thickness_by") == BY_VOLUME else ""


def made_stages(summary: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Stages that make the part; all where the body was only tested."""
    stages = list(summary.get("stages", ()))
    return [stage for stage in stages if not _tested(stage)] or stages


def part_stage(summary: Mapping[str, Any]) -> int:
    """Number of the stage that leaves the finished part, from 0; -1 where no stage was made."""
    made = made_stages(summary)
    return list(summary["stages"]).index(made[-1]) if made else -1


def _tested(stage: Mapping[str, Any]) -> bool:
    """Whether a stage loads the body until it gives way, so that the part is the one before."""
    held = stage.get("pressurise")
    return "top_load" in stage or bool(held and held.get("permanent_centre_growth") is None)


def _press_force(made: Sequence[Mapping[str, Any]]) -> Iterator[Headline]:
    peaks = [
        (float(force), f"{tool}, {stage['name']}")
        for stage in made
        for tool, force in stage.get("peak_force", {}).items()
        if tool != "lid"
    ]
    if peaks:
        force, where = max(peaks)
        yield Headline("largest press force", f"{1e-3 * force:.2f}", "kN", where)


def _limit_or_strength(summary: Mapping[str, Any]) -> Iterator[Headline]:
    """The nearest limit where it is over or to be watched, else a strength, limit or advice.

    What is left to a limit says nothing of a part that tore or was given up.
    """
    near = [row for row in summary.get("risk", ()) if row.get("margin") is not None]
    near.sort(key=lambda row: (row["risk"] in ADVICE, float(row["margin"])))
    alarms = [row for row in near if row["risk"] not in ADVICE and row["verdict"] != "safe"]
    left = near if summary.get("finished") else []
    chosen = [*map(_margin, alarms), *_strengths(summary), *map(_margin, left)]
    yield from chosen[:1]


def _margin(row: Mapping[str, Any]) -> Headline:
    left = 100.0 * float(row["margin"])
    kind = "advised limit" if row["risk"] in ADVICE else "limit"
    label = f"left to the nearest {kind}" if left >= 0.0 else f"beyond the {kind}"
    where = f"{row['risk']}, {row['zone']}, {row['stage']}"
    return Headline(label, f"{abs(left):.0f}", "%", where)


def _strengths(summary: Mapping[str, Any]) -> Iterator[Headline]:
    for stage in summary.get("stages", ()):
        held, load = stage.get("pressurise"), stage.get("top_load")
        if held and held.get("limit") is not None:
            yield Headline(
                "gives way at an inside pressure of", f"{held['limit']:.3f}", "MPa", stage["name"]
            )
        if load and load.get("crush_load") is not None:
            value = f"{1e-3 * load['crush_load']:.3f}"
            yield Headline("folds at a top load of", value, "kN", stage["name"])


def _failures(summary: Mapping[str, Any]) -> Iterator[Failure]:
    failed = [check for check in summary.get("checks", ()) if not check["passed"]]
    for kind in ("trust", "limit", "expectation"):
        for check in failed:
            if check.get("kind", "trust") == kind:
                yield _failure(kind, check)


def _failure(kind: str, check: Mapping[str, Any]) -> Failure:
    name, place = str(check["name"]), str(check.get("place", ""))
    advice = advice_on(name) if kind == "trust" else ("", "", "")
    shown = place if check["computed"] is not None else ""
    return Failure(kind, name, found(check), wanted(check), shown, *advice)


def key_number(stage: Mapping[str, Any]) -> tuple[str, str]:
    """What a stage is for, in one number: its label and its value with unit."""
    held, load = stage.get("pressurise"), stage.get("top_load")
    reached = "had given way, reached" if stage.get("gave_way") else "reached"
    if held:
        limit = held.get("limit")
        label = reached if limit is None else "gives way at"
        return label, f"{held['highest'] if limit is None else limit:.3f} MPa"
    if load:
        crush = load.get("crush_load")
        label = reached if crush is None else "folds at"
        return label, f"{1e-3 * (load['highest'] if crush is None else crush):.3f} kN"
    if stage.get("trim"):
        return "cut at", f"{stage['trim']['height']:.2f} mm"
    if stage.get("neck") and stage["neck"].get("diameter") is not None:
        return "neck", f"{stage['neck']['diameter']:.2f} mm"
    if stage.get("flange"):
        return "flange", f"{stage['flange']['diameter']:.2f} mm"
    if stage.get("peak_pressure") is not None:
        return "pressure", f"{number(stage['peak_pressure'])} MPa"
    return "least", f"{stage['min_thickness']:.3f} mm"
