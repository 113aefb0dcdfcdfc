"""Outlines of the tools of a stage, and where they stand in every kept state."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from formsim.arrays import Floats
from formsim.errors import StoreError
from formsim.results.files import check_format, read_text
from formsim.results.record import StageRecord
from formsim.results.series_read import Stop

PER_ARC = 48
DIGITS = 5


@dataclass(frozen=True)
class StageMotion:
    """Tools of a stage.

    Attributes
    ----------
    outlines : of each tool by name, where its position is 0, (n, 2) [mm]
    phases, strokes : of the kept states, in their order [mm]
    positions : way along the axis of each tool in these states [mm]; empty once tools have left
    """

    name: str
    outlines: Mapping[str, Floats]
    phases: tuple[str, ...]
    strokes: tuple[float, ...]
    positions: tuple[Mapping[str, float], ...]


def motion_of(record: StageRecord) -> dict[str, Any]:
    """Tools of a stage as data for a file, places rounded to 1e-5 mm."""
    return {
        "stage": record.name,
        "tools": {
            tool.name: np.round(tool.outline.points(per_arc=PER_ARC), DIGITS).tolist()
            for tool in record.tools
        },
        "states": [
            {
                "phase": frame.phase,
                "stroke": round(frame.stroke, DIGITS),
                "positions": {name: round(z, DIGITS) for name, z in frame.positions.items()},
            }
            for frame in record.frames
        ],
    }


def parse_motion(file: Path) -> tuple[StageMotion, ...]:
    """Tools of all stages from a file.

    Raises
    ------
    StoreError : it is missing, damaged or of another format
    """
    try:
        data = json.loads(read_text(file))
        stages = tuple(_stage(stage) for stage in data["stages"])
        found = data["format"]
    except (json.JSONDecodeError, AttributeError, KeyError, TypeError, ValueError) as error:
        message = f"{file} is damaged: {type(error).__name__} {error}"
        raise StoreError(message, hint="run the case again") from error
    check_format(file, found)
    return stages


def states_of(
    stops: Sequence[Stop], stop: Stop, motions: Sequence[StageMotion]
) -> tuple[StageMotion, int] | None:
    """Tools of the stage of a step, and which of its kept states the step is; None where unknown.

    Parameters
    ----------
    stops : all steps of the series
    """
    own = [other.number for other in stops if other.stage == stop.stage]
    if stop.stage >= len(motions) or len(motions[stop.stage].strokes) != len(own):
        return None
    return motions[stop.stage], own.index(stop.number)


def _stage(stage: Mapping[str, Any]) -> StageMotion:
    states = stage["states"]
    return StageMotion(
        name=str(stage["stage"]),
        outlines={
            name: np.asarray(points, dtype=float).reshape(-1, 2)
            for name, points in stage["tools"].items()
        },
        phases=tuple(str(state["phase"]) for state in states),
        strokes=tuple(float(state["stroke"]) for state in states),
        positions=tuple(
            {name: float(z) for name, z in state["positions"].items()} for state in states
        ),
    )
