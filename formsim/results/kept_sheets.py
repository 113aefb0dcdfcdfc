"""Sheets a result keeps for cases that go on from it, with what was done to them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from formsim.case.earlier import Earlier
from formsim.errors import StoreError
from formsim.layout import BEFORE, sheet_file
from formsim.results.files import check_format, writing
from formsim.results.history import History
from formsim.results.passed_on import (
    PassedOn,
    read_done,
    read_histories,
    read_sheet,
    write_histories,
    write_sheet,
)
from formsim.results.store import Folder
from formsim.solver.body import Body
from formsim.solver.state import State


def save_passed_on(
    folder: Folder, stage: int, body: Body, state: State, blank_volume: float, done: History
) -> Path:
    """Write the sheet as a stage passes it on, for cases that go on from it.

    Parameters
    ----------
    stage : its number, from 0
    blank_volume : of the metal before the first stage of the line [mm3]
    done : what the stage did to the sheet
    """
    path = folder.path / sheet_file(stage, done.stage)
    with writing(path):
        path.parent.mkdir(exist_ok=True)
        write_sheet(path, PassedOn(body, state, blank_volume, done, folder.stamp.notes()))
    return path


def save_histories(folder: Folder, before: Sequence[History]) -> None:
    """Keep what the stages before this case did to its sheet, so that no other folder is needed."""
    path = folder.path / BEFORE
    if before:
        with writing(path):
            path.parent.mkdir(exist_ok=True)
            write_histories(path, before, folder.stamp.notes())


def load_histories(earlier: Earlier) -> tuple[History, ...]:
    """What every stage did to the sheet a case goes on from, tests up to a limit left out.

    Raises
    ------
    StoreError : a file is missing or damaged
    """
    first = earlier.folder / BEFORE
    own = tuple(read_done(earlier.folder / name) for name in earlier.sheets)
    return (*read_histories(first), *own) if first.is_file() else own


def load_passed_on(earlier: Earlier) -> PassedOn:
    """Sheet a case goes on from.

    Raises
    ------
    StoreError : the file is missing, damaged, or belongs to another case
    """
    made = read_sheet(earlier.file)
    check_format(earlier.file, made.notes.get("format"))
    if made.notes.get("digest") != earlier.digest:
        message = f"{earlier.file} belongs to another case than the result it lies in"
        raise StoreError(message, hint="run the case of that result again")
    return made
