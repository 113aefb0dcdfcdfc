"""One result of a comparison, read from its folder."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from string import ascii_uppercase
from typing import Any

from formsim.case.describe import Row, describe
from formsim.case.load import load_case
from formsim.errors import FormsimError, StoreError
from formsim.report.page_top import top
from formsim.results import store
from formsim.results.tables import Table

LEAST, MOST = 2, 20
"""Results a comparison takes."""


_WAIT = "wait until the run has ended, or leave this result out"
_MEND = "leave this result out, or mend its case and run it again; formsim show RESULT tells more"


@dataclass(frozen=True)
class Side:
    """One result of a comparison.

    Attributes
    ----------
    mark : its letter in tables and figures
    name : what it is called, its folder
    summary : its ``summary.json``
    inputs : every value of its case; empty where the case cannot be read
    thickness, forces, paths : its tables; None where there is none
    lacks : sentences on what could not be read
    """

    mark: str
    name: str
    summary: Mapping[str, Any]
    inputs: tuple[Row, ...] = ()
    thickness: Table | None = None
    forces: Table | None = None
    paths: Table | None = None
    lacks: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """Letter and name."""
        return f"{self.mark} {self.name}"

    @property
    def finished(self) -> bool:
        """Whether all its stages were made."""
        return bool(self.summary.get("finished"))

    @property
    def passed(self) -> bool:
        """Whether it is finished and no check failed, nor one of the result it starts from."""
        return self.finished and bool(self.summary.get("passed")) and not self.unsound

    @property
    def unsound(self) -> bool:
        """Whether it starts from a result that did not pass."""
        return bool((self.summary.get("start") or {}).get("failed"))

    def begun(self) -> dict[tuple[str, str], Mapping[str, Any]]:
        """Stages by name and kind in their order, also one that was not made to its end."""
        return {(str(stage["name"]), str(stage["kind"])): stage for stage in self.summary["stages"]}

    def stages(self) -> dict[tuple[str, str], Mapping[str, Any]]:
        """Stages made to their end by name and kind, in their order."""
        return {key: stage for key, stage in self.begun().items() if stage["complete"]}


def load_sides(folders: Sequence[Path], faults: Sequence[StoreError] = ()) -> tuple[Side, ...]:
    """Results of a comparison in the given order; ``faults`` are told with those found here.

    Raises
    ------
    StoreError : too few or too many, one given twice, or folders that hold no result that can be
        compared; all of these at once
    """
    summaries, found = {}, [*_too_many(folders), *_twice(folders)]
    for folder in dict.fromkeys(folders):
        try:
            summaries[folder] = _summary(folder)
        except StoreError as error:
            found.append(error)
    _raise([*(found or _empty(summaries)), *faults])
    names = names_of(folders)
    return tuple(
        _side(mark, name, folder, summaries[folder])
        for mark, name, folder in zip(ascii_uppercase, names, folders, strict=False)
    )


def _too_many(folders: Sequence[Path]) -> list[StoreError]:
    if LEAST <= len(folders) <= MOST:
        return []
    message = f"{len(folders)} given: a comparison takes {LEAST} to {MOST} results"
    return [StoreError(message, hint="name the folders of finished runs")]


def _twice(folders: Sequence[Path]) -> list[StoreError]:
    real = [folder.resolve() for folder in folders]
    again = [folder for k, folder in enumerate(folders) if real[k] in real[:k]]
    return [
        StoreError(f"{folder} is given twice", hint="name every result once") for folder in again
    ]


def _summary(folder: Path) -> Mapping[str, Any]:
    """Summary of a result whose stages are told as this version tells them."""
    summary = store.load_summary(folder)
    try:
        whole = all({"name", "kind", "complete"} <= stage.keys() for stage in summary["stages"])
        top(summary)
    except (AttributeError, KeyError, TypeError, ValueError):
        whole = False
    if not whole:
        message = f"the summary in {folder} is damaged: its stages or checks cannot be read"
        raise StoreError(message, hint="run the case again")
    return summary


def _empty(summaries: Mapping[Path, Mapping[str, Any]]) -> list[StoreError]:
    """Results that came to no stage, where they leave fewer than two to compare."""
    none = {folder: summary for folder, summary in summaries.items() if not summary["stages"]}
    if len(summaries) - len(none) >= LEAST:
        return []
    return [
        StoreError(
            f"{folder} has no stage, so nothing to compare: "
            + str(summary.get("failure") or "none was begun"),
            hint=_WAIT if summary.get("ended") == "running" else _MEND,
        )
        for folder, summary in none.items()
    ]


def _raise(faults: Sequence[StoreError]) -> None:
    """Raise all faults at once; nothing where there are none."""
    if len(faults) == 1:
        raise faults[0]
    if faults:
        told = "\n".join(f"  - {error}" for error in faults)
        hints = "; ".join(dict.fromkeys(error.hint for error in faults))
        message = f"{len(faults)} faults\n{told}"
        raise StoreError(message, hint=hints)


def names_of(folders: Sequence[Path]) -> list[str]:
    """Name of every folder, longer where two have the same."""
    real = [folder.resolve() for folder in folders]
    names = [folder.name for folder in real]
    if len(set(names)) == len(names):
        return names
    longer = [f"{folder.parent.name}/{folder.name}" for folder in real]
    return longer if len(set(longer)) == len(longer) else [folder.as_posix() for folder in real]


def _side(mark: str, name: str, folder: Path, summary: Mapping[str, Any]) -> Side:
    lacks: list[str] = []

    def read(load: Callable[[Path], Table], what: str) -> Table | None:
        try:
            return load(folder)
        except StoreError as error:
            told = str(error).removeprefix(f"there is no result in {folder}: ")
            lacks.append(f"{mark} has no {what}: {told.replace(f'{folder}/', '')}.")
            return None

    try:
        inputs = tuple(describe(load_case(store.case_file(folder)), full=True))
    except FormsimError as error:
        told = " ".join(str(error).replace(f"{folder}/", "").split())
        lacks.append(f"The inputs of {mark} are unknown, its case cannot be read again: {told}")
        inputs = ()
    return Side(
        mark,
        name,
        summary,
        inputs,
        read(store.load_thickness, "thickness table"),
        read(store.load_forces, "force table"),
        read(store.load_paths, "strain paths") if summary.get("risk") else None,
        tuple(lacks),
    )
