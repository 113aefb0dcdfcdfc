"""What a case will do, before anything is solved: all that ``formsim check`` tells."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict

from formsim.case.describe import describe
from formsim.case.schema import Case
from formsim.report.drawn_tools import drawings_text
from formsim.report.earing import case_ears_text
from formsim.report.given_limits import given_limits_text
from formsim.report.preflight import limits_text, rules_text, stages_text, values_text
from formsim.report.rule_text import doomed_text
from formsim.results.findings import findings
from formsim.results.foreseen import foreseen_limits
from formsim.stages.drawn_check import drawn_tools


def check_texts(case: Case, *, full: bool) -> Iterator[str]:
    """Stages, drawn tools, ears, handbook rules, limits, with ``full`` every value, a verdict."""
    drawn = drawn_tools(case)
    yield stages_text(case)
    if drawn:
        yield drawings_text(drawn)
    if told := case_ears_text(case):
        yield told
    found = findings(case)
    if found:
        yield rules_text(found)
    if told := given_limits_text(case):
        yield told
    limits = foreseen_limits(case)
    if limits:
        yield limits_text(limits)
    if full:
        yield values_text(describe(case, full=True))
    doomed = doomed_text(asdict(finding) for finding in found)
    yield f"The case can be run{f'; {doomed}, see above' if doomed else ''}."
