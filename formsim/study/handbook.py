"""Handbook rules that variants do not keep: of each variant, and of the study as a whole."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

from formsim.case.finding import Finding
from formsim.report.rule_text import finding_text
from formsim.report.words import counted, number

if TYPE_CHECKING:
    from formsim.case.schema import Case

WARNINGS, HANDBOOK = "handbook_warnings", "handbook"
"""Columns of a table: how many rules a variant does not keep, and which."""

MOST_VARIANTS = 8


@dataclass(frozen=True)
class Broken:
    """A rule that a variant does not keep.

    Attributes
    ----------
    variant : its number in the table
    """

    variant: int
    finding: Finding


def advice_on(case: Case) -> tuple[Finding, ...]:
    """What ``formsim check`` warns of."""
    from formsim.results.findings import findings

    return tuple(one for one in findings(case) if one.verdict != "good")


def advice_text(advice: Iterable[Finding]) -> str:
    """Rules that a variant does not keep, a sentence each."""
    return " | ".join(finding_text(asdict(one)) for one in advice)


def handbook_rows(broken: Iterable[Broken]) -> list[dict[str, Any]]:
    """One row for every rule and variant that does not keep it."""
    return [{"variant": one.variant, **asdict(one.finding)} for one in broken]


def read_handbook(text: str) -> tuple[Broken, ...]:
    """The same rows read back from their comma-separated text.

    Raises
    ------
    KeyError, TypeError, ValueError, csv.Error : it is damaged
    """
    names = [field.name for field in fields(Finding)]
    return tuple(
        Broken(int(row["variant"]), _finding({name: row[name] for name in names}))
        for row in csv.DictReader(io.StringIO(text))
    )


def _finding(row: Mapping[str, Any]) -> Finding:
    return Finding(**{**row, "value": float(row["value"])})


def handbook_lines(broken: Iterable[Broken], count: int) -> list[str]:
    """Every rule that some variants do not keep, with their values, in a sentence each.

    Parameters
    ----------
    count : of all variants
    """
    found: dict[tuple[str, str, str], list[Broken]] = {}
    for one in broken:
        rule = one.finding
        found.setdefault((rule.verdict, rule.rule, rule.consequence), []).append(one)
    return [_told(ones, count) for ones in found.values()]


def _told(ones: Sequence[Broken], count: int) -> str:
    """One rule and the variants that do not keep it."""
    rule = ones[0].finding
    ends = [pick(one.finding.value for one in ones) for pick in (min, max)]
    value = " to ".join(dict.fromkeys(map(number, ends)))
    limits = {one.finding.limit for one in ones}
    usual = rule.limit if len(limits) == 1 else "another in each variant"
    which = "every variant"
    if len(ones) < count:
        shown = ", ".join(str(one.variant) for one in ones[:MOST_VARIANTS])
        more = ", ..." if len(ones) > MOST_VARIANTS else ""
        which = f"{counted(len(ones), 'variant')} ({shown}{more})"
    said = f"{rule.verdict}: {rule.rule} {value} (usual {usual})"
    return f"{said} in {which}: {rule.consequence}"
