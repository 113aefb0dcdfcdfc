"""Tables of the page of a study."""

from __future__ import annotations

from collections.abc import Sequence

from formsim.case.describe import Row
from formsim.report.lines import Grid
from formsim.report.preflight import values_table
from formsim.study.folder import TABLE
from formsim.study.handbook import WARNINGS
from formsim.study.kept import Kept
from formsim.study.page.curves import rank_of
from formsim.study.page.numbers import Points
from formsim.study.table import StudyTable
from formsim.study.words import extent, heads_of, short_cell, tells

MOST_ROWS = 300
"""Most variants in the table of the page."""

_BEHIND = ("least_margin [%]", "least_margin_of", "mass [g]", WARNINGS, "reason")
_AHEAD = ("variant", "status", "verdict")


def varied_grid(kept: Kept) -> Grid:
    """What varies, and how."""
    rows = tuple(
        (one.name, name.partition(" [")[2].rstrip("]") or "-", extent(one), _count(one.levels))
        for one, name in zip(kept.study.vary, kept.table.inputs, strict=True)
    )
    notes = tuple(
        ("", f"with {one.name} go {', '.join(one.key[1:])}")
        for one in kept.study.vary
        if len(one.key) > 1
    )
    head = ("input", "unit", "values", "how many")
    return Grid("Inputs that vary", head, rows, left=(0, 1, 2), notes=notes)


def _count(levels: Sequence[object]) -> str:
    return str(len(levels)) if levels else "-"


def variants_grid(table: StudyTable) -> Grid:
    """Every variant in a row, the first ones where there are very many."""
    columns = table.columns
    moving = [name for name in (*table.inputs, *table.measures) if tells(columns[name])]
    there = [
        name for name in _BEHIND if any(one not in (None, "") for one in columns.get(name, ()))
    ]
    same = [name for name in there if not tells(columns[name])]
    behind = [name for name in there if name not in same]
    shown = [*_AHEAD, *moving, *behind]
    count = len(columns["variant"])
    rows = tuple(zip(*(map(short_cell, columns[n][:MOST_ROWS]) for n in shown), strict=True))
    words = {"least_margin_of", "status", "verdict", "reason"}
    words |= {n for n in table.inputs if any(isinstance(one, str) for one in columns[n])}
    left = tuple(k for k, name in enumerate(shown) if name in words)
    notes = [
        ("", f"{name}: {short_cell(columns[name][0])} in every variant")
        for name in (*table.inputs, *table.measures, *same)
        if name not in moving
    ]
    if count > MOST_ROWS:
        notes.insert(0, ("", f"The first {MOST_ROWS} of {count} variants; all are in {TABLE}."))
    heads = [head.replace("_", " ") for head in heads_of(shown)]
    return Grid("Every variant", tuple(heads), rows, left=left, notes=tuple(notes))


def ranks_grid(points: Points) -> Grid | None:
    """Rank correlation of every measure with every input that is a number."""
    if not (points.sampled and points.inputs and points.measures):
        return None
    rows = tuple(
        (y.name, *(f"{rank_of(x, y):+.2f}" for x in points.inputs)) for y in points.measures
    )
    note = (
        "Spearman's rank correlation over the samples that have both numbers: +1 where one always"
        " rises with the other, -1 where it always falls, near 0 where nothing is seen."
    )
    head = ("rank correlation of", *(one.label for one in points.inputs))
    return Grid("Rank correlations", head, rows, left=(0,), notes=(("", note),))


def inputs_grid(kept: Kept, rows: Sequence[Row], variant: int) -> Grid:
    """Every value of the case of a variant; those that vary say so."""
    varied = {key for one in kept.study.vary for key in one.key}
    named = {f"stage[{k}]": name for k, name in _stages(rows)}
    marked = [
        row._replace(origin="varies") if not varied.isdisjoint(_paths(row.key, named)) else row
        for row in rows
    ]
    grid = values_table(marked)
    title = f"Every value of the case, as in variant {variant}"
    return Grid(title, grid.head, grid.rows, left=grid.left)


def _stages(rows: Sequence[Row]) -> list[tuple[int, str]]:
    names = [str(row.value) for row in rows if row.key.endswith("].name") and _is_stage(row.key)]
    return list(enumerate(names))


def _is_stage(key: str) -> bool:
    return key.startswith("stage[") and key.count(".") == 1


def _paths(key: str, named: dict[str, str]) -> set[str]:
    """Key path as a case prints it and with the name of its stage, with all tables above it."""
    first, dot, rest = key.partition(".")
    every = {key, f"stage.{named[first]}{dot}{rest}"} if first in named else {key}
    return {path[:end] for path in every for end in _ends(path)}


def _ends(path: str) -> list[int]:
    return [k for k, letter in enumerate(path) if letter == "."] + [len(path)]
