"""A study as it lies in its folder, read back."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formsim.case.study import Study, Vary, build_study
from formsim.case.toml_file import tables_of
from formsim.errors import CaseError, StoreError
from formsim.study.findings import MARGIN
from formsim.study.folder import JOB, RULES, STUDY, TABLE, Job, StudyFolder, read_job
from formsim.study.handbook import HANDBOOK, Broken, read_handbook
from formsim.study.table import TEXTS, StudyTable
from formsim.study.values import named

_WHOLE = re.compile(r"[+-]?\d+")
_AGAIN = "run formsim sweep again: what is solved is not solved twice"


@dataclass(frozen=True)
class Kept:
    """A study read back.

    Attributes
    ----------
    text : of the study file, as kept
    """

    folder: StudyFolder
    study: Study
    job: Job
    table: StudyTable
    text: str


def is_study_folder(path: Path) -> bool:
    """Whether a folder is that of a study."""
    return (path / JOB).is_file()


def read_study(path: Path) -> Kept:
    """The study in a folder, with its table as far as it has come.

    Raises
    ------
    StoreError : there is none, another version made it, or a file of it is missing or damaged
    """
    if not is_study_folder(path):
        message = f"{path} holds no study: there is no {JOB}"
        raise StoreError(message, hint="name a folder that formsim sweep or formsim seek has made")
    folder, job = read_job(path)
    text = folder.text(STUDY)
    try:
        study = build_study(tables_of(text, STUDY), STUDY)
        broken = read_handbook(folder.text(RULES)) if (path / RULES).is_file() else ()
        table = table_from(folder.text(TABLE), study, len(job.wanted), broken)
    except (CaseError, csv.Error, KeyError, TypeError, ValueError) as error:
        message = f"the study in {path} is damaged: {type(error).__name__}: {error}"
        raise StoreError(message, hint=_AGAIN) from None
    return Kept(folder, study, job, table, text)


def table_from(
    text: str, study: Study, measures: int, broken: tuple[Broken, ...] = ()
) -> StudyTable:
    """Table of a study from its comma-separated text.

    Parameters
    ----------
    measures : how many columns of measures stand behind the inputs
    broken : handbook rules that its variants do not keep

    Raises
    ------
    KeyError, ValueError, csv.Error : columns are missing, or a row is too short or too long
    """
    head, *rows = csv.reader(io.StringIO(text))
    if not rows:
        message = "it has no rows"
        raise ValueError(message)
    columns = dict(zip(head, map(list, zip(*rows, strict=True)), strict=True))
    first, count = head.index("verdict") + 1, len(study.vary)
    inputs, found = head[first : first + count], head[first + count : first + count + measures]
    if head[first + count + measures] != MARGIN or not {*TEXTS} - {HANDBOOK} <= {*head}:
        message = "its table has other columns than its inputs and measures"
        raise ValueError(message)
    words = {
        name for name, one in zip(inputs, study.vary, strict=True) if _text(one, columns[name])
    }
    read = {
        name: cells if name in TEXTS else _read(cells, plain=name in words)
        for name, cells in columns.items()
    }
    return StudyTable(read, tuple(inputs), tuple(found), broken)


def _text(vary: Vary, cells: Sequence[str]) -> bool:
    """Whether the values of an input are texts or tables, though they may look like numbers."""
    levels = {str(named(one)) for one in vary.levels if isinstance(one, str | Mapping)}
    return not levels.isdisjoint(cells)


def _read(cells: Sequence[str], *, plain: bool) -> list[Any]:
    """Values of a column: numbers where all are, else texts; None for none."""
    given = [cell for cell in cells if cell]
    kind: type[int] | type[float] | type[str] = str
    if given and not plain and all(map(_is_number, given)):
        kind = int if all(map(_WHOLE.fullmatch, given)) else float
    return [kind(cell) if cell else None for cell in cells]


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True
