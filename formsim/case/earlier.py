"""A result an earlier run has left, for a case that goes on from it: what it was made of."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from formsim.case.limits import Limits
from formsim.case.sheet import Sheet
from formsim.case.stage import Stage, brought_to_limit
from formsim.case.start import Cup, Result, Tube
from formsim.errors import CaseError, Fault
from formsim.layout import CASE, FORMAT, SUMMARY, sheet_file
from formsim.version import VERSION

if TYPE_CHECKING:
    from formsim.case.schema import Case, Mesh

_KNOWN = "expected the folder of a finished result, relative to the case file"
_AGAIN = "run its case again"


@dataclass(frozen=True)
class Earlier:
    """What a result was made of, up to the stage a case goes on from.

    Attributes
    ----------
    folder : of the result
    folders : of it and of all results it goes back to itself
    digest : of its case
    sheet, mesh : of the line, from its blank on
    start : tube or cup the line began with; None for a flat blank
    stages : all that were made of the sheet, the last one the one to go on from
    height : of the body after that one, None where its summary does not tell [mm]
    sheets : files with the sheet as the stages of that result passed it on, below its folder
    limits : of its case
    failed : names of the checks it did not pass; none where it was not judged
    gave_way : stage and pressure at which its body has given way; empty where it is sound
    """

    folder: Path
    folders: tuple[Path, ...]
    digest: str
    sheet: Sheet
    mesh: Mesh
    start: Tube | Cup | None
    stages: tuple[Stage, ...]
    height: float | None
    sheets: tuple[str, ...]
    limits: Limits
    failed: tuple[str, ...]
    gave_way: str

    @property
    def after(self) -> str:
        """Name of the stage the case goes on from."""
        return self.stages[-1].name

    @property
    def file(self) -> Path:
        """File with the sheet as that stage passes it on."""
        return self.folder / self.sheets[-1]


class UnusableError(Exception):
    """A result that no case can go on from, as a fault of the case."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


def earlier_result(
    start: Result,
    folder: Path,
    load: Callable[[Path, frozenset[Path]], Case],
    inside: frozenset[Path] = frozenset(),
) -> Earlier:
    """Read what a result was made of.

    Parameters
    ----------
    folder : of the case that names it
    load : reads a case file, told which results are being read
    inside : results that are being read for the case that names this one

    Raises
    ------
    UnusableError : no result, one that did not come to the stage, or one of another version
    """
    path = folder / start.result
    if path.resolve() in inside:
        _refuse(start, "starts from itself: the cases that results keep lead round in a circle")
    summary = _summary(path, start)
    try:
        case = load(path / CASE, inside | {path.resolve()})
    except CaseError as error:
        _refuse(start, f"{_KNOWN}; the case it keeps cannot be used: {error}")
    if case.digest != summary.get("digest"):
        _refuse(start, f"the case it keeps, {CASE}, is not the one it was made from: {_AGAIN}")
    number = _chosen(start, case, summary)
    before = case.earlier
    earlier = Earlier(
        folder=path,
        folders=(path, *(before.folders if before else ())),
        digest=case.digest,
        sheet=case.sheet,
        mesh=case.mesh,
        start=case.began_with,
        stages=case.made_before(number + 1),
        height=summary["stages"][number].get("height"),
        sheets=tuple(
            sheet_file(k, stage.name)
            for k, stage in enumerate(case.stages[: number + 1])
            if not brought_to_limit(stage)
        ),
        limits=case.limits,
        failed=tuple(
            str(check.get("name"))
            for check in summary.get("checks", ())
            if not check.get("passed", True)
        ),
        gave_way=str(summary["stages"][number].get("gave_way", "")),
    )
    if not earlier.file.is_file():
        _refuse(
            start,
            f'keeps no sheet of its stage "{earlier.after}", {earlier.file.name}; it may be older'
            f" than such files: {_AGAIN}",
        )
    return earlier


def _summary(path: Path, start: Result) -> Mapping[str, Any]:
    if not path.is_dir():
        what = "this is a file" if path.exists() else "there is no such folder"
        _refuse(start, f"{_KNOWN}; {what}{_near(path)}")
    try:
        summary = json.loads((path / SUMMARY).read_text(encoding="utf-8"))
    except FileNotFoundError:
        _refuse(start, f"{_KNOWN}; this folder holds no {SUMMARY}{_near(path)}")
    except (OSError, ValueError):
        _refuse(start, f"its {SUMMARY} cannot be read: {_AGAIN}")
    if not isinstance(summary, dict):
        _refuse(start, f"its {SUMMARY} holds no summary: {_AGAIN}")
    if summary.get("format") != FORMAT:
        found = f"has the format {summary.get('format')}, this version reads {FORMAT}"
        _refuse(start, f"{found}: {_AGAIN} with this version")
    if summary.get("version") != VERSION:
        found = f"was made by version {summary.get('version')}, this is {VERSION}"
        _refuse(start, f"{found}: {_AGAIN} with this version")
    if summary.get("ended") == "running":
        _refuse(start, "is still being made, or its run was ended from outside")
    return summary


def _chosen(start: Result, case: Case, summary: Mapping[str, Any]) -> int:
    """Number of the stage to go on from."""
    names = [stage.name for stage in case.stages]
    made = {str(row["name"]) for row in summary.get("stages", ()) if row.get("complete")}
    passed = [
        stage.name for stage in case.stages if stage.name in made and not brought_to_limit(stage)
    ]
    there = f"its body is passed on after {', '.join(passed)}" if passed else "it passes no body on"
    if start.after is None:
        if not summary.get("finished"):
            if not passed:
                _refuse(start, "did not come to its end, and no stage of it passes a body on")
            _refuse(start, f"did not come to its end: name the stage with after; {there}")
        if not passed:
            _refuse(start, "passes no body on: all of its stages test it until it gives way")
        return names.index(passed[-1])
    if start.after not in names:
        _refuse(start, f"is no stage of the result; {there}", "after")
    if start.after not in made:
        _refuse(start, f"was not made to its end in the result; {there}", "after")
    if start.after not in passed:
        _refuse(start, f"tests its body until it gives way and passes none on; {there}", "after")
    return names.index(start.after)


def start_notes(earlier: Earlier, limits: Limits) -> Iterator[str]:
    """What has to be known of a result a case starts from: failures, a spoilt body, limits left.

    Parameters
    ----------
    limits : of the case that starts from it
    """
    if earlier.failed:
        told = "; ".join(earlier.failed)
        yield (
            f"the result {earlier.folder}, which this case starts from, did not pass: {told};"
            f" see formsim show {earlier.folder}"
        )
    if earlier.gave_way:
        yield (
            f"the body of the result {earlier.folder}, which this case starts from, has given way"
            f" ({earlier.gave_way}): tests of it tell no strength"
        )
    names = [
        name
        for name in type(limits).model_fields
        if getattr(earlier.limits, name) is not None and getattr(limits, name) is None
    ]
    if names:
        yield (
            f"limits of the result {earlier.folder} that this case does not set, so that nothing"
            f" is held against them: {', '.join(names)}; give them under [limits] where they hold"
        )


def _near(path: Path) -> str:
    """Results that lie beside a folder which is none."""
    around = path.parent
    if not around.is_dir():
        return ""
    names = sorted(one.name for one in around.iterdir() if (one / SUMMARY).is_file())[:6]
    return f"; results in {around} are {', '.join(names)}" if names else ""


def _refuse(start: Result, text: str, key: str = "result") -> NoReturn:
    raise UnusableError(Fault(f"start.{key}", f'"{getattr(start, key)}"', text))
