"""How much the answers of a case hang on the flow curve it is given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from formsim.report.lines import folded, table

BESIDE = (
    "Used is the number over its limit at the worst place of the part, 1 on the limit. It hangs far"
    " more on the law than the thickness does: strains beyond the uniform one are extrapolated"
)


@dataclass(frozen=True)
class Row:
    """One stage with one law; thickness and height in mm, force in N."""

    law: str
    stage: str
    thickness: float
    zone: str
    force: float
    tool: str
    height: float


@dataclass(frozen=True)
class RiskRow:
    """The worst place of one risk with one law; ``used`` is the share of the limit, 1 on it."""

    risk: str
    law: str
    used: float
    verdict: str
    stage: str
    zone: str


@dataclass(frozen=True)
class Answers:
    """What a case answers with each of several laws.

    Attributes
    ----------
    mesh : columns and layers, in words
    rows : answers by law, stage after stage
    risks : the worst place of every risk that has a limit, by law
    failed : laws with which the case did not finish, and why
    """

    mesh: str
    rows: Sequence[Row]
    risks: Sequence[RiskRow]
    failed: Sequence[tuple[str, str]]


def choice_text(answers: Answers) -> str:
    """Answers by stage and law with their spread, then what is used of every limit."""
    rows = answers.rows
    head = (
        "stage",
        "law",
        "least t\n[mm]",
        "zone",
        "largest force\n[kN]",
        "of tool",
        "height\n[mm]",
    )
    lines: list[tuple[str, ...]] = []
    for stage in dict.fromkeys(row.stage for row in rows):
        of_stage = [row for row in rows if row.stage == stage]
        lines += [_line(row) for row in of_stage]
        if len(of_stage) > 1:
            lines.append(_spread(stage, of_stage))
    said = [f"The case with each law on a mesh of {answers.mesh}:", ""]
    if lines:
        said.append(table(head, lines, left=(0, 1, 3, 5), widest={0: 18}))
    if rows:
        said += _risk_lines(answers.risks)
    for law, why in answers.failed:
        said += folded(f"{law}: not finished: {why}")
    return "\n".join(said)


def _line(row: Row) -> tuple[str, ...]:
    return (
        row.stage,
        row.law,
        f"{row.thickness:.4f}",
        row.zone,
        f"{1e-3 * row.force:.3f}",
        row.tool,
        f"{row.height:.2f}",
    )


def _spread(stage: str, rows: Sequence[Row]) -> tuple[str, ...]:
    def share(values: list[float]) -> str:
        mean = sum(values) / len(values)
        return f"{100.0 * (max(values) - min(values)) / mean:.1f} %" if mean > 0.0 else "-"

    return (
        stage,
        "spread",
        share([row.thickness for row in rows]),
        "",
        share([row.force for row in rows]),
        "",
        share([row.height for row in rows]),
    )


def _risk_lines(rows: Sequence[RiskRow]) -> list[str]:
    """What is used of every limit, law by law; a sentence where there is no limit."""
    if not rows:
        return ["", *folded("No risk of this case has a limit; [limits] takes them.")]
    lines: list[tuple[str, ...]] = []
    for risk in dict.fromkeys(row.risk for row in rows):
        of_risk = [row for row in rows if row.risk == risk]
        lines += [
            (row.risk, row.law, f"{row.used:.3f}", row.verdict, row.stage, row.zone)
            for row in of_risk
        ]
        if len(of_risk) > 1:
            lines.append((risk, "spread", *_from_to(of_risk), "", ""))
    head = ("risk", "law", "used of\nits limit", "verdict", "stage", "zone")
    shown = table(head, lines, left=(0, 1, 3, 4, 5), widest={4: 18})
    return ["", "Risks with each law, at their worst place:", "", shown, *folded(f"{BESIDE}.")]


def _from_to(rows: Sequence[RiskRow]) -> tuple[str, str]:
    """Least and largest share, and whether all laws come to the same verdict."""
    used = [row.used for row in rows]
    alike = len({row.verdict for row in rows}) == 1
    words = "the same verdict" if alike else "IT HANGS ON THE LAW"
    return f"{min(used):.3f} to {max(used):.3f}", words
