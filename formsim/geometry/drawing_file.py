"""A DXF file opened for one of its layers: is it sound, in which unit, is the layer there."""

from __future__ import annotations

import logging
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from formsim.case.drawing import LARGEST
from formsim.case.file_bytes import UnreadableError, file_bytes, files_beside
from formsim.case.units import UNITS
from formsim.errors import DrawingError
from formsim.geometry.outline import Point

UNIT_CODES = MappingProxyType({1: "inch", 4: "mm", 5: "cm", 6: "m"})
"""Units of a drawing by the number in its header."""

_MM = MappingProxyType({unit: UNITS["length"][unit] for unit in ("mm", "cm", "m", "inch", "in")})


@dataclass(frozen=True)
class Source:
    """Where an outline is read from, as messages name it.

    Attributes
    ----------
    unit, factor : unit of the drawing and its length [mm]
    """

    file: str
    layer: str
    unit: str = "mm"
    factor: float = 1.0

    def spot(self, place: Point) -> str:
        """Words for a place [mm], in the coordinates and the unit of the drawing."""
        x, y = (f"{_tidy(value / self.factor):.6g}" for value in place)
        return f"x = {x}, y = {y} {self.unit}"

    def fault(
        self, message: str, hint: str, *, entity: str = "", place: Point | None = None
    ) -> DrawingError:
        """Error at a place [mm] of this drawing."""
        at = None if place is None else (place[0] / self.factor, place[1] / self.factor)
        return DrawingError(
            message, file=self.file, layer=self.layer, entity=entity, place=at, hint=hint
        )


def _tidy(value: float) -> float:
    return 0.0 if abs(value) < 1e-9 else value


def open_layer(path: Path, layer: str, unit: str | None) -> tuple[Source, list[Any], list[str]]:
    """Entities on a layer, where they come from, and notes on what was assumed.

    Raises
    ------
    DrawingError : the file, its unit or the layer cannot be used
    """
    data = _data(path)
    document = _document(path)
    stated = int(document.header.get("$INSUNITS", 0)) if b"$INSUNITS" in data else 0
    source, notes = _scaled(path.name, layer, stated, unit)
    return source, _on_layer(document, source), notes


def _data(path: Path) -> bytes:
    try:
        data = file_bytes(path, LARGEST, "a DXF file")
    except UnreadableError as error:
        if error.absent:
            hint = files_beside(path, ".dxf") or "check the path"
            raise _no_drawing(path, error.reason, hint) from None
        hint = "save the tool outlines alone in a drawing, as DXF"
        raise _no_drawing(path, error.reason, hint) from None
    if data.startswith(b"AC10") and b"SECTION" not in data[:200]:
        raise _no_drawing(path, "is a DWG file, expected DXF", "save it as DXF in CAD")
    return data


def _no_drawing(path: Path, message: str, hint: str = "save the drawing again as DXF") -> Exception:
    return DrawingError(message, file=path.name or str(path), hint=hint)


def _document(path: Path) -> Any:
    from ezdxf.filemanagement import readfile

    logger = logging.getLogger("ezdxf")
    if not logger.handlers:
        logger.addHandler(logging.NullHandler())
    try:
        document = readfile(path)
        document.modelspace()
    except OSError:
        message = "is not a DXF file"
        raise _no_drawing(path, message, "save the drawing as DXF in CAD, text or binary") from None
    # A damaged file makes the reader fail in any of its parts, with any kind of error.
    except Exception as error:
        reason = str(error).rstrip(".") or "it ends too early"
        message = f"is damaged and cannot be read as DXF: {reason}"
        raise _no_drawing(path, message, "save it again in CAD, or run the repair there") from None
    return document


def _scaled(file: str, layer: str, stated: int, unit: str | None) -> tuple[Source, list[str]]:
    known = ", ".join(name for name in _MM if name != "in")
    plain = Source(file, layer)
    if unit is not None and unit not in _MM:
        message = f'the unit "{unit}" is not known; expected one of {known}'
        raise plain.fault(message, "give the unit in which the drawing is drawn")
    says = UNIT_CODES.get(stated)
    if unit is None and says is None:
        what = "has no unit" if stated == 0 else f"has a unit ($INSUNITS = {stated}) not known here"
        message = f"the drawing {what}; expected one of {known}"
        raise plain.fault(message, f"set the unit of the drawing in CAD, or give unit: {known}")
    name = unit or says or ""
    name = "inch" if name == "in" else name
    differs = unit is not None and says not in (None, name)
    notes = [f"the drawing says {says}; read in {name}, as asked for"] if differs else []
    return Source(file, layer, name, _MM[name]), notes


def _layer_of(entity: Any) -> str:
    """Layer of an entity; types the library does not know have it among their raw tags."""
    known = getattr(entity.dxf, "layer", None)
    if known is not None:
        return str(known)
    parts = getattr(getattr(entity, "xtags", None), "subclasses", [])
    return next((str(tag.value) for part in parts for tag in part if tag.code == 8), "0")


def _on_layer(document: Any, source: Source) -> list[Any]:
    """Entities of a layer in model space; layer names know no upper and lower case."""
    wanted = source.layer.casefold()
    counts: Counter[str] = Counter()
    found = []
    for entity in document.modelspace():
        name = _layer_of(entity)
        counts[name] += 1
        if name.casefold() == wanted:
            found.append(entity)
    if found:
        return found
    listed = [str(one.dxf.name) for one in document.layers]
    there = ", ".join(f"{name} ({count})" for name, count in sorted(counts.items()))
    hint = f"layers with something on them: {there}" if there else "the model space is empty"
    if wanted in (name.casefold() for name in listed):
        message = "the layer is empty; expected the lines and arcs of one outline in model space"
        raise source.fault(message, hint)
    more = sorted(set(listed) - set(counts))
    empty = f"; empty layers: {', '.join(more)}" if more else ""
    message = "there is no such layer in the drawing"
    raise source.fault(message, hint + empty)
