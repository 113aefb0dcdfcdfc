"""Defaults that depend on other values of the file: stage names and tool details."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, TypeAdapter
from pydantic_core import PydanticCustomError

from formsim.case.base import THICKNESS
from formsim.case.start import Cup, Start, Tube, equal_disc

if TYPE_CHECKING:
    from formsim.case.earlier import Earlier

_DIE = (("die", "land", 10.0), ("die", "relief", 2.0))
_HELD = (("edge_radius", 5.0), ("clearance", 2.0))
IN_THICKNESSES = (
    *((kind, *size) for kind in ("draw", "redraw", "stroke") for size in _DIE),
    *(("draw", "holder", *size) for size in _HELD),
    *((kind, "sleeve", *size) for kind in ("redraw", "stroke") for size in _HELD),
)
"""Kind, tool, dimension and its default in sheet thicknesses; common practice, no source."""

ANY_DISC = 1000.0
"""Stands for the disc of a start that is faulty itself, so that only its own fault is told [mm]."""


TESTS, TESTED_LAYERS = ("pressurise", "top_load"), 3
"""Kinds of stage that test a body, and the layers of its mesh: with two the stress that ironing
leaves from face to face depends on the columns, and the load it folds at by 2 %."""

OF_THE_LINE = ("sheet", "mesh")
"""Tables that a case which starts from a result has from there."""


def filled(raw: Mapping[str, Any], earlier: Earlier | None = None) -> dict[str, Any]:
    """Copy of a raw case with stage names and thickness-scaled tool details filled in.

    Sheet and mesh come from the result the case starts from, where it does.
    """
    full: dict[str, Any] = {key: _plain(value) for key, value in raw.items()}
    if starts_from_result(full):
        for key in OF_THE_LINE:
            full.pop(key, None)
            if earlier is not None:
                full[key] = _plain(getattr(earlier, key))
    _set_disc(full)
    stages = full.get("stage")
    if not isinstance(stages, list):
        return full
    tables = [stage for stage in stages if isinstance(stage, dict)]
    _name_stages(tables)
    _set_layers(full, tables)
    thickness = _thickness(full)
    if thickness is not None:
        for stage in tables:
            _scale_details(stage, thickness)
    return full


def starts_from_result(raw: Mapping[str, Any]) -> bool:
    """Whether a raw case asks to start from a finished result."""
    start = _plain(raw.get("start"))
    return isinstance(start, dict) and start.get("kind") == "result"


def given_keys(raw: Any, path: str = "") -> Iterator[str]:
    """Key paths of all values a raw case gives itself; a list of numbers is one value."""
    value = _plain(raw) if path == "" else raw
    if isinstance(value, dict):
        for key, item in value.items():
            yield from given_keys(item, f"{path}.{key}" if path else key)
    elif isinstance(value, list) and any(isinstance(item, dict) for item in value):
        for index, item in enumerate(value):
            yield from given_keys(item, f"{path}[{index}]")
    else:
        yield path


def _plain(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return _plain(value.model_dump(exclude_unset=True))
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value


def _name_stages(stages: list[dict[str, Any]]) -> None:
    taken = {str(stage["name"]) for stage in stages if stage.get("name")}
    for stage in stages:
        kind = stage.get("kind")
        if stage.get("name") or "name" in stage or not isinstance(kind, str):
            continue
        name, number = kind, 1
        while name in taken:
            number += 1
            name = f"{kind}-{number}"
        taken.add(name)
        stage["name"] = name


def _set_layers(full: dict[str, Any], stages: list[dict[str, Any]]) -> None:
    """Give the mesh of a body that is tested more layers, where the case does not say how many."""
    tested = any(stage.get("kind") in TESTS for stage in stages)
    if not tested or starts_from_result(full):
        return
    mesh = full.setdefault("mesh", {})
    if isinstance(mesh, dict):
        mesh.setdefault("layers", TESTED_LAYERS)


def _set_disc(full: Mapping[str, Any]) -> None:
    """Give the sheet of a tube or cup the diameter of a disc of the same area."""
    sheet, start = full.get("sheet"), full.get("start")
    if start is None or not isinstance(sheet, dict) or "blank_diameter" in sheet:
        return
    thickness, disc = _thickness(full), ANY_DISC
    if thickness is not None:
        try:
            given = TypeAdapter(Start).validate_python(start)
        except ValueError:
            given = None
        disc = equal_disc(given, thickness) if isinstance(given, Tube | Cup) else ANY_DISC
    sheet["blank_diameter"] = disc


def _thickness(full: Mapping[str, Any]) -> float | None:
    sheet = full.get("sheet")
    if not isinstance(sheet, dict) or "thickness" not in sheet:
        return None
    try:
        return float(THICKNESS.read(sheet["thickness"]))
    except PydanticCustomError:
        return None


def _scale_details(stage: dict[str, Any], thickness: float) -> None:
    for kind, tool, dimension, factor in IN_THICKNESSES:
        table = stage.get(tool)
        if stage.get("kind") == kind and isinstance(table, dict):
            table.setdefault(dimension, float(f"{factor * thickness:.12g}"))
