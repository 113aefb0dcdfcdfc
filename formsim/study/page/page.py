"""The page of a study as data, as one HTML file, and where it is written."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from formsim.case.describe import describe
from formsim.case.load import parse_case
from formsim.errors import FormsimError
from formsim.report.html import filled, report_html
from formsim.report.lines import Grid
from formsim.report.page_pictures import Picture
from formsim.report.words import counted
from formsim.results.files import write_whole, writing
from formsim.results.store import REPORT, load_summary
from formsim.study.findings import Findings, findings
from formsim.study.findings_text import rate_text, scatter_grid, sensitivity_grid
from formsim.study.folder import PAGE
from formsim.study.handbook import handbook_lines
from formsim.study.kept import Kept, is_study_folder, read_study
from formsim.study.page.curves import response_pictures
from formsim.study.page.front import Front, front_of
from formsim.study.page.grids import inputs_grid, ranks_grid, variants_grid, varied_grid
from formsim.study.page.numbers import Points, mass_of, points_of
from formsim.study.page.outcome import DESIGNS, finding, troubles, unsolved
from formsim.study.page.spread import spread_pictures
from formsim.study.words import counts_text, design_text
from formsim.version import VERSION

ROOM = 6_000_000
"""Characters that the figures of a page may take together."""


class StudyPage(NamedTuple):
    """Everything the page of a study shows.

    Attributes
    ----------
    tone : ``good`` where every variant came to numbers that can be trusted, else ``bad``
    finding : what the study has found, in a sentence or two
    counts : how many variants came to what
    troubles : variants without numbers, or with some that cannot be trusted
    gaps : sentences on what is missing from the page
    handbook : rules that variants do not keep
    curves : how the measures follow the inputs
    spread, scatter, rate : of a sampled study
    front : two numbers that pull against each other
    silent : why nothing is said of what matters
    facts : name and text of where the numbers come from
    """

    title: str
    source: str
    tone: str
    finding: str
    counts: str
    design: str
    troubles: tuple[str, ...]
    gaps: tuple[str, ...]
    handbook: tuple[str, ...]
    varied: Grid
    sampled: bool
    curves: tuple[Picture, ...]
    ranks: Grid | None
    spread: tuple[Picture, ...]
    scatter: Grid | None
    rate: str
    front: Front | None
    sensitivity: Grid | None
    silent: str
    variants: Grid
    text: str
    inputs: Grid | None
    facts: tuple[tuple[str, str], ...]


class Written(NamedTuple):
    """A page that was made again: its file, what became of the one there, whose the numbers are."""

    file: Path
    told: str
    by: str

    def text(self) -> str:
        """The same in words."""
        size = f"{1e-6 * self.file.stat().st_size:.1f} MB"
        told = f"{self.file} {self.told}, {size}; open it in a browser"
        if self.by == VERSION:
            return told
        return (
            f"{told}\nthe result was made by version {self.by}: its numbers and figures are left as"
            f" they are, only the page is that of version {VERSION}"
        )


def write_page(folder: Path, into: Path | None = None) -> Written:
    """Make the page of a result or of a study again; one that would be the same is left alone.

    Parameters
    ----------
    folder : of a run, or of a study
    into : folder for the page; None for its own

    Raises
    ------
    StoreError : neither is there, something of it is damaged, or the page cannot be written
    """
    if is_study_folder(folder):
        file, text, by = (into or folder) / PAGE, study_html(folder), VERSION
    else:
        file, text = (into or folder) / REPORT, report_html(folder)
        by = str(load_summary(folder).get("version", "unknown"))
    with writing(file):
        file.parent.mkdir(parents=True, exist_ok=True)
        before = file.read_bytes() if file.is_file() else None
    if before == text.encode("utf-8"):
        return Written(file, "was there and stays as it is", by)
    write_whole(file, text)
    return Written(file, "written" if before is None else "written over the one that was there", by)


def study_html(folder: Path) -> str:
    """Text of ``study.html``, made from the files of a study; every text is escaped.

    Raises
    ------
    StoreError : there is no study of this version, or a file of it is damaged
    """
    return filled("study.html", study_page(read_study(folder)))


def study_page(kept: Kept) -> StudyPage:
    """Page of a study, all of it solved or not."""
    columns, points = kept.table.columns, points_of(kept)
    found = findings(kept.study, kept.table)
    inputs, told = _inputs(kept)
    curves, spread, cut = _pictures(points, found)
    bad = troubles(kept.table)
    return StudyPage(
        title=kept.study.title,
        source=kept.study.source,
        tone="bad" if bad or unsolved(columns) else "good",
        finding=finding(kept, points),
        counts=f"{counted(len(points.number), 'variant')}:"
        f" {counts_text(columns['status'], columns['verdict'])}",
        design=f"{design_text(kept.study.design)}: {DESIGNS[kept.study.design.kind]}",
        troubles=bad,
        gaps=(*unsolved(columns), *points.left_out, *cut, *told),
        handbook=tuple(handbook_lines(kept.table.broken, len(points.number))),
        varied=varied_grid(kept),
        sampled=points.sampled,
        curves=curves,
        ranks=ranks_grid(points),
        spread=spread,
        scatter=scatter_grid(found.scatter) if found.scatter else None,
        rate=rate_text(found.rate, found.unjudged) if found.rate else "",
        front=front_of(points, mass_of(kept.table)),
        sensitivity=sensitivity_grid(found.sensitivity) if found.sensitivity else None,
        silent=found.silent,
        variants=variants_grid(kept.table),
        text=kept.text,
        inputs=inputs,
        facts=_facts(kept),
    )


def _pictures(
    points: Points, found: Findings
) -> tuple[tuple[Picture, ...], tuple[Picture, ...], tuple[str, ...]]:
    """Figures that have room on the page, and a sentence on those that have none."""
    curves = list(response_pictures(points))
    spread = list(spread_pictures(points)) if found.scatter else []
    kept: list[Picture] = []
    used, cut = 0, []
    for one in [*curves, *spread]:
        if used + len(one.source) <= ROOM:
            kept.append(one)
            used += len(one.source)
        else:
            cut.append(one.caption)
    told = (f"Left out to keep this page small: {'; '.join(cut)}.",) if cut else ()
    return (
        tuple(one for one in curves if one in kept),
        tuple(one for one in spread if one in kept),
        told,
    )


def _inputs(kept: Kept) -> tuple[Grid | None, tuple[str, ...]]:
    """Every value of the first variant that could be run, or why they are missing."""
    columns = kept.table.columns
    runs = [(n, key) for n, key in zip(columns["variant"], columns["key"], strict=True) if key]
    if not runs:
        return None, ("The inputs are missing: no variant could be run.",)
    number, key = runs[0]
    file = kept.folder.case(key)
    try:
        text = file.read_text(encoding="utf-8")
        rows = describe(parse_case(text, file.name, kept.job.cases), full=True)
    except (OSError, UnicodeDecodeError):
        return None, (f"The inputs are missing: variants/{file.name} cannot be read.",)
    except FormsimError as error:
        told = str(error).replace(f"{kept.folder.path}/", "")
        return None, (f"The inputs are missing, the case cannot be read again: {told}",)
    return inputs_grid(kept, rows, number), ()


def _facts(kept: Kept) -> tuple[tuple[str, str], ...]:
    """Where the numbers come from; nothing of the machine but the seconds."""
    columns = kept.table.columns
    keys = {key for key in columns["key"] if key}
    times = dict(zip(columns["key"], columns["time [s]"], strict=True))
    total = sum(float(one) for key, one in times.items() if key and one)
    return (
        ("base case", kept.study.case),
        ("variants that differ", str(len(keys))),
        (
            "names of the variants",
            "digest of the case, version and digest of the sources, column key of table.csv",
        ),
        ("version of formsim", VERSION),
        ("kept of every variant", kept.study.keep),
        ("time of all variants", f"{total:.1f} s"),
    )
