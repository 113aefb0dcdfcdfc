"""What the moving section of the page shows: kept states, thinned out and packed small."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.errors import StoreError
from formsim.report.page_top import part_stage
from formsim.report.section import closed_polygon
from formsim.results import store
from formsim.results.curve import way_words
from formsim.results.series_read import Moment, Stop
from formsim.results.tool_motion import StageMotion, states_of

MOST_STATES, MOST_LINES = 260, 300
"""States of a run and lines of a state that a page has room for."""

FULL = 32767
"""Largest packed number, that of 16 bits."""

COLOURS = {
    "level": ("#1f3a7a", "#3a628f", "#5f8592", "#93a283", "#c9b66b", "#f4d35e"),
    "signed": ("#174a8c", "#6f9ac4", "#dcdcd6", "#dc9a63", "#a8480c"),
}
"""Own colour scales: one grows lighter all the way, one goes from blue to orange."""


class Field(NamedTuple):
    """A field of the series that can colour the sheet; ``signed`` ones have a zero that counts."""

    key: str
    label: str
    unit: str
    digits: int
    signed: bool = False


FIELDS = (
    Field("thickness", "thickness", "mm", 4),
    Field("equivalent_plastic_strain", "plastic strain", "", 3),
    Field("meridional_stress", "stress along the sheet, mean", "MPa", 0, signed=True),
    Field("hoop_stress", "stress around the axis, mean", "MPa", 0, signed=True),
    Field("temperature", "temperature", "°C", 0),
)


class _Mesh(NamedTuple):
    """Lines that are shown of a mesh, where they lie before the first stage, thickness there."""

    lines: Ints
    way: Floats
    first: Floats
    flat: bool


def viewer_data(folder: Path, summary: Mapping[str, Any]) -> dict[str, Any]:
    """Section in motion as data for the page.

    Parameters
    ----------
    summary : of the run

    Raises
    ------
    StoreError : the time series is missing, damaged or empty
    """
    found = store.load_stops(folder)
    stops = chosen_stops(found)
    if not stops:
        message = "the time series has no states"
        raise StoreError(message, hint="run the case again")
    meshes: list[_Mesh] = []
    frames, rows = [], []
    fields: tuple[Field, ...] = ()
    motions = store.load_tools(folder)
    for moment in store.load_moments(folder, [stop.number for stop in stops]):
        if not meshes or not _fits(meshes[-1], moment):
            meshes.append(_mesh(moment))
        fields = fields or tuple(f for f in FIELDS if moment.along(f.key) is not None)
        rows.append(_channels(moment, meshes[-1].lines, fields))
        frames.append(_frame(moment.stop, len(meshes) - 1, states_of(found, moment.stop, motions)))
    numbers, scales = packed(rows)
    names = [str(stage["name"]) for stage in summary.get("stages", ())]
    stages = list(_stages(frames, names, motions))
    return {
        "fields": [field._asdict() for field in fields],
        "colours": COLOURS,
        "stages": stages,
        "shown": _first_shown(stages, summary),
        "frames": frames,
        "meshes": [
            {"way": _rounded(mesh.way, 3), "first": _rounded(mesh.first, 5)} for mesh in meshes
        ],
        "flat": meshes[0].flat,
        "place": way_words(flat=meshes[0].flat),
        "scales": scales,
        "numbers": numbers,
    }


def chosen_stops(stops: Sequence[Stop], most: int = MOST_STATES) -> list[Stop]:
    """States that are shown: of every stage the first and last ones, and evenly between."""
    stages = sorted({stop.stage for stop in stops})
    by_stage = [[stop for stop in stops if stop.stage == stage] for stage in stages]
    longest = max((len(own) for own in by_stage), default=0)
    each = next((n for n in range(longest, 3, -1) if _total(by_stage, n) <= most), 3)
    return [stop for own in by_stage for stop in _even(own, each)]


def _total(by_stage: Sequence[Sequence[Stop]], each: int) -> int:
    return sum(min(len(own), each) for own in by_stage)


def _even(own: Sequence[Stop], each: int) -> list[Stop]:
    """At most ``each`` states; the last one under load and the last of all are always there."""
    if len(own) <= each:
        return list(own)
    under_load = [k for k, stop in enumerate(own) if stop.phase < 2]
    last = under_load[-1] if under_load else len(own) - 1
    behind = list(range(last + 1, len(own)))[-1:]
    kept = np.linspace(0, last, each - len(behind)).round().astype(int)
    return [own[k] for k in [*kept.tolist(), *behind]]


def _fits(mesh: _Mesh, moment: Moment) -> bool:
    way = moment.way()[_shown(moment)]
    return way.shape == mesh.way.shape and bool(np.allclose(way, mesh.way, atol=1e-3))


def _mesh(moment: Moment) -> _Mesh:
    lines = _shown(moment)
    thickness, thinning = moment.along("thickness"), moment.along("thinning_percent")
    if thickness is None or thinning is None:
        message = "no thickness in the time series"
        raise StoreError(message, hint="run the case again")
    first = thickness / (1.0 - 0.01 * thinning)
    return _Mesh(lines, moment.way()[lines], first[lines], moment.starts_flat())


def _shown(moment: Moment) -> Ints:
    """Lines that are shown, evenly by number: the mesh is finer where the sheet bends."""
    count = moment.columns.count + 1
    shown: Ints = np.linspace(0, count - 1, min(count, MOST_LINES)).round().astype(np.int64)
    return shown


def _channels(moment: Moment, lines: Ints, fields: Sequence[Field]) -> Floats:
    """Middle, half way from face to face, and fields of the lines shown, (n_channels, n)."""
    low, high = (face.knots[lines] for face in moment.faces())
    values = [*(0.5 * (low + high)).T, *(0.5 * (high - low)).T]
    for field in fields:
        found = moment.along(field.key)
        if found is None:
            message = f"{field.label} is missing in some states"
            raise StoreError(message, hint="run the case again")
        values.append(found[lines])
    return np.stack(values)


def packed(rows: Sequence[Floats]) -> tuple[str, list[list[float]]]:
    """Channels of all states as numbers of 16 bits, one state after the other.

    Parameters
    ----------
    rows : of every state, (n_channels, n); n may differ

    Returns
    -------
    The numbers, little-endian in base64, and offset and step of every channel: a value is
    ``offset + step * number``.
    """
    low = np.min([row.min(axis=1) for row in rows], axis=0)
    high = np.max([row.max(axis=1) for row in rows], axis=0)
    if not np.isfinite([low, high]).all():
        message = "the time series has states that are no numbers"
        raise StoreError(message, hint="run the case again")
    step = np.maximum(high - low, 1e-9) / (2 * FULL)
    middle = 0.5 * (low + high)
    numbers = [np.round((row - middle[:, None]) / step[:, None]).ravel() for row in rows]
    whole = np.concatenate(numbers).clip(-FULL, FULL).astype("<i2")
    text = base64.b64encode(whole.tobytes()).decode("ascii")
    return text, [[float(a), float(b)] for a, b in zip(middle, step, strict=True)]


def _frame(stop: Stop, mesh: int, own: tuple[StageMotion, int] | None) -> dict[str, Any]:
    """A state in words: its stage and phase, stroke and tools where they are known."""
    frame: dict[str, Any] = {
        "stage": stop.stage,
        "phase": store.PHASES[stop.phase],
        "mesh": mesh,
        "stroke": None,
        "tools": [],
    }
    if own is not None:
        motion, k = own
        frame["stroke"] = motion.strokes[k]
        frame["tools"] = [motion.positions[k].get(name) for name in motion.outlines]
    return frame


def _stages(
    frames: Sequence[Mapping[str, Any]], names: Sequence[str], motions: Sequence[StageMotion]
) -> Iterator[dict[str, Any]]:
    for stage in sorted({int(frame["stage"]) for frame in frames}):
        own = [k for k, frame in enumerate(frames) if frame["stage"] == stage]
        tools = motions[stage].outlines if stage < len(motions) else {}
        yield {
            "number": stage + 1,
            "name": names[stage] if stage < len(names) else "not finished",
            "first": own[0],
            "last": own[-1],
            "tools": [
                {"name": name, "points": _rounded(_from_the_axis(closed_polygon(points)), 3)}
                for name, points in tools.items()
            ],
        }


def _from_the_axis(points: Floats) -> Floats:
    """Points of a tool, those beyond the axis put onto it."""
    return np.maximum(points, [0.0, -np.inf])


def _first_shown(stages: Sequence[Mapping[str, Any]], summary: Mapping[str, Any]) -> int:
    """State that is shown first: that of the finished part."""
    part = part_stage(summary) + 1
    ends = [int(stage["last"]) for stage in stages if stage["number"] == part]
    return (ends or [int(stages[-1]["last"])])[-1]


def _rounded(values: Floats, digits: int) -> Any:
    return np.round(values, digits).tolist()
