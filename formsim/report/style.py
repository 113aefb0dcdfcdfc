"""One look for all figures, readable with any colour vision, and how they are saved."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LINES = ("#23527c", "#c8641b", "#2b8a7e", "#8a4f9e", "#8c6d1f", "#5b6770")
INK, FAINT, TOOL, TOOL_EDGE = "#2b2f33", "#c9cdd1", "#e4e2dc", "#8b877d"
LABEL = "#5c584f"
DARK = MappingProxyType(
    {
        "#ffffff": "#1e2429",
        INK: "#e4e7ea",
        FAINT: "#3d454d",
        TOOL: "#34393d",
        TOOL_EDGE: "#8b908f",
        LABEL: "#c8c4ba",
        **dict(
            zip(
                LINES,
                ("#7fb0dc", "#f0a060", "#5cc4b5", "#c493d6", "#d0b050", "#a9b4bc"),
                strict=True,
            )
        ),
    }
)
"""Colours of a figure on a light page and on a dark one."""

LONGEST = 60
"""Letters of a label in a figure."""

_DRAWN = 0x0590
"""First letter that the font of the figures may not have, or that is written from the right."""

_PATHS, _LONG = re.compile(rb' d="[^"]*"'), re.compile(rb"(\.\d\d)\d+")
"""Paths of a drawn figure, and what their numbers have behind a hundredth."""

_LETTERS, _BLANKS = re.compile(rb"\s*([MLQCz])\s*"), re.compile(rb">\s+<")
"""Commands of a path with the blanks around them, and blanks between elements."""

THICKNESS_MAP: Final = "cividis"
DOTS_PER_INCH = 160

STYLE = MappingProxyType(
    {
        "font.family": "DejaVu Sans",
        "font.size": 9.0,
        "axes.titlesize": 10.0,
        "axes.titleweight": "bold",
        "axes.titlelocation": "left",
        "axes.labelcolor": INK,
        "axes.edgecolor": INK,
        "axes.linewidth": 0.7,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.grid": True,
        "grid.color": FAINT,
        "grid.linewidth": 0.4,
        "text.color": INK,
        "xtick.color": INK,
        "ytick.color": INK,
        "lines.linewidth": 1.4,
        "legend.frameon": False,
        "path.simplify_threshold": 0.3,
        "svg.fonttype": "path",
        "svg.hashsalt": "formsim",
    }
)


def styled() -> AbstractContextManager[Any]:
    """Context in which figures are made and saved."""
    from matplotlib import rc_context

    settings: dict[Any, Any] = dict(STYLE)
    return rc_context(settings)


def new_figure(width: float, height: float) -> Figure:
    """Empty figure of a size [inch] that needs no display."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained", facecolor="white")


def save_figure(make: Callable[[], Figure], path: Path) -> tuple[Path, Path]:
    """Make a figure and save it as SVG and PNG; ``path`` has no ending."""
    svg, png = (path.with_name(path.name + ending) for ending in (".svg", ".png"))
    with styled():
        figure = make()
        svg.write_bytes(_drawn(figure))
        # Places are found once, not again for the second file.
        figure.set_layout_engine("none")
        _save_pixels(figure, png)
    return svg, png


def svg_of(make: Callable[[], Figure]) -> bytes:
    """Make a figure and return it as SVG."""
    with styled():
        return _drawn(make())


def _drawn(figure: Figure) -> bytes:
    """A figure as SVG, its places to a hundredth of a point and without blanks for the eye.

    Its texts are paths; the remarks that hold their words stay, so that they can be searched.
    """
    from io import BytesIO

    out = BytesIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    figure.savefig(out, format="svg", metadata=nothing)
    return _BLANKS.sub(b"><", _PATHS.sub(_lean, out.getvalue()))


def _lean(path: re.Match[bytes]) -> bytes:
    """A path with short numbers and no blanks around its commands."""
    return b' d="' + _LETTERS.sub(rb"\1", _LONG.sub(rb"\1", path[0][4:-1])) + b'"'


def drawable(text: str, longest: int = LONGEST) -> str:
    """A text as the font of the figures can show it, cut where it is long."""
    text = text if len(text) <= longest else f"{text[: longest - 3]}..."
    shown = "".join(one if one.isprintable() and ord(one) < _DRAWN else "?" for one in text)
    return shown.replace("$", r"\$")


def _save_pixels(figure: Figure, path: Path) -> None:
    """Save as PNG with 256 colours of its own, a third the size of one with all."""
    import numpy as np
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from PIL import Image

    figure.set_dpi(DOTS_PER_INCH)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())[..., :3]
    picture = Image.fromarray(np.ascontiguousarray(pixels))
    few = picture.quantize(256, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(path, dpi=(DOTS_PER_INCH, DOTS_PER_INCH))


def colour(number: int) -> str:
    """Line colour by number."""
    return LINES[number % len(LINES)]


def plain(axes: Axes) -> None:
    """Axes to scale, without a grid."""
    axes.set_aspect("equal")
    axes.grid(visible=False)
