"""Handbook rules in words; apart from the verdict, so that studies need no solver to tell them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from formsim.report.lines import folded
from formsim.report.words import counted, number


def finding_lines(finding: Mapping[str, Any]) -> list[str]:
    """One handbook rule that the case does not keep, in lines."""
    return folded(finding_text(finding))


def finding_text(finding: Mapping[str, Any]) -> str:
    """One handbook rule that the case does not keep, in a sentence."""
    return (
        f"{finding['verdict']}: {finding['rule']} {number(finding['value'])}"
        f" (usual {finding['limit']}): {finding['consequence']}"
    )


def doomed_text(findings: Iterable[Mapping[str, Any]]) -> str:
    """How many handbook rules say that the case will fail or wrinkle; empty for none."""
    verdicts = [str(finding["verdict"]) for finding in findings]
    said = [
        f"{counted(verdicts.count(verdict), 'handbook rule')}"
        f" {'says' if verdicts.count(verdict) == 1 else 'say'} it {verdict}"
        for verdict in ("will fail", "will wrinkle")
        if verdict in verdicts
    ]
    return " and ".join(said)
