"""Results compared and written: page, table and figures into a folder of their own."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from formsim.errors import StoreError
from formsim.layout import FORMAT, SUMMARY
from formsim.report.comparison.compare import Comparison
from formsim.report.comparison.figures import Planned, planned
from formsim.report.comparison.page import compare_page, comparison_html
from formsim.report.comparison.tables import comparison_columns
from formsim.results.files import ELSEWHERE, write_whole, writing
from formsim.results.tables import table_text
from formsim.version import VERSION

PAGE, TABLE, FIGURES = "compare.html", "compare.csv", "figures"
_OURS = ("thickness", "section", "forces-", "strain-path-")
"""How the names of figures of a comparison begin."""


def save_comparison(one: Comparison, into: Path, *, replace: bool = False) -> list[Path]:
    """Write page, table and figures of a comparison into a folder.

    Returns
    -------
    The page, the table, then the figures.

    Raises
    ------
    StoreError : the folder holds something else or an earlier comparison, or cannot be written
    """
    page, table = into / PAGE, into / TABLE
    with writing(into):
        _make_room(into, replace=replace)
        (into / FIGURES).mkdir(parents=True, exist_ok=True)
        # The table comes first: where drawing is stopped, the folder is known as a comparison.
        write_whole(table, _table(one))
        figures = planned(one.sides, one.aligned, one.short)
        files = {figure.name: _saved(figure, into / FIGURES) for figure in figures}
    write_whole(page, comparison_html(compare_page(one, figures, files)))
    return [page, table, *(file for by in files.values() for file in by.values())]


def room_faults(into: Path, *, replace: bool = False) -> list[StoreError]:
    """Why no comparison can be put into a folder; empty where one can."""
    there = _made_before(into)
    if into.exists() and not into.is_dir():
        message = f"{into} is a file, so no comparison can be put into it"
    elif (into / SUMMARY).exists():
        message = f"{into} holds the result of a run, so no comparison is put into it"
    elif there and not replace:
        message = f"in {into} there is already {', '.join(file.name for file in there)}"
        return [StoreError(message, hint=f"{ELSEWHERE}, or add --replace")]
    elif not there and into.is_dir() and any(into.iterdir()):
        message = f"the folder {into} is not empty and holds no comparison"
    else:
        return []
    return [StoreError(message, hint=ELSEWHERE)]


def _made_before(into: Path) -> list[Path]:
    """Page and table of an earlier comparison."""
    return [into / name for name in (PAGE, TABLE) if (into / name).exists()]


def _make_room(into: Path, *, replace: bool) -> None:
    """Remove an earlier comparison where that is asked for; nothing else is touched."""
    for fault in room_faults(into, replace=replace):
        raise fault
    there = _made_before(into)
    if not there:
        return
    figures = (into / FIGURES).glob("*")
    old = [one for one in figures if one.stem.startswith(_OURS) and one.suffix in (".svg", ".png")]
    for file in [*there, *old]:
        file.unlink()


def _saved(figure: Planned, folder: Path) -> Mapping[str, Path]:
    from formsim.report.style import save_figure

    return {file.suffix: file for file in save_figure(figure.make, folder / figure.name)}


def _table(one: Comparison) -> str:
    groups = {"headline": one.numbers, "stage": one.of_stages}
    columns = comparison_columns(one.sides, one.inputs, groups, one.against)
    against = one.sides[one.against]
    return table_text(
        columns, {"format": FORMAT, "version": VERSION, "differences to": against.label}
    )
