"""Section of the sheet between its tools, coloured by thickness, thinnest place enlarged."""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from formsim.arrays import Bools, Floats
from formsim.geometry.outline import Outline
from formsim.report.style import (
    FAINT,
    INK,
    LABEL,
    THICKNESS_MAP,
    TOOL,
    TOOL_EDGE,
    new_figure,
    plain,
)
from formsim.results.course import course
from formsim.results.curve import Curve, between_lines, bottom_line, middle_line, top_line
from formsim.results.forces import force_curves
from formsim.results.record import Frame, Line, StageRecord
from formsim.results.strength import flowed_line
from formsim.results.thickness import ThicknessProfile, thickness_profile
from formsim.solver.body import Body
from formsim.solver.state import State

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.collections import PolyCollection
    from matplotlib.figure import Figure

PER_ARC = 90

SLENDER, NARROW = 1.1, 34
"""Height over width of a part that leaves no room for a long title, and the width of its lines."""

NEAR, AROUND = 5.0, 16.0
"""Half width in thicknesses of what is enlarged: beside the thinnest place, where a body folds."""

SHADES, OUTLINE = 96, 2.2
"""Shades of the whole sheet, whose neighbours of one shade are one shape; width of its outline."""

LET_GO = 0.05
"""Share of the largest force below which a part has left its tools."""

Box = tuple[float, float, float, float]


def section_figure(line: Line, stage: int) -> Figure:
    """Section under load between the tools; ``stage`` from 0.

    At the last stroke of the stage or, where the part has left its tools by then, at the kept
    state of the largest force. A body that was tested until it gave way is shown at its largest
    load, enlarged where most metal flows, and in outline as it is after that.
    """
    record = line.stages[stage]
    body, (state, moment) = record.body, _shown(record)
    profile = thickness_profile(body, state)
    tools = placed_tools(record, state)
    figure = new_figure(10.0, 5.0)
    whole, detail = figure.subplots(1, 2, width_ratios=(1.25, 1.0))
    after = _gave_way(record)
    box = _whole_box(np.concatenate([s.places(body) for s in (state, after) if s is not None]))
    place = int(profile.thickness.argmin()) if after is None else flowed_line(record)
    zoom = _zoom_box(profile, place, (NEAR if after is None else AROUND) * line.thickness)
    for axes, limits in ((whole, box), (detail, zoom)):
        _draw_tools(axes, tools, limits, named=axes is whole)
        shapes = np.array(column_shapes(body, state))
        sheet = _draw_sheet(axes, shapes, profile, limits if axes is detail else None)
        _frame(axes, limits)
    if after is None:
        _mark_thinnest(detail, profile)
    else:
        _draw_outline((whole, detail), body, after)
        detail.set_title("where most metal flows until it gives way")
    _box_in(detail)
    whole.spines["left"].set_linestyle((0, (12, 3, 2, 3)))
    whole.add_patch(_rectangle(zoom))
    title = f"{record.name}: {moment}"
    slender = box[3] - box[2] > SLENDER * box[1]
    whole.set_title(textwrap.fill(title, NARROW) if slender else title)
    bar = figure.colorbar(sheet, ax=detail, shrink=0.8, pad=0.03)
    bar.set_label("sheet thickness [mm]")
    return figure


def _shown(record: StageRecord) -> tuple[State, str]:
    """State of a stage that its section shows, and which one it is."""
    if record.complete and record.worst is not None:
        dashed = "; dashed: after it gave way" if _gave_way(record) is not None else ""
        return record.worst, f"at its largest {_largest(record)}{dashed}"
    working = peak_frame(record)
    state = record.formed if working is None else working.state
    return state, _moment(record, working)


def _gave_way(record: StageRecord) -> State | None:
    """Last state of a body that was tested until it gave way; None for any other."""
    tested = record.specimen and record.complete
    return record.formed if tested and course(record).gave_way else None


def _largest(record: StageRecord) -> str:
    most = course(record).largest
    if record.kind == "top_load":
        return f"load, {1e-3 * most:.3f} kN"
    return f"pressure, {most:.3f} MPa"


def peak_frame(record: StageRecord) -> Frame | None:
    """Kept state next to the largest tool force, where the finished part is free of its tools."""
    frames = [frame for frame in record.frames if frame.phase == "forming"]
    if not record.complete or not record.tools or not record.increments or not frames:
        return None
    curves = force_curves(record)
    force = np.abs(curves.force).max(axis=1)
    if force[-1] > LET_GO * force.max():
        return None
    peak = float(curves.stroke[int(force.argmax())])
    return min(frames, key=lambda frame: abs(frame.stroke - peak))


def _moment(record: StageRecord, working: Frame | None) -> str:
    if not record.increments:
        return record.loaded
    if working is not None:
        return f"near the largest force, stroke {working.stroke:.2f} of {record.stroke:.2f} mm"
    stroke = record.stroke
    if record.complete or record.release:
        return f"under load at the end of the stroke, {stroke:.2f} mm"
    return f"under load, stopped at stroke {stroke:.3f} mm ({record.ending})"


def placed_tools(record: StageRecord, state: State) -> dict[str, Outline]:
    """Outlines where the tools stand in a state of a stage under load."""
    positions = state.positions
    return {
        tool.name: tool.outline.moved(0.0, float(positions[k]))
        for k, tool in enumerate(record.tools)
        if k < len(positions)
    }


def column_shapes(body: Body, state: State) -> list[Floats]:
    """Outline of every column, faces curved as the elements are, (8, 2) each [mm]."""
    places = state.places(body)
    bottom, top = bottom_line(body, places), top_line(body, places)
    low, high = _points(bottom), _points(top)[:, ::-1]
    return list(np.concatenate([low, high], axis=1))


def _points(face: Curve) -> Floats:
    """Four points along every piece of a face, (n_columns, 4, 2) [mm]."""
    n = len(face.middles)
    place = np.arange(n)[:, None] + np.array([0.0, 1 / 3, 2 / 3, 1.0 - 1e-12])
    return face.at(place.ravel()).reshape(n, 4, 2)


def _draw_sheet(
    axes: Axes, shapes: Floats, profile: ThicknessProfile, box: Box | None
) -> PolyCollection:
    """The sheet on an outline in ink, so that every colour stands out on a light or a dark page.

    Parameters
    ----------
    shapes : of all columns, (n_columns, 8, 2) [mm]
    box : what is enlarged, where single columns are told apart; None for the whole sheet
    """
    from matplotlib.collections import PolyCollection

    thickness = between_lines(profile.thickness)
    low, high = float(thickness.min()), float(thickness.max())
    if box is None:
        shades = np.rint((thickness - low) / max(high - low, 1e-12) * SHADES).astype(np.int64)
        runs = _runs(shades)
        drawn = [_outline(shapes[run]) for run in runs]
        values = [float(thickness[run].mean()) for run in runs]
        whole = [_outline(shapes)]
    else:
        inside = _reaches(shapes, box)
        drawn, values = list(shapes[inside]), thickness[inside].tolist()
        whole = [_outline(shapes[run]) for run in _runs(inside) if inside[run.start]]
    for line in whole:
        axes.plot(*np.concatenate([line, line[:1]]).T, color=INK, lw=OUTLINE, zorder=2.9)
    sheet = PolyCollection(drawn, array=values, cmap=THICKNESS_MAP, clim=(low, high))
    sheet.set_edgecolor("face" if box is None else "white")
    sheet.set_linewidth(0.9 if box is None else 0.3)
    sheet.set_zorder(3)
    axes.add_collection(sheet)
    return sheet


def _runs(labels: NDArray[Any]) -> list[slice]:
    """Neighbours with equal labels."""
    ends = [0, *(np.flatnonzero(np.diff(labels)) + 1).tolist(), len(labels)]
    return [slice(first, last) for first, last in itertools.pairwise(ends)]


def _outline(shapes: Floats) -> Floats:
    """Outline of columns side by side by the ends of their faces, (2 n + 2, 2) [mm]."""
    low = np.concatenate([shapes[:, 0], shapes[-1:, 3]])
    high = np.concatenate([shapes[:, 7], shapes[-1:, 4]])
    return np.concatenate([low, high[::-1]])


def _reaches(shapes: Floats, box: Box) -> Bools:
    """Columns that lie in a box or reach into it, (n_columns)."""
    least, most = shapes.min(axis=1), shapes.max(axis=1)
    across = (most[:, 0] >= box[0]) & (least[:, 0] <= box[1])
    reached: Bools = across & (most[:, 1] >= box[2]) & (least[:, 1] <= box[3])
    return reached


def _draw_outline(places: Sequence[Axes], body: Body, state: State) -> None:
    """Middle of the sheet in another state, dashed."""
    points = _points(middle_line(body, state.places(body))).reshape(-1, 2)
    for axes in places:
        axes.plot(*points.T, color=INK, linewidth=0.9, linestyle=(0, (5, 2)), zorder=4)


def _draw_tools(axes: Axes, tools: dict[str, Outline], box: Box, *, named: bool) -> None:
    for name, outline in tools.items():
        polygon = tool_polygon(outline)
        axes.fill(*polygon.T, facecolor=TOOL, edgecolor=TOOL_EDGE, linewidth=0.8, zorder=1)
        spot = label_spot(polygon, box) if named else None
        if spot is not None:
            axes.text(*spot, name, ha="center", va="center", color=LABEL, zorder=2)


def tool_polygon(outline: Outline) -> Floats:
    """Closed outline of a tool, (n, 2) [mm]."""
    return closed_polygon(outline.points(per_arc=PER_ARC))


def closed_polygon(points: Floats) -> Floats:
    """Points along a tool, its open ends joined through its far corner, (n + 1, 2) [mm]."""
    first, last = points[0], points[-1]
    far, near = (first, last) if abs(first[1]) > abs(last[1]) else (last, first)
    return np.concatenate([points, [[near[0], far[1]]]])


def label_spot(polygon: Floats, box: Box) -> tuple[float, float] | None:
    """Point of a polygon inside a box that is farthest from the borders of both."""
    from matplotlib.path import Path
    from scipy.ndimage import distance_transform_edt

    r, z = np.linspace(box[0], box[1], 120), np.linspace(box[2], box[3], 120)
    grid = np.stack(np.meshgrid(r, z), axis=-1)
    inside = Path(polygon).contains_points(grid.reshape(-1, 2)).reshape(120, 120)
    depth = distance_transform_edt(np.pad(inside, 1), sampling=(z[1] - z[0], r[1] - r[0]))
    depth = depth[1:-1, 1:-1]
    if depth.max() < 0.02 * (box[3] - box[2]):
        return None
    k, j = np.unravel_index(int(depth.argmax()), depth.shape)
    return float(r[j]), float(z[k])


def _whole_box(places: Floats) -> Box:
    right = float(places[:, 0].max())
    low, high = float(places[:, 1].min()), float(places[:, 1].max())
    margin = 0.12 * max(right, high - low)
    return 0.0, right + margin, low - margin, high + margin


def _zoom_box(profile: ThicknessProfile, k: int, half: float) -> Box:
    r, z = float(profile.radius[k]), float(profile.z[k])
    left = max(0.0, r - half)
    return left, left + 2 * half, z - half, z + half


def _rectangle(box: Box) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle(
        (box[0], box[2]), box[1] - box[0], box[3] - box[2], fill=False, color=INK, lw=0.8, zorder=5
    )


def _frame(axes: Axes, box: Box) -> None:
    plain(axes)
    axes.set_xlim(box[0], box[1])
    axes.set_ylim(box[2], box[3])
    axes.set_xlabel("radius [mm]")
    axes.set_ylabel("height [mm]")


def _box_in(axes: Axes) -> None:
    axes.spines[["top", "right"]].set_visible(True)
    axes.spines[:].set_color(FAINT)


def _mark_thinnest(axes: Axes, profile: ThicknessProfile) -> None:
    k = int(profile.thickness.argmin())
    t, thinning = profile.thickness[k], profile.thinning_percent[k]
    where = f"{t:.4f} mm ({thinning:.2f} % thinner) at R {profile.original_radius[k]:.1f} mm"
    measured = ", by volume: kinked" if profile.kinked[k] else ""
    axes.set_title(f"thinnest place{measured}\n{where}", linespacing=1.4)
    normal = np.array([-np.sin(profile.slope[k]), np.cos(profile.slope[k])])
    centre = np.array([profile.radius[k], profile.z[k]])
    for side in (-1.0, 1.0):
        face = centre + side * 0.5 * t * normal
        axes.annotate(
            "",
            xy=face,
            xytext=face + side * 2.2 * t * normal,
            arrowprops={"arrowstyle": "-|>", "color": INK, "lw": 0.9, "shrinkA": 0, "shrinkB": 0},
            zorder=6,
        )
