"""Window process of ``view``: reads the states of a part, shows them, ends when it is closed."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from formsim.arrays import Floats
from formsim.report.revolve import add_colours, add_part, look_into
from formsim.report.style import INK

OFF_SCREEN = ("vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow")
"""What the graphics library draws into where no screen answers."""

HANDS = "drag: turn   wheel: zoom   slider: stage   r: whole part   q: close"

Part = tuple[str, Floats, Floats]
"""What a state is, its outline (2, n, 2) [mm] and thickness (n) [mm]."""


def read_parts(file: Path) -> tuple[list[Part], int]:
    """States of a part in their order, and which of them is shown first."""
    with np.load(file, allow_pickle=False) as data:
        names = data["names"].tolist()
        numbers = sorted(int(key.partition("_")[2]) for key in data if key.startswith("outline_"))
        shown = int(data["shown"])
        parts = [
            (
                f"{k + 1} {names[k] if k < len(names) else 'not finished'}",
                data[f"outline_{k}"],
                data[f"thickness_{k}"],
            )
            for k in numbers
        ]
        return parts, numbers.index(shown) if shown in numbers else len(parts) - 1


def build(plotter: Any, parts: Sequence[Part], first: int, title: str) -> None:
    """Put a part, a slider over the stages and the colours into a window."""
    limits = (
        float(min(thickness.min() for _, _, thickness in parts)),
        float(max(thickness.max() for _, _, thickness in parts)),
    )

    def show(value: float) -> None:
        name, outline, thickness = parts[round(value) - 1]
        add_part(plotter, outline, thickness, limits)
        add_colours(plotter, 16)
        told = f"{title}\n{name}: {thickness.min():.4f} to {thickness.max():.4f} mm thick"
        plotter.add_text(told, name="told", position="upper_left", font_size=11, color=INK)

    plotter.set_background("white")
    show(first + 1)
    plotter.add_text(HANDS, name="hands", position="lower_right", font_size=7, color=INK)
    if len(parts) > 1:
        plotter.add_slider_widget(
            show,
            (1, len(parts)),
            value=first + 1,
            title="stage",
            pointa=(0.04, 0.86),
            pointb=(0.3, 0.86),
            fmt="%.0f",
            color=INK,
            title_height=0.02,
            tube_width=0.004,
            slider_width=0.02,
        )
    look_into(plotter, parts[first][1])


def main(file: Path, title: str) -> None:
    """Open the window."""
    import pyvista

    plotter: Any = pyvista.Plotter(title=f"formsim: {title}")
    if plotter.render_window.GetClassName() in OFF_SCREEN:
        sys.exit("the screen does not answer")
    build(plotter, *read_parts(file), title)
    plotter.show()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
