"""The page of a run as one HTML file that needs nothing else."""

from __future__ import annotations

from pathlib import Path

from formsim.report.page import Page, report_page
from formsim.report.style import FAINT, INK, LINES

COLOURS = {"ink": INK, "faint": FAINT, "accent": LINES[0], "alarm": LINES[1]}


def report_html(folder: Path) -> str:
    """Text of ``report.html``, made from the files of a result.

    Raises
    ------
    StoreError : no folder, no result, a damaged summary, or one of another format
    """
    return page_html(report_page(folder))


def page_html(page: Page) -> str:
    """A page as HTML; every text is escaped, and nothing is loaded from elsewhere."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("formsim.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("page.html").render(page=page, colours=COLOURS)
