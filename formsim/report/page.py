"""The page of a run as data, made from what lies in its result folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from formsim.case.describe import describe
from formsim.case.load import load_case
from formsim.errors import FormsimError, StoreError
from formsim.report.lines import Grid
from formsim.report.page_pictures import Figures, figures
from formsim.report.page_strip import Strip, strip
from formsim.report.page_tables import Section, files_table, sections
from formsim.report.page_top import Top, top
from formsim.report.preflight import values_table
from formsim.report.viewer_data import viewer_data
from formsim.results import store
from formsim.version import VERSION


class Inputs(NamedTuple):
    """The case as it was run: its text, and every value with unit and origin."""

    text: str
    values: Grid | None


class Page(NamedTuple):
    """Everything the page of a run shows.

    Attributes
    ----------
    gaps : sentences on what the page could not be given
    viewer : what the section in motion shows; empty without one
    facts : name and text of where the numbers come from
    """

    title: str
    top: Top
    gaps: tuple[str, ...]
    strip: Strip
    viewer: dict[str, Any]
    figures: Figures
    sections: tuple[Section, ...]
    inputs: Inputs
    facts: tuple[tuple[str, str], ...]
    files: Grid


def report_page(folder: Path) -> Page:
    """Page of a result, finished or not.

    Raises
    ------
    StoreError : no folder, no result, a damaged summary or one of another format, or figures
        that cannot be read
    """
    summary = store.load_summary(folder)
    gaps: list[str] = []
    try:
        return _page(folder, summary, gaps)
    except OSError as error:
        message = f"{error.filename} cannot be read: {error.strerror or error}"
        raise StoreError(message, hint="look at the rights of the files") from error
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        message = f"the summary in {folder} is damaged: {type(error).__name__} {error}"
        raise StoreError(message, hint="run the case again") from error


def _page(folder: Path, summary: Mapping[str, Any], gaps: list[str]) -> Page:
    small = _strip(folder, summary, gaps)
    viewer = _viewer(folder, summary, gaps)
    pictures = figures(summary, store.figures(folder))
    if summary.get("stages") and not (pictures.part or pictures.whole):
        gaps.append("The result has no figures.")
    if pictures.left_out:
        names = ", ".join(pictures.left_out)
        gaps.append(f"Left out to keep this page small, see the folder figures: {names}.")
    inputs = _inputs(folder, gaps)
    return Page(
        title=str(summary.get("case", "")),
        top=top(summary),
        gaps=tuple(gaps),
        strip=small,
        viewer=viewer,
        figures=pictures,
        sections=sections(summary),
        inputs=inputs,
        facts=tuple(origin_facts(summary)),
        files=files_table(store.file_sizes(folder)),
    )


def _strip(folder: Path, summary: Mapping[str, Any], gaps: list[str]) -> Strip:
    """Strip with the sections of the thickness table, or why it has none."""
    if not summary.get("stages"):
        return strip(summary, None)
    try:
        return strip(summary, store.load_thickness(folder))
    except (StoreError, KeyError, ValueError) as error:
        told = str(error).replace(f"{folder}/", "")
        gaps.append(f"The strip of stages has no pictures, the thickness table is missing: {told}.")
        return strip(summary, None)


def _viewer(folder: Path, summary: Mapping[str, Any], gaps: list[str]) -> dict[str, Any]:
    if not summary.get("stages"):
        return {}
    try:
        return viewer_data(folder, summary)
    except StoreError as error:
        told = str(error).replace(f"{folder}/", "")
        gaps.append(f"The section in motion is missing: {told}.")
        return {}


def _inputs(folder: Path, gaps: list[str]) -> Inputs:
    file = store.case_file(folder)
    try:
        text = file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        gaps.append(f"The inputs are missing: {file.name} cannot be read.")
        return Inputs("", None)
    try:
        return Inputs(text, values_table(describe(load_case(file), full=True)))
    except FormsimError as error:
        told = str(error).replace(f"{folder}/", "")
        gaps.append(f"The list of all values is missing, the case cannot be read again: {told}")
        return Inputs(text, None)


def origin_facts(summary: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Where the numbers come from; nothing of the machine but the seconds."""
    stages, start = summary.get("stages", ()), summary.get("start")
    exact, by = "all columns in every increment (--exact)", str(summary.get("version", ""))
    facts = [
        ("digest of the case", str(summary.get("digest", ""))),
        ("version of formsim", by if by == VERSION else f"{by}; this page by version {VERSION}"),
        ("format of the result", str(summary.get("format", ""))),
        ("solved", exact if summary.get("exact") else "busy columns alone in most increments"),
        ("time of all stages", f"{sum(float(s.get('seconds', 0.0)) for s in stages):.1f} s"),
    ]
    if summary.get("mass_g") is not None:
        facts.append(("mass of the sheet", f"{summary['mass_g']:.3f} g"))
    if start:
        told = f'{start["result"]} ({start["digest"]}) after stage "{start["after"]}"'
        facts.append(("starts from", told))
    return facts
