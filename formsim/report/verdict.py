"""The verdict on a run in words: what went wrong, what it means and what to try."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from formsim.report.advice import advice_on
from formsim.report.error_table import bar_lines
from formsim.report.lines import folded
from formsim.report.risk_table import over_lines, shown
from formsim.report.rule_text import doomed_text, finding_lines
from formsim.report.words import counted, number, wanted
from formsim.results.endings import ENDINGS

_ENDINGS = {
    **ENDINGS,
    "interrupted": "INTERRUPTED",
    "refused": "STAGE REFUSED",
    "no equilibrium": "NOT FINISHED: no equilibrium found",
    "running": "NOT FINISHED",
}
LAST_STATE = "The numbers below are those of the last accepted state; no checks were made."


def verdict_text(summary: Mapping[str, Any]) -> str:
    """Verdict on a run: how it ended, failed checks by kind, what the case was warned of."""
    lines = list(_ending(summary))
    for kind, telling in _KINDS.items():
        failed = [
            check
            for check in summary.get("checks", ())
            if not check["passed"] and check.get("kind", "trust") == kind
        ]
        if failed:
            lines += telling(failed)
    lines += [text for finding in summary.get("findings", ()) for text in finding_lines(finding)]
    for text in over_lines(summary):
        lines += folded(text)
    for text in bar_lines(summary):
        lines += folded(text)
    if not summary.get("limits", {}).get("max_thinning_percent"):
        lines.append("thinning: no limit given")
    for text in summary.get("warnings", ()):
        lines += folded(f"warning: {text}")
    return "\n".join(lines)


def _ending(summary: Mapping[str, Any]) -> Iterator[str]:
    said = ending(summary)
    yield from folded(said.verdict)
    if said.hint:
        yield from folded(f"try: {said.hint}", "  ")
    if said.remark:
        yield said.remark


class Ending(NamedTuple):
    """How a run ended in a sentence, what to try then, and what the numbers are."""

    verdict: str
    hint: str = ""
    remark: str = ""


def ending(summary: Mapping[str, Any]) -> Ending:
    """How a run ended, and how many checks failed."""
    checks = summary.get("checks", ())
    if summary.get("failure"):
        word = _ENDINGS.get(str(summary.get("ended", "")), "NOT FINISHED")
        remark = LAST_STATE if summary.get("stages") else ""
        return Ending(f"{word}: {summary['failure']}", str(summary.get("hint", "")), remark)
    if not checks:
        return Ending("no checks were made")
    bad = sum(not check["passed"] for check in checks)
    doomed = [told] if (told := doomed_text(summary.get("findings", ()))) else []
    if bad:
        word, said = f"NOT PASSED: {bad} of {counted(len(checks), 'check')} failed", doomed
    else:
        word = f"all {len(checks)} checks ok" if len(checks) > 1 else "the check is ok"
        said = [*doomed, *_beside(summary)]
    return Ending(f"{word}; {', '.join(said)}, see below" if said else word)


def _beside(summary: Mapping[str, Any]) -> Iterator[str]:
    """How many places are beyond a limit of physics or to be watched, which fails no check."""
    if (summary.get("start") or {}).get("failed"):
        yield "but the result it starts from did not pass"
    over = len(list(over_lines(summary)))
    if over:
        yield f"{over} over a limit of physics"
    rows = [*shown(summary.get("risk", ())), *summary.get("findings", ())]
    watched = sum(row["verdict"] == "watch" for row in rows)
    if watched:
        yield f"{watched} to watch"


def _expectations(failed: Sequence[Mapping[str, Any]]) -> list[str]:
    return [f"{counted(len(failed), 'expectation')} of the case missed:", *_named(failed)]


def _limits(failed: Sequence[Mapping[str, Any]]) -> list[str]:
    return [f"{counted(len(failed), 'limit')} of the case not kept:", *_named(failed)]


def _trust(failed: Sequence[Mapping[str, Any]]) -> list[str]:
    lines = [f"{counted(len(failed), 'trust check')} failed; see what that means for the numbers:"]
    for check in failed:
        advice = advice_on(str(check["name"]))
        lines += _named([check])
        lines += folded(f"cause: {advice.cause}", "    ")
        if check.get("place"):
            lines += folded(f"place: {check['place']}", "    ")
        lines += folded(f"consequence: {advice.consequence}", "    ")
        lines += folded(f"try: {advice.remedy}", "    ")
    return lines


def _named(failed: Sequence[Mapping[str, Any]]) -> list[str]:
    return [
        line
        for check in failed
        for line in folded(f"{check['name']}: {found(check)}, wanted {wanted(check)}", "  ")
    ]


def found(check: Mapping[str, Any]) -> str:
    """Number of a check, or why there is none."""
    if check["computed"] is None:
        return f"no number, {check['place']}"
    return number(check["computed"])


_KINDS = {"trust": _trust, "limit": _limits, "expectation": _expectations}
