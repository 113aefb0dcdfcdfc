"""Aligned columns of text."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

_GAP = "  "
_PAGE = 100


@dataclass(frozen=True)
class Grid:
    """A table as data, for the terminal and for the page.

    Attributes
    ----------
    title : what it shows; the terminal leaves it out
    head : names of the columns, which may have lines
    rows : texts of the cells
    left : columns that are left-aligned
    widest : columns whose texts are broken into lines on the terminal, and how wide these may be
    notes : mark and text of every remark below the table; a sentence of its own has no mark
    """

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    left: tuple[int, ...] = ()
    widest: Mapping[int, int] = field(default_factory=dict)
    notes: tuple[tuple[str, str], ...] = ()


def grid_text(grid: Grid) -> str:
    """A table and its remarks as aligned columns; empty without rows."""
    if not grid.rows:
        return ""
    text = table(grid.head, grid.rows, left=grid.left, widest=grid.widest)
    below = [
        line for mark, told in grid.notes for line in ([note(mark, told)] if mark else folded(told))
    ]
    return "\n".join([text, *below])


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    left: Sequence[int] = (),
    widest: Mapping[int, int] | None = None,
) -> str:
    """Aligned columns under a ruled head, whose texts may have lines.

    Parameters
    ----------
    left : columns that are left-aligned
    widest : columns whose texts are broken into lines, and how wide these may be
    """
    top = _level([text.split("\n") for text in head])
    lines = list(top)
    for row in rows:
        lines += _level([_fold(text, (widest or {}).get(k)) for k, text in enumerate(row)])
    widths = [max(len(line[k]) for line in lines) for k in range(len(head))]
    shown = [
        _GAP.join(
            text.ljust(width) if k in left else text.rjust(width)
            for k, (text, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    ]
    rule = "-" * max(len(line) for line in shown)
    return "\n".join([*shown[: len(top)], rule, *shown[len(top) :]])


def note(mark: str, text: str) -> str:
    """Remark below a table, behind its mark, broken to the width of a page."""
    behind = " " * (len(mark) + 1)
    return textwrap.fill(text, _PAGE, initial_indent=f"{mark} ", subsequent_indent=behind)


def folded(text: str, indent: str = "") -> list[str]:
    """Text broken into lines, the later ones set in."""
    return textwrap.wrap(
        text,
        _PAGE,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def entries(
    summary: Mapping[str, Any], key: str
) -> Iterator[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Stages with what they hold under a key, one table or a list of them."""
    for stage in summary.get("stages", ()):
        held = stage.get(key, ())
        for entry in [held] if isinstance(held, Mapping) else held:
            yield stage, entry


def dash(value: float | None, digits: int) -> str:
    """A number with so many digits, a dash where there is none."""
    return "-" if value is None else f"{value:.{digits}f}"


def _level(cells: list[list[str]]) -> list[list[str]]:
    """Lines of a row whose cells have lines of their own."""
    tall = max(len(cell) for cell in cells)
    padded = [cell + [""] * (tall - len(cell)) for cell in cells]
    return [list(line) for line in zip(*padded, strict=True)]


def _fold(text: str, width: int | None) -> list[str]:
    return (textwrap.wrap(text, width) if width else [text]) or [""]
