"""The numbers of a run one looks at first, by stage and name, read off its summary."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

Row = Mapping[str, Any]

THINNING, THICKNESS, HEIGHT = "largest thinning", "smallest thickness", "height"
FORCE, PRESSURE = "peak force, ", "peak pressure"
LIMIT_PRESSURE, CRUSH_LOAD = "limit pressure", "crush load"


@dataclass(frozen=True)
class Number:
    """A number of a stage, in ``unit``.

    Attributes
    ----------
    stage, name : where and what
    value : the number
    unit : empty for a ratio
    low, high : bounds by the case, None for none
    place : zone it was found in, empty where it has none
    """

    stage: str
    name: str
    value: float
    unit: str
    low: float | None = None
    high: float | None = None
    place: str = ""


def headline(summary: Row) -> dict[tuple[str, str], Number]:
    """Numbers of a summary by stage and name; limits and expectations of the case are among them.

    A stage that was not made to its end has none, nor has a body that came to no limit. Units are
    those of the summary.
    """
    found: dict[tuple[str, str], Number] = {}
    for stage in summary["stages"]:
        if not stage["complete"]:
            continue
        for number in _of_stage(stage):
            found[number.stage, number.name] = number
    for check in summary["checks"]:
        if check["kind"] == "trust" or check["computed"] is None:
            continue
        stage, _, told = str(check["name"]).partition(": ")
        name, _, place = told.partition(", ")
        known = found.get((stage, name))
        number = known or Number(stage, name, check["computed"], check["unit"], place=place)
        found[stage, name] = replace(number, low=check["low"], high=check["high"])
    order = {str(stage["name"]): place for place, stage in enumerate(summary["stages"])}
    return dict(sorted(found.items(), key=lambda item: order.get(item[1].stage, -1)))


def _of_stage(stage: Row) -> Iterator[Number]:
    name, place = str(stage["name"]), str(stage["min_thickness_zone"])
    yield Number(name, THICKNESS, stage["min_thickness"], "mm", place=place)
    yield Number(name, THINNING, stage["max_thinning_percent"], "%", place=place)
    yield Number(name, HEIGHT, stage["height"], "mm")
    for what, value, unit in (*_forces(stage), *_shapes(stage), *_rings(stage), *_tested(stage)):
        if value is not None:
            yield Number(name, what, float(value), unit)


def _forces(stage: Row) -> Iterator[tuple[str, float | None, str]]:
    for tool, force in stage["peak_force"].items():
        yield f"{FORCE}{tool}", force, "N"
    yield "work", stage.get("energy", {}).get("external") or None, "J"
    if "neck" in stage:
        yield "axial load", stage["neck"]["load"], "N"
    if "pressurise" not in stage:
        yield PRESSURE, stage.get("peak_pressure"), "MPa"


def _shapes(stage: Row) -> Iterator[tuple[str, float | None, str]]:
    yield "dome depth", stage.get("dome_depth"), "mm"
    yield "stand diameter", stage.get("stand_diameter"), "mm"
    for key, keys in (("neck", ("diameter", "thickness")), ("flange", ("width", "thickness"))):
        for what in keys:
            yield f"{key} {what}", stage.get(key, {}).get(what), "mm"


def _rings(stage: Row) -> Iterator[tuple[str, float | None, str]]:
    for ring in stage.get("rings", ()):
        yield f"mean force, {ring['name']}", ring["mean_force"], "N"
        yield f"wall behind {ring['name']}", ring["exit_thickness"], "mm"


def _tested(stage: Row) -> Iterator[tuple[str, float | None, str]]:
    yield LIMIT_PRESSURE, stage.get("pressurise", {}).get("limit"), "MPa"
    yield CRUSH_LOAD, stage.get("top_load", {}).get("crush_load"), "N"
