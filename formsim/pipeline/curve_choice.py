"""One case run with each of several flow curves: how much the answer hangs on the choice."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from formsim.case.card import MaterialCard
from formsim.case.lines import key_lines
from formsim.case.load import build_case
from formsim.case.schema import Case
from formsim.case.toml_file import tables_of, text_of
from formsim.errors import ConvergenceError, RefusedError
from formsim.pipeline.run import run_case
from formsim.pipeline.tensile import Evaluated
from formsim.report.choice_table import Row
from formsim.stages.grading import grade


def case_with(path: Path, card: MaterialCard, columns: int | None = None) -> Case:
    """A case file with a card in the place of its material, and a mesh of so many columns.

    Raises
    ------
    CaseError : with the faults of the case
    """
    text = text_of(path)
    raw = tables_of(text, path.name)
    sheet = raw.get("sheet")
    if isinstance(sheet, dict):
        plain = card.model_dump(exclude_none=True)
        raw = {**raw, "sheet": {**sheet, "material": plain}}
    mesh = raw.get("mesh", {})
    if columns is not None and isinstance(mesh, dict):
        raw = {**raw, "mesh": {**mesh, "columns": columns}}
    return build_case(raw, path.name, key_lines(text), path.parent)


def cases_with_laws(path: Path, done: Evaluated, columns: int | None = None) -> dict[str, Case]:
    """A case file with every fitted law, so that its faults are told before a card is written."""
    return {fit.kind: case_with(path, done.card_with(fit), columns) for fit in done.ranking.fits}


def answers(
    cases: Mapping[str, Case], begun: Callable[[str], None]
) -> tuple[str, list[Row], list[tuple[str, str]]]:
    """Run a case with every law: its mesh in words, its answers, and why some did not finish.

    Parameters
    ----------
    begun : is told every law before its run
    """
    rows, failed = list[Row](), list[tuple[str, str]]()
    for law, case in cases.items():
        begun(law)
        found, why = answer(law, case)
        rows += found
        failed += [(law, why)] if why else []
    return grade(next(iter(cases.values()))).words, rows, failed


def answer(law: str, case: Case) -> tuple[list[Row], str]:
    """Run a case: its answers stage by stage, and why it did not finish; nothing is written."""
    try:
        run = run_case(case)
    except (ConvergenceError, RefusedError) as error:
        return [], str(error)
    return [_row(law, stage) for stage in run.summary["stages"]], ""


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
