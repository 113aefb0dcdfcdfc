"""Drawing process of ``render``: reads an outline, writes a picture."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np

from formsim.arrays import Floats
from formsim.report.style import INK, THICKNESS_MAP

FIELD = "sheet thickness [mm]"
OPEN = 0.5 * np.pi
STEPS = 181
SIZE = (1500, 1200)
LIFT = np.radians(28.0)
ROOM = 1.35


def draw(outline: Floats, thickness: Floats, path: Path, caption: str = "") -> None:
    """Picture of the revolved band with a quarter cut away.

    Parameters
    ----------
    outline : bottom and top points of the section, (2, n, 2) [mm]
    thickness : at these points, (n) [mm]
    caption : text above the part
    """
    import pyvista

    plotter: Any = pyvista.Plotter(off_screen=True, window_size=list(SIZE))
    plotter.set_background("white")
    add_part(plotter, outline, thickness, (float(thickness.min()), float(thickness.max())))
    add_colours(plotter, 24)
    plotter.add_text(caption, position=(0.04, 0.94), viewport=True, font_size=13, color=INK)
    look_into(plotter, outline)
    plotter.enable_anti_aliasing("ssaa")
    plotter.screenshot(str(path))
    plotter.close()


def add_part(plotter: Any, outline: Floats, thickness: Floats, limits: tuple[float, float]) -> None:
    """Add the revolved band with a quarter cut away, in place of one that was added before.

    Parameters
    ----------
    outline, thickness : as in ``draw``
    limits : thickness at both ends of the colours [mm]
    """
    for number, surface in enumerate(_surfaces(outline, thickness)):
        plotter.add_mesh(
            surface,
            name=f"part-{number}",
            scalars=FIELD,
            cmap=THICKNESS_MAP,
            clim=limits,
            smooth_shading=False,
            ambient=0.4,
            diffuse=0.65,
            show_scalar_bar=False,
            reset_camera=False,
        )


def add_colours(plotter: Any, size: int) -> None:
    """Add the bar of colours with its unit; ``size`` of its numbers [pt]."""
    for name in list(plotter.scalar_bars.keys()):
        plotter.remove_scalar_bar(name)
    plotter.add_scalar_bar(
        "",
        color=INK,
        fmt="%.3f",
        n_labels=5,
        label_font_size=size,
        width=0.5,
        height=0.07,
        position_x=0.25,
        position_y=0.02,
        unconstrained_font_size=True,
    )
    place = {"position": (0.405, 0.1), "viewport": True}
    plotter.add_text(FIELD, name="unit", font_size=13, color=INK, **place)


def _surfaces(outline: Floats, thickness: Floats) -> list[Any]:
    """The shell and its two cut faces, with the thickness as a field."""
    import pyvista

    loop = np.concatenate([outline[0], outline[1, ::-1]])
    values = np.concatenate([thickness, thickness[::-1]])
    angles = np.linspace(OPEN, 2 * np.pi, STEPS)
    surfaces = [pyvista.StructuredGrid(*_turned(loop, angles))]
    values_of = [np.repeat(values[None], STEPS, axis=0)]
    for angle in (OPEN, 2 * np.pi):
        cut = _turned(outline.reshape(-1, 2), np.array([angle]))
        shape = (2, len(thickness), 1)
        surfaces.append(pyvista.StructuredGrid(*(axis.reshape(shape) for axis in cut)))
        values_of.append(np.stack([thickness, thickness]))
    for surface, field in zip(surfaces, values_of, strict=True):
        surface[FIELD] = field.ravel(order="F")
    return surfaces


def _turned(points: Floats, angles: Floats) -> tuple[Floats, Floats, Floats]:
    """Points of the section at every angle, three arrays (n_angles, n, 1) [mm]."""
    r, z = points[:, 0], points[:, 1]
    x, y = np.outer(np.cos(angles), r), np.outer(np.sin(angles), r)
    return x[..., None], y[..., None], np.broadcast_to(z, x.shape)[..., None].copy()


def look_into(plotter: Any, outline: Floats) -> None:
    """Look into the cut from far away: parallel lines stay parallel, sizes can be compared."""
    radius = float(outline[..., 0].max())
    low, high = float(outline[..., 1].min()), float(outline[..., 1].max())
    middle = 0.5 * (low + high)
    away = 4.0 * max(2 * radius, high - low)
    eye = (away * np.cos(LIFT) * np.sqrt(0.5), away * np.cos(LIFT) * np.sqrt(0.5))
    plotter.camera_position = [
        (*eye, middle + away * np.sin(LIFT)),
        (0.0, 0.0, middle),
        (0.0, 0.0, 1.0),
    ]
    plotter.enable_parallel_projection()
    tall = radius * np.sin(LIFT) + 0.5 * (high - low) * np.cos(LIFT)
    wide = radius * SIZE[1] / SIZE[0]
    plotter.camera.parallel_scale = ROOM * max(tall, wide)
    plotter.camera.focal_point = (0.0, 0.0, middle - 0.1 * plotter.camera.parallel_scale)
    plotter.reset_camera_clipping_range()


if __name__ == "__main__":
    with np.load(sys.argv[1]) as data:
        draw(data["outline"], data["thickness"], Path(sys.argv[2]), sys.argv[3])
