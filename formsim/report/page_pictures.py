"""Figures of a result as parts of one page: which file, what it shows in words."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from formsim.report.style import DARK

SHARP, ALL = 5_200_000, 5_400_000
"""Characters that figures may take on a page: drawn ones as lines up to the first, in all."""

_KINDS = {".svg": "image/svg+xml", ".png": "image/png"}
_WHOLE = {
    "thickness": "Thickness along the sheet after every stage, theory dashed",
    "limit-curve": "Strain paths of the critical places with the limit curve",
    "margin": "What is used of every limit along the sheet",
}
_OF_A_STAGE = {
    "section": "Section of the sheet between its tools, the thinnest place enlarged",
    "forces": "Force of every tool over the stroke",
    "springback": "Section before and after springback, and the residual stress of both faces",
    "strength": "What the body bears: load against growth",
}


class Picture(NamedTuple):
    """A picture within the page: its data, what it shows, and the same with numbers.

    ``drawn`` ones are lines that follow the colours of the page, not pixels.
    """

    source: str
    caption: str
    alt: str
    drawn: bool = False


class StageFigures(NamedTuple):
    """A stage and its figures."""

    number: int
    name: str
    pictures: tuple[Picture, ...]


class Figures(NamedTuple):
    """All figures of a page; ``left_out`` are the names of those it has no room for."""

    part: Picture | None
    whole: tuple[Picture, ...]
    stages: tuple[StageFigures, ...]
    left_out: tuple[str, ...]


def figures(summary: Mapping[str, Any], files: Mapping[str, Mapping[str, Path]]) -> Figures:
    """Figures of a result by what they show.

    Parameters
    ----------
    files : name of a figure -> ending -> file
    """
    taken = chosen(files)
    stages = []
    for number, stage in enumerate(summary.get("stages", ()), start=1):
        name = str(stage["name"])
        pictures = tuple(_of_a_stage(number, stage, taken))
        stages.append(StageFigures(number, name, pictures))
    whole = tuple(
        picture(taken[name], caption, f"{caption}. {_whole_words(name, summary)}")
        for name, caption in _WHOLE.items()
        if name in taken
    )
    left_out = tuple(name for name in files if name not in taken)
    return Figures(_part(summary, stages, taken), whole, tuple(stages), left_out)


def chosen(
    files: Mapping[str, Mapping[str, Path]], sharp: int = SHARP, most: int = ALL
) -> dict[str, Path]:
    """One file of each figure: the smaller one, or the drawn one, least ones first, in the room."""
    whole = {name: {e: f for e, f in by.items() if f.stat().st_size} for name, by in files.items()}
    files = {name: by for name, by in whole.items() if by}
    order = sorted(files, key=_rank)
    taken: dict[str, Path] = {}
    used = 0
    for name in order:
        file = min(files[name].values(), key=_length)
        if used + _length(file) <= most:
            taken[name] = file
            used += _length(file)
    drawn = {name: by[".svg"] for name, by in files.items() if ".svg" in by and name in taken}
    more = {name: _length(file) - _length(taken[name]) for name, file in drawn.items()}
    for name in sorted(more, key=lambda name: (name not in _WHOLE, more[name])):
        if more[name] > 0 and used + more[name] <= sharp:
            taken[name] = drawn[name]
            used += more[name]
    return taken


def _rank(name: str) -> int:
    """Place of a figure in the order in which they get room."""
    kind = name.partition("-")[0]
    ranks = ["part", *_WHOLE, "strength", "section", "forces", "springback"]
    return next((k for k, one in enumerate(ranks) if one in (name, kind)), len(ranks))


def _length(file: Path) -> int:
    """Characters of a file within a page."""
    return 4 * (file.stat().st_size // 3 + 1)


def picture(file: Path, caption: str, alt: str) -> Picture:
    """A file as a picture within a page."""
    if file.suffix == ".svg":
        return drawn_picture(file.read_bytes(), caption, alt)
    return Picture(_data(file.read_bytes(), _KINDS[file.suffix]), caption, alt)


def drawn_picture(svg: bytes, caption: str, alt: str) -> Picture:
    """A drawn figure as a picture within a page, with colours for a light and a dark one."""
    before, end, after = svg.rpartition(b"</svg>")
    content = before + _dark().encode() + end + after
    return Picture(_data(content, _KINDS[".svg"]), caption, alt, drawn=True)


def _data(content: bytes, kind: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(content).decode('ascii')}"


def _dark() -> str:
    """Style that gives a drawn figure other colours where the reader wants it dark."""
    rules = "".join(
        f'[style*="{what}: {light}"]{{{what}:{dark}!important}}'
        for light, dark in DARK.items()
        for what in ("fill", "stroke")
    )
    return f"<style>@media screen and (prefers-color-scheme: dark){{{rules}}}</style>"


def _of_a_stage(
    number: int, stage: Mapping[str, Any], taken: Mapping[str, Path]
) -> Iterator[Picture]:
    for kind, caption in _OF_A_STAGE.items():
        file = taken.get(f"{kind}-{number}-{stage['name']}")
        if file is not None:
            told = _peaks(stage) if kind == "forces" else _thinnest(stage)
            alt = f"{caption}. Stage {number}, {stage['name']}: {told}"
            yield picture(file, caption, alt)


def _part(
    summary: Mapping[str, Any], stages: list[StageFigures], taken: Mapping[str, Path]
) -> Picture | None:
    """The rendered part or, without one, the last section."""
    if "part" in taken:
        caption = "The part, a quarter cut away"
        height = [f"{stage['height']:.1f} mm high" for stage in summary.get("stages", ())[-1:]]
        return picture(taken["part"], caption, ", ".join([caption, *height]))
    shown = [stage for stage in stages if stage.pictures]
    return shown[-1].pictures[0] if shown else None


def _whole_words(name: str, summary: Mapping[str, Any]) -> str:
    stages = summary.get("stages", ())
    if name == "thickness":
        return "; ".join(f"{stage['name']}: {_thinnest(stage)}" for stage in stages)
    return "The numbers stand in the table of zones and risks"


def _peaks(stage: Mapping[str, Any]) -> str:
    peaks = stage.get("peak_force", {}).items()
    return ", ".join(f"{tool} {1e-3 * force:.2f} kN at most" for tool, force in peaks) or "pressure"


def _thinnest(stage: Mapping[str, Any]) -> str:
    return f"least {stage['min_thickness']:.4f} mm, {stage['min_thickness_zone']}"
