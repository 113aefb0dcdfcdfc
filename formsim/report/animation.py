"""Animation of the section over all stages, as a GIF."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from formsim.arrays import Floats
from formsim.errors import StoreError
from formsim.report.section import Box, closed_polygon, label_spot
from formsim.report.style import LABEL, THICKNESS_MAP, TOOL, TOOL_EDGE, new_figure, plain, styled
from formsim.report.viewer_data import chosen_stops
from formsim.results import store
from formsim.results.curve import between_lines
from formsim.results.series_read import Moment, Stop
from formsim.results.tool_motion import StageMotion, states_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST = 150
"""States of an animation."""

PER_SECOND, DOTS_PER_INCH = 12, 90
SIZE, PLACE = (7.0, 5.6), (0.1, 0.1, 0.74, 0.82)
"""Width and height of a picture [inch]; left, bottom, width and height of the axes in shares."""

MARGIN = 0.08


def save_animation(folder: Path, names: Sequence[str], path: Path) -> Path:
    """Section of the sheet between its tools in the kept states of all stages.

    Parameters
    ----------
    names : of the stages
    path : the GIF to write

    Raises
    ------
    StoreError : the time series is missing, damaged or empty
    """
    from matplotlib.animation import PillowWriter

    stops = store.load_stops(folder)
    chosen = chosen_stops(stops, most=MOST)
    if not chosen:
        message = "the time series has no states"
        raise StoreError(message, hint="run the case again")
    moments = list(store.load_moments(folder, [stop.number for stop in chosen]))
    motions = store.load_tools(folder)
    with styled():
        figure, axes, sheet = _empty(moments)
        writer = PillowWriter(fps=PER_SECOND)
        with writer.saving(figure, str(path), DOTS_PER_INCH):
            for moment in moments:
                box = _box([m for m in moments if m.stop.stage == moment.stop.stage])
                own = states_of(stops, moment.stop, motions)
                _show(sheet, moment)
                _show_tools(axes, own, box)
                axes.set_xlim(box[0], box[1])
                axes.set_ylim(box[2], box[3])
                axes.set_title(_title(moment.stop, names, own))
                writer.grab_frame()
    return path


def _empty(moments: Sequence[Moment]) -> tuple[Figure, Axes, Any]:
    """Figure with axes that keep their place, and the sheet in the colours of the whole run."""
    figure = new_figure(*SIZE)
    figure.set_layout_engine("none")
    axes, sheet = figure.add_axes(PLACE), _sheet(moments)
    axes.add_collection(sheet)
    bar = figure.colorbar(sheet, cax=figure.add_axes((0.86, 0.2, 0.025, 0.6)))
    bar.set_label("sheet thickness [mm]")
    bar.ax.grid(visible=False)
    plain(axes)
    axes.set_xlabel("across the axis [mm]")
    axes.set_ylabel("height [mm]")
    return figure, axes, sheet


def _sheet(moments: Sequence[Moment]) -> Any:
    """Empty sheet with the colours of the whole run."""
    from matplotlib.collections import PolyCollection

    every = [_thickness(moment) for moment in moments]
    sheet = PolyCollection([], cmap=THICKNESS_MAP, linewidths=1.2, zorder=3)
    sheet.set_clim(min(float(t.min()) for t in every), max(float(t.max()) for t in every))
    return sheet


def _thickness(moment: Moment) -> Floats:
    thickness = moment.along("thickness")
    if thickness is None:
        message = "no thickness in the time series"
        raise StoreError(message, hint="run the case again")
    return thickness


def _show(sheet: Any, moment: Moment) -> None:
    """Both halves of the section."""
    low, high = moment.faces()
    around = (low.knots[:-1], low.middles, low.knots[1:])
    back = (high.knots[1:], high.middles, high.knots[:-1])
    half, values = np.stack([*around, *back], axis=1), between_lines(_thickness(moment))
    sheet.set_verts(np.concatenate([half, half * [-1.0, 1.0]]))
    sheet.set_array(np.tile(values, 2))
    sheet.set_edgecolor("face")


def _show_tools(axes: Axes, own: tuple[StageMotion, int] | None, box: Box) -> None:
    for drawn in [*axes.patches, *axes.texts]:
        drawn.remove()
    if own is None:
        return
    motion, state = own
    for name, z in motion.positions[state].items():
        polygon = closed_polygon(motion.outlines[name]) + [0.0, z]
        for side in (1.0, -1.0):
            across = side * np.maximum(polygon[:, 0], 0.0)
            axes.fill(across, polygon[:, 1], facecolor=TOOL, edgecolor=TOOL_EDGE, linewidth=0.8)
        spot = label_spot(polygon, (0.0, *box[1:]))
        if spot is not None:
            axes.text(*spot, name, ha="center", va="center", color=LABEL)


def _box(moments: Sequence[Moment]) -> Box:
    """Part of the plane that holds all places of a stage and has the sides of the axes."""
    places = np.concatenate([moment.places for moment in moments])
    z = places[:, 1]
    right, low, high = (float(x) for x in (places[:, 0].max(), z.min(), z.max()))
    wide, tall = SIZE[0] * PLACE[2], SIZE[1] * PLACE[3]
    scale = (1.0 + 2.0 * MARGIN) * max(2.0 * right / wide, (high - low) / tall)
    middle = 0.5 * (low + high)
    across, up = 0.5 * wide * scale, 0.5 * tall * scale
    return -across, across, middle - up, middle + up


def _title(stop: Stop, names: Sequence[str], own: tuple[StageMotion, int] | None) -> str:
    name = names[stop.stage] if stop.stage < len(names) else "not finished"
    where = ("before the stroke", "under load", "after springback")[stop.phase]
    if own is not None and stop.phase == 1:
        where = f"stroke {own[0].strokes[own[1]]:.2f} mm"
    return f"{stop.stage + 1} {name}: {where}"
