"""The material of a case that is named, read from a card file, or completed from either."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import ValidationInfo

from formsim.case.base import LONGEST
from formsim.case.library import completion, missing, named
from formsim.case.lines import Origin, key_lines, line_of
from formsim.case.quantity import refuse
from formsim.case.toml_file import tables_of, text_of
from formsim.case.toml_text import inline, toml_text
from formsim.errors import CaseError

KNOWN = 'expected the name of a card file such as "my_sheet.toml", relative to the case file'

OTHER_CURVE = "NOT FOUND WITH THE FLOW CURVE OF THIS CASE, find it anew: "
"""What a critical damage says of itself once the flow curve of its card was replaced."""


def resolve(material: Any, info: ValidationInfo) -> Any:
    """Raw card for what a case says of its material; a table of its own passes unchanged."""
    return resolved(material, info.context.folder if isinstance(info.context, Origin) else Path())


def resolved(material: Any, folder: Path) -> Any:
    """Raw card, with files found in a folder.

    A text names a library material. A table with ``card`` starts from a card file, one with
    ``base`` from a library material that may be incomplete; keys beside these take the place of
    those it has, and the source of a replaced value goes.
    """
    if isinstance(material, str):
        return _complete(material)
    if not isinstance(material, Mapping):
        return material
    if "card" in material and "base" in material:
        refuse("expected card, or base, not both: each names where the values come from")
    own = {key: value for key, value in material.items() if key not in ("card", "base")}
    if "card" in material:
        start = _from_base(read_card(material["card"], folder))
        return completed(start, own, f"card file {material['card']}")
    return _from_base(material)


def completed(start: Mapping[str, Any], own: Mapping[str, Any], where: str) -> dict[str, Any]:
    """A raw card with keys of the user's own in place of those it had or lacked."""
    if not own:
        return dict(start)
    told = {key: text for key, text in start.get("sources", {}).items() if key not in own}
    replaced = [key for key in own if key not in ("name", "source", "sources", "invented")]
    source = f"{start.get('source', where)}; the user's own: {', '.join(replaced) or 'none'}"
    merged = {**start, "source": source, **own}
    if "flow" in own and "tested" not in own:
        merged.pop("tested", None)
    if "flow" in own and "damage" not in own and "damage" in start:
        merged["damage"] = _of_another_curve(start["damage"])
    if "name" not in own and replaced:
        merged["name"] = f"{start.get('name', 'card')}-completed"[:60]
    sources = own.get("sources", {})
    merged["sources"] = {**told, **sources} if isinstance(sources, Mapping) else sources
    return merged


def _of_another_curve(damage: Any) -> Any:
    """Damage of a card whose flow curve was replaced: a critical value goes with its curve."""
    if not isinstance(damage, Mapping) or "critical" not in damage:
        return damage
    source = damage.get("source")
    if not isinstance(source, str) or source.startswith(OTHER_CURVE):
        return damage
    return {**damage, "source": (OTHER_CURVE + source)[:LONGEST]}


def read_card(raw: Any, folder: Path) -> dict[str, Any]:
    """Raw tables of a card file; refused with the line of the card that cannot be read."""
    path = card_path(raw, folder)
    try:
        tables = tables_of(text_of(path), path.name)
    except CaseError as error:
        told = "; ".join(str(fault) for fault in error.faults)
        hint = f"; {error.hint}" if error.hint.startswith("in ") else ""
        refuse(f"{KNOWN}; {path.name}: {told}{hint}")
    if "sheet" in tables or "stage" in tables:
        refuse(f"{path.name} is a case: a card has the keys of its [sheet.material] at the top")
    if "card" in tables:
        refuse(f"{path.name} names a card file itself: expected the values, or base")
    return tables


def card_path(raw: Any, folder: Path) -> Path:
    """Where a card file lies."""
    if not isinstance(raw, str) or not raw.strip() or not raw.isprintable():
        refuse(KNOWN)
    return folder / raw


def with_card(raw: Mapping[str, Any], folder: Path) -> Mapping[str, Any]:
    """A raw case whose material stands in full, where it can be read; else unchanged."""
    sheet = raw.get("sheet")
    if not isinstance(sheet, Mapping) or "material" not in sheet:
        return raw
    try:
        material = resolved(sheet["material"], folder)
    except PydanticCustomError:
        return raw
    return {**raw, "sheet": {**sheet, "material": material}}


def card_line(key: str, raw: Mapping[str, Any], folder: Path) -> str:
    """Card file and line of a key of the material that the case does not give itself, or ""."""
    sheet = raw.get("sheet")
    material = sheet.get("material") if isinstance(sheet, Mapping) else None
    inner = key.removeprefix("sheet.material.")
    if inner == key or not isinstance(material, Mapping) or "card" not in material:
        return ""
    if inner.split(".")[0].split("[")[0] in material:
        return ""
    path = card_path(material["card"], folder)
    line = line_of(inner, key_lines(text_of(path)))
    return f"{path.name}, line {line}" if line else path.name


def written_out(text: str, folder: Path) -> str:
    """Text of a sound case with the values of its card file in the place of the file's name.

    Comments are kept where the table of the material stands on a line of its own.
    """
    raw = tomllib.loads(text) if text else {}
    material = raw.get("sheet", {}).get("material")
    if not isinstance(material, Mapping) or "card" not in material:
        return text
    full = resolved(material, folder)
    wanted = {**raw, "sheet": {**raw["sheet"], "material": full}}
    lines = text.splitlines()
    number = key_lines(text).get("sheet.material", 0) - 1
    before, equals, _ = lines[number].partition("=")
    if equals:
        lines[number] = f"{before}= {inline(full)}"
        edited = "\n".join(lines) + "\n"
        if _means(edited, wanted):
            return edited
    return toml_text(wanted)


def _means(text: str, wanted: Mapping[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except tomllib.TOMLDecodeError:
        return False


def _complete(name: str) -> Mapping[str, Any]:
    card = named(name)
    lacks = missing(card)
    if lacks:
        refuse(
            f"the library has no source for the {', '.join(lacks)} of this material; complete it"
            f" with your own: {completion(name, lacks)}"
        )
    return card


def _from_base(material: Mapping[str, Any]) -> Mapping[str, Any]:
    if "base" not in material:
        return material
    own = {key: value for key, value in material.items() if key != "base"}
    return completed(named(material["base"]), own, f"library material {material['base']}")
