"""The page of a run as one HTML file that needs nothing else."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path
from typing import NamedTuple

from formsim.report.page import Page, report_page
from formsim.report.style import FAINT, INK, LINES

COLOURS = {"ink": INK, "faint": FAINT, "accent": LINES[0], "alarm": LINES[1]}


class Script(NamedTuple):
    """The script of a page and its digest, by which a browser knows that it belongs there."""

    text: str
    digest: str


def report_html(folder: Path) -> str:
    """Text of ``report.html``, made from the files of a result.

    Raises
    ------
    StoreError : no folder, no result, a damaged summary, or one of another format
    """
    return page_html(report_page(folder))


def page_html(page: Page) -> str:
    """A page as HTML; every text is escaped, and nothing is loaded from elsewhere."""
    return filled("page.html", page)


def filled(template: str, page: NamedTuple) -> str:
    """A template filled with a page, every text escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("formsim.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    text = environment.get_template("viewer.js").render()
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")
    script = Script(Markup(text), digest)
    page_file = environment.get_template(template)
    return page_file.render(page=page, colours=COLOURS, script=script)
