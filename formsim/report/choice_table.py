"""How much the answers of a case hang on the flow curve it is given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from formsim.report.lines import folded, table


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


def choice_text(mesh: str, rows: Sequence[Row], failed: Sequence[tuple[str, str]]) -> str:
    """Answers by stage and law, and their spread.

    Parameters
    ----------
    mesh : columns and layers, in words
    failed : laws with which the case did not finish, and why
    """
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
    said = [f"The case with each law on a mesh of {mesh}:", ""]
    if lines:
        said.append(table(head, lines, left=(0, 1, 3, 5), widest={0: 18}))
    for law, why in failed:
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
