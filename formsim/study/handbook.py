"""Handbook rules that variants do not keep: in their rows, and as a whole."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from formsim.report.words import counted

if TYPE_CHECKING:
    from formsim.case.schema import Case

WARNINGS, HANDBOOK = "handbook_warnings", "handbook"
"""Columns of a table: how many rules a variant does not keep, and which."""

SEPARATOR = " | "
MOST_VARIANTS = 8
_FORM = re.compile(r"(.+?) (\S+) \(usual (.+?)\): (.+)")


def advice_on(case: Case) -> tuple[str, ...]:
    """What ``formsim check`` warns of, each rule in a sentence."""
    from formsim.report.verdict import finding_text
    from formsim.results.findings import findings

    return tuple(finding_text(asdict(one)) for one in findings(case) if one.verdict != "good")


def handbook_lines(columns: Mapping[str, Sequence[Any]]) -> list[str]:
    """Every rule that some variants do not keep, with their values, in a sentence each."""
    rows = zip(columns["variant"], columns.get(HANDBOOK, ()), strict=False)
    found: dict[tuple[str, str], list[tuple[int, str, str]]] = {}
    for variant, text in rows:
        for one in filter(None, str(text or "").split(SEPARATOR)):
            if parts := _FORM.fullmatch(one):
                rule, value, limit, what = parts.groups()
                found.setdefault((rule, what), []).append((variant, value, limit))
    count = len(columns["variant"])
    return [_told(rule, what, ones, count) for (rule, what), ones in found.items()]


def _told(rule: str, what: str, ones: Sequence[tuple[int, str, str]], count: int) -> str:
    ends = sorted({value for _, value, _ in ones}, key=float)
    value = ends[0] if len(ends) == 1 else f"{ends[0]} to {ends[-1]}"
    limits = {limit for _, _, limit in ones}
    usual = limits.pop() if len(limits) == 1 else "another in each variant"
    which = "every variant"
    if len(ones) < count:
        shown = ", ".join(str(variant) for variant, _, _ in ones[:MOST_VARIANTS])
        more = ", ..." if len(ones) > MOST_VARIANTS else ""
        which = f"{counted(len(ones), 'variant')} ({shown}{more})"
    return f"{rule} {value} (usual {usual}) in {which}: {what}"
