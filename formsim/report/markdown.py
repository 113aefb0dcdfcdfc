"""Summary of a run as Markdown, to paste into a ticket."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from formsim.report.lines import Grid
from formsim.report.page import origin_facts
from formsim.report.page_tables import sections
from formsim.report.page_top import Top, top

_MARKS = re.compile(r"([\\`*_\[\]<>|~#&])")
CAUTION = (
    "Results guide design. They do not release a tool, a press or a pressurised container: local"
    " codes and licensed practice do."
)


def markdown_text(summary: Mapping[str, Any]) -> str:
    """Verdict, first numbers, alarms and all tables of a summary.

    Marks in texts of the case are escaped: CommonMark 0.31, section 2.4, backslash escapes. Tables
    are those most ticket systems read (GitHub Flavored Markdown, section 4.10).
    """
    head = top(summary)
    lines = [
        f"# {plain(str(summary.get('case', '')))}",
        "",
        f"**{plain(head.ending.verdict)}**",
        "",
    ]
    if head.ending.hint:
        lines += [f"Try: {plain(head.ending.hint)}", ""]
    lines += _headlines(head)
    for title, texts in (
        ("Failed checks", [f"{f.name}: found {f.found}, wanted {f.wanted}" for f in head.failures]),
        ("Beyond a limit", head.over),
        ("To be watched", head.watched),
        ("Handbook rules that warn", head.findings),
        ("Warnings of the run", head.warnings),
    ):
        lines += _listed(title, texts)
    for section in sections(summary):
        lines += [f"## {plain(section.title)}", ""]
        tables = [line for grid in section.grids for line in _table(grid)]
        lines += tables or [plain(section.nothing), ""]
    lines += _listed("Origin", [f"{name}: {text}" for name, text in origin_facts(summary)])
    return "\n".join([*lines, CAUTION, ""])


def plain(text: str) -> str:
    """A text on one line whose marks are shown, not obeyed."""
    return _MARKS.sub(r"\\\1", " ".join(text.split()))


def _headlines(head: Top) -> list[str]:
    rows = tuple((h.label, f"{h.value} {h.unit}", h.where) for h in head.headlines)
    grid = Grid("", ("first numbers", "value", "where"), rows, left=(0, 2))
    return list(_table(grid)) if rows else []


def _listed(title: str, texts: Sequence[str]) -> list[str]:
    if not texts:
        return []
    return [f"## {title}", "", *(f"- {plain(text)}" for text in texts), ""]


def _table(grid: Grid) -> Iterator[str]:
    if grid.title:
        yield f"### {plain(grid.title)}"
        yield ""
    yield _row([name or "remark" for name in grid.head])
    yield "|" + "|".join(":--" if k in grid.left else "--:" for k in range(len(grid.head))) + "|"
    for row in grid.rows:
        yield _row(row)
    yield ""
    for mark, told in grid.notes:
        yield f"{plain(f'{mark} {told}'.strip())}"
        yield ""


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(plain(cell) for cell in cells) + " |"
