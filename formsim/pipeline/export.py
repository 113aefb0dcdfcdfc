"""A result written in forms that other programs read."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from formsim.errors import FormsimError, StoreError
from formsim.report.page_top import part_stage
from formsim.results import store
from formsim.results.files import ELSEWHERE, write_whole, writing
from formsim.results.series_read import Stop, ends_of_stages

KINDS = ("animation", "vtu", "outline", "markdown")
OF_A_STAGE = ("vtu", "outline")
"""Kinds that are written for one stage or several."""

EVERY = "all"


class _File(NamedTuple):
    path: Path
    write: Callable[[], object]


def export_result(
    result: Path,
    into: Path,
    kinds: Sequence[str] = (),
    stages: Sequence[str] = (),
    *,
    replace: bool = False,
) -> list[Path]:
    """Write a result in other forms.

    Parameters
    ----------
    kinds : of ``KINDS``; none means all
    stages : names or numbers of those whose end is written as mesh or drawing, or ``all``; none
        means the finished part
    replace : write over files that are there

    Returns
    -------
    The files, in the order they were written.

    Raises
    ------
    StoreError : no result, a part of it that is missing, or files that are there already
    FormsimError : there is no such stage, or nothing of a single stage is asked for
    """
    kinds = kinds or KINDS
    if stages and not set(kinds) & set(OF_A_STAGE):
        message = "--stage is for --vtu and --outline; animation and tables show all stages"
        raise FormsimError(message, hint="leave --stage out, or add --vtu or --outline")
    summary = store.load_summary(result)
    files = list(_files(result, summary, into, kinds, stages, replace=replace))
    there = [file.path.name for file in files if file.path.exists()]
    if there and not replace:
        message = f"in {into} there is already {', '.join(there)}"
        raise StoreError(message, hint=f"{ELSEWHERE}, or add --replace")
    with writing(into):
        into.mkdir(parents=True, exist_ok=True)
        for file in files:
            file.write()
    return [file.path for file in files]


def _files(
    result: Path,
    summary: Mapping[str, Any],
    into: Path,
    kinds: Sequence[str],
    stages: Sequence[str],
    *,
    replace: bool,
) -> list[_File]:
    names = [str(stage["name"]) for stage in summary.get("stages", ())]
    files: list[_File] = []
    if "animation" in kinds:
        from formsim.report.animation import save_animation

        path = into / "section.gif"
        files.append(_File(path, partial(save_animation, result, names, path)))
    for stop in _chosen(result, summary, names, stages) if set(kinds) & set(OF_A_STAGE) else ():
        name = f"{stop.stage + 1}-{names[stop.stage]}"
        files += _of_a_stage(result, into, stop, name, kinds, replace=replace)
    if "markdown" in kinds:
        from formsim.report.markdown import markdown_text

        path = into / "summary.md"
        files.append(_File(path, lambda: write_whole(path, markdown_text(summary))))
    return files


def _of_a_stage(
    result: Path, into: Path, stop: Stop, name: str, kinds: Sequence[str], *, replace: bool
) -> list[_File]:
    from formsim.report.formed import save_mesh, save_outline

    mesh, drawing = into / f"mesh-{name}.vtu", into / f"outline-{name}.dxf"
    (moment,) = store.load_moments(result, [stop.number])
    ways = {
        "vtu": _File(mesh, partial(save_mesh, moment, mesh)),
        "outline": _File(drawing, partial(save_outline, moment, drawing, replace=replace)),
    }
    return [file for kind, file in ways.items() if kind in kinds]


def _chosen(
    result: Path, summary: Mapping[str, Any], names: Sequence[str], asked: Sequence[str]
) -> list[Stop]:
    """Last states of the stages asked for, of the finished part where none was."""
    ends = ends_of_stages(store.load_stops(result))
    if not names or not ends:
        message = f"no stage was made in {result}"
        raise StoreError(message, hint="only --markdown can be written of it")
    if EVERY in asked:
        wanted = [stage for stage in ends if stage < len(names)]
    else:
        wanted = [_number(text, names) for text in asked] or [part_stage(summary)]
    return [ends[stage] for stage in dict.fromkeys(wanted) if stage in ends]


def _number(text: str, names: Sequence[str]) -> int:
    """Number of a stage, from 0, by its name or its number from 1."""
    if text in names:
        return names.index(text)
    if text.isdecimal() and 1 <= int(text) <= len(names):
        return int(text) - 1
    known = ", ".join(f"{k} {name}" for k, name in enumerate(names, start=1))
    message = f'there is no stage "{text}"'
    raise FormsimError(message, hint=f"the stages of this result: {known}; or {EVERY}")
