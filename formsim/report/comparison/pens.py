"""Curves of many results on common axes: line, colour and letter of each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from formsim.arrays import Floats
from formsim.report.comparison.letters import letter_places
from formsim.report.comparison.side import Side
from formsim.report.style import colour

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Dashes = Literal["-"] | tuple[float, tuple[float, ...]]

STYLES: tuple[Dashes, ...] = (
    "-",
    (0, (5, 1.5)),
    (0, (1.2, 1.2)),
    (0, (6, 1.5, 1.2, 1.5)),
    (0, (9, 1.5, 3, 1.5)),
)
"""Lines, dashed in ways that stay apart; with six colours no pair comes twice in 30 results."""

MANY, WIDE, FINE = 8, 1.4, 1.0
"""Results beyond which lines are fine, and how wide lines are else and then [pt]."""


LINE, LETTER, MOST_COLUMNS = 0.75, 0.082, 4
"""Width of line and gap and of a letter in a legend [inch], and its columns at most."""


class Drawn(NamedTuple):
    """A curve of a result, (n) each, and what its legend says."""

    side: Side
    label: str
    x: Floats
    y: Floats


def draw(axes: Axes, drawn: Sequence[Drawn]) -> None:
    """Draw curves, each with its letter where it is far from the others."""
    from matplotlib.patheffects import withStroke

    width = FINE if len(drawn) > MANY else WIDE
    for one in drawn:
        (line,) = axes.plot(one.x, one.y, color=ink(one.side), linewidth=width, label=one.label)
        line.set_linestyle(style(one.side))
    places = letter_places([np.stack([one.x, one.y], axis=1) for one in drawn]) if drawn else []
    for one, (x, y) in zip(drawn, places, strict=True):
        axes.annotate(
            one.side.mark,
            (float(x), float(y)),
            ha="center",
            va="center",
            color=ink(one.side),
            fontsize=8.0,
            fontweight="bold",
            path_effects=[withStroke(linewidth=2.5, foreground="white")],
            zorder=5,
        )


def style(side: Side) -> Dashes:
    """Line of a result."""
    return STYLES[_number(side) % len(STYLES)]


def ink(side: Side) -> str:
    """Colour of a result."""
    return colour(_number(side))


def _number(side: Side) -> int:
    return ord(side.mark) - ord("A")


def legend_columns(width: float, labels: Sequence[str]) -> int:
    """Columns of a legend that fit into a width [inch]."""
    longest = max((len(label) for label in labels), default=0)
    return max(1, min(MOST_COLUMNS, int(width / (LINE + LETTER * longest))))


def legend(figure: Figure, *every: Axes) -> None:
    """Legend of all curves below the diagrams, every label once."""
    found: dict[str, Artist] = {}
    for axes in every:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            found.setdefault(label, handle)
    if found:
        figure.legend(
            handles=list(found.values()),
            labels=list(found),
            loc="outside lower center",
            ncols=legend_columns(figure.get_figwidth(), list(found)),
            handlelength=3.4,
        )
