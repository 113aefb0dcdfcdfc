"""The answer of a search solved once more on a finer mesh, to see whether it still holds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from formsim.case.load import parse_case
from formsim.case.schema import COLUMNS, Case
from formsim.case.study import build_study
from formsim.errors import FormsimError
from formsim.stages.grading import grade, with_columns
from formsim.study.asked import Asked
from formsim.study.conduct import Watch, conduct
from formsim.study.engine import Engine
from formsim.study.folder import open_study
from formsim.study.plan import Plan, Variant, plan_study
from formsim.study.sought import Sought, study_tables
from formsim.study.trial import Trial, trials_of

FINER = 1.5
"""Columns of the finer mesh over those of the answer."""


@dataclass(frozen=True)
class Confirmed:
    """An answer on a finer mesh.

    Attributes
    ----------
    own, columns : of the mesh of the answer and of the finer one
    trial : what the answer comes to there
    """

    own: int
    columns: int
    trial: Trial


def finer(columns: int) -> int:
    """Columns of the finer mesh."""
    return round(FINER * columns)


def columns_of(plan: Plan, variant: Variant) -> int:
    """Columns of the mesh of a variant that can be run."""
    return grade(_case_of(plan, variant)).columns


def _case_of(plan: Plan, variant: Variant) -> Case:
    return parse_case(variant.text, f"variant {variant.number}", plan.folder)


def check_finer(sought: Sought, case: Case) -> None:
    """Refuse a search whose answer cannot be solved on a finer mesh.

    Raises
    ------
    FormsimError : why it cannot
    """
    keys = [key for one in sought.changes for key in one.keys]
    columns = finer(grade(case).columns) if case.earlier is None else 0
    why = ""
    if case.earlier is not None:
        why = "the case starts from a result and keeps its mesh"
    elif any(key == "mesh" or key.startswith("mesh.") for key in keys):
        why = "the mesh itself is changed by --change"
    elif columns > COLUMNS.high:
        why = f"{columns} columns are more than the {COLUMNS.high} a mesh may have"
    if why:
        message = f"the answer cannot be confirmed on a finer mesh: {why}"
        raise FormsimError(message, hint="leave out --confirm")


def confirm(
    sought: Sought, best: Trial, plan: Plan, into: Path, engine: Engine, watch: Watch | None
) -> Confirmed:
    """Solve the best variant of a search once more, its columns in the same proportions.

    Parameters
    ----------
    plan : of the search
    into : folder of the study this is
    """
    case = _case_of(plan, plan.variants[best.variant - 1])
    own = grade(case).columns
    mesh = with_columns(case, finer(own)).mesh
    tables = study_tables(sought, [best.numbers])
    sizes = {"mesh.columns": mesh.columns, "mesh.rim_finer": mesh.rim_finer}
    tables["vary"] += [
        {"key": [key], "values": [size]} for key, size in sizes.items() if size is not None
    ]
    asked = Asked(build_study(tables, "seek"), tables, sought.case, "seek")
    planned = plan_study(asked.study, sought.case, "seek")
    folder = open_study(into)
    table = conduct(planned, folder, engine, asked.seen_from(into), watch)
    (trial,) = trials_of(sought, planned, table, [best.numbers])
    return Confirmed(own, finer(own), trial)
