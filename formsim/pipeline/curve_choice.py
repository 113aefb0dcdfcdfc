"""One case run with each of several flow curves: how much the answer hangs on the choice."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from formsim.case.card import MaterialCard
from formsim.case.card_file import with_card
from formsim.case.lines import key_lines
from formsim.case.load import build_case
from formsim.case.schema import Case
from formsim.case.toml_file import tables_of, text_of
from formsim.errors import ConvergenceError, RefusedError
from formsim.pipeline.run import run_case
from formsim.pipeline.tensile import Evaluated
from formsim.report.choice_table import Answers, RiskRow, Row
from formsim.results.risk import Risk
from formsim.stages.grading import grade

LIMITS = ("forming_limit", "damage", "cut_edge")
"""Limits a material card may have."""


def case_with(path: Path, card: MaterialCard, columns: int | None = None) -> Case:
    """A case file with a card in the place of its material, and a mesh of so many columns.

    Limits of the case and of its material go before those of the card.

    Raises
    ------
    CaseError : with the faults of the case
    """
    text = text_of(path)
    raw = tables_of(text, path.name)
    sheet = raw.get("sheet")
    if isinstance(sheet, dict):
        plain = card.model_dump(exclude_none=True)
        raw = {**raw, "sheet": {**sheet, "material": plain | _limits_of(raw, path.parent)}}
    mesh = raw.get("mesh", {})
    if columns is not None and isinstance(mesh, dict):
        raw = {**raw, "mesh": {**mesh, "columns": columns}}
    return build_case(raw, path.name, key_lines(text), path.parent)


def _limits_of(raw: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Limits in the material of a raw case, also in a card file it names."""
    material = with_card(raw, folder)["sheet"].get("material")
    held = material if isinstance(material, Mapping) else {}
    return {key: held[key] for key in LIMITS if key in held}


def cases_with_laws(path: Path, done: Evaluated, columns: int | None = None) -> dict[str, Case]:
    """A case file with every fitted law, so that its faults are told before a card is written."""
    return {fit.kind: case_with(path, done.card_with(fit), columns) for fit in done.ranking.fits}


def answers(cases: Mapping[str, Case], begun: Callable[[str], None]) -> Answers:
    """Run a case with every law: its answers and risks, and why some did not finish.

    Parameters
    ----------
    begun : is told every law before its run
    """
    rows, risks, failed = list[Row](), list[RiskRow](), list[tuple[str, str]]()
    for law, case in cases.items():
        begun(law)
        try:
            run = run_case(case)
        except (ConvergenceError, RefusedError) as error:
            failed.append((law, str(error)))
            continue
        rows += [_row(law, stage) for stage in run.summary["stages"]]
        risks += worst_places(law, run.risks.rows)
    mesh = grade(next(iter(cases.values()))).words
    return Answers(mesh, rows, risks, failed)


def worst_places(law: str, rows: Sequence[Risk]) -> Iterator[RiskRow]:
    """The worst place of every risk that has a limit, with the worst verdict of the risk."""
    limited = [row for row in rows if row.margin is not None]
    for risk in dict.fromkeys(row.risk for row in limited):
        worst = min(
            (row for row in limited if row.risk == risk),
            key=lambda row: (row.verdict != "over", row.margin),
        )
        used = 1.0 - (worst.margin or 0.0)
        yield RiskRow(risk, law, used, worst.verdict, worst.stage, worst.zone)


def _row(law: str, stage: Mapping[str, Any]) -> Row:
    forces: Mapping[str, float] = stage["peak_force"]
    # The punch bears what the press must give; a die bears the holder too.
    largest = max(forces, key=lambda name: forces[name], default="")
    tool = "punch" if "punch" in forces else largest
    return Row(
        law,
        stage["name"],
        stage["min_thickness"],
        stage["min_thickness_zone"],
        forces.get(tool, 0.0),
        tool,
        stage["height"],
    )
