"""Key paths of a case, as its faults print them or with stages by name, and values put there."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from formsim.case.card_file import with_card
from formsim.case.faults import kind_of, nearest_word, path_text, tables_in, unknown_key
from formsim.case.filling import filled
from formsim.case.schema import Case
from formsim.errors import CaseError, Fault

Step = int | str

_KEY = re.compile(r"[A-Za-z_][\w-]*(?:\s*\.\s*[\w-]+|\[\s*[\w-]+\s*\])*")
_STEP = re.compile(r"[\w-]+")
_MATERIAL = ("sheet", "material")
FORM = "expected a key path such as sheet.thickness or stage.draw.punch.nose_radius"


class UnknownKeyError(CaseError):
    """A key path that leads nowhere in its case."""


def place_of(key: str, raw: Mapping[str, Any], folder: Path = Path()) -> tuple[Step, ...]:
    """Steps of a key path, list items by number.

    Parameters
    ----------
    key : such as ``stage[0].die.radius``, ``stage[draw].die.radius`` or ``stage.draw.die.radius``
    raw : the case as nested tables; keys with a default need not be there
    folder : to which files named in the case are relative

    Raises
    ------
    UnknownKeyError : there is no such key; it names the nearest one
    """
    if not _KEY.fullmatch(key.strip()):
        raise _unknown(key, FORM)
    full = filled(with_card(raw, folder))
    steps: list[Step] = []
    tables: list[type[BaseModel]] = [Case]
    value: Any = full
    words = _STEP.findall(key)
    while words:
        word = words.pop(0)
        table = _table(key, steps, tables, value)
        if word not in table.model_fields:
            raise _unknown(path_text([*steps, word]), unknown_key(table, word))
        steps.append(word)
        tables = list(tables_in(table.model_fields[word].annotation))
        value = value.get(word) if isinstance(value, Mapping) else None
        if isinstance(value, list) and words and tables:
            steps.append(_item(words.pop(0), value, steps))
            value = value[int(steps[-1])]
        if words and not tables:
            raise _unknown(
                path_text([*steps, words[0]]), f"{path_text(steps)} has no keys below it"
            )
    return tuple(steps)


def _table(
    key: str, steps: Sequence[Step], tables: Sequence[type[BaseModel]], value: Any
) -> type[BaseModel]:
    """Table of the schema at a place of the case, by its kind where several may stand there."""
    if len(tables) == 1:
        return tables[0]
    kind = value.get("kind") if isinstance(value, Mapping) else None
    found = [one for one in tables if kind_of(one) == kind]
    if found:
        return found[0]
    kinds = ", ".join(kind_of(one) for one in tables)
    where = path_text(steps)
    text = f"the case gives no {where} with a kind: write it there first, one of {kinds}"
    raise _unknown(key, text)


def _item(word: str, items: Sequence[Any], steps: Sequence[Step]) -> int:
    """Number of a list item named by its number or its name."""
    names = [str(item.get("name", "")) for item in items if isinstance(item, Mapping)]
    if word in names:
        return names.index(word)
    if word.isdigit() and int(word) < len(items):
        return int(word)
    where = path_text(steps)
    known = [name for name in names if name]
    told = f"they are {', '.join(known)}" if known else f"there are {len(items)}, the first is 0"
    text = f"no {where} of this name; {nearest_word(word, known)}{told}"
    where = f"{where}[{word}]"
    raise _unknown(where, text)


def with_values(
    raw: Mapping[str, Any], values: Mapping[tuple[Step, ...], Any], folder: Path
) -> dict[str, Any]:
    """Copy of a raw case with values at some places, whatever stood there.

    A short form on the way, such as one friction for all tools or the name of a material, is
    written out first.

    Parameters
    ----------
    values : by place; those of a table come before those of keys within it
    folder : to which files named in the case are relative
    """
    full: dict[str, Any] = dict(raw)
    for steps in sorted(values, key=len):
        if steps[: len(_MATERIAL)] == _MATERIAL and len(steps) > len(_MATERIAL):
            full = dict(with_card(full, folder))
        full = _put(full, steps, values[steps], [Case])
    return full


def _put(node: Any, steps: Sequence[Step], value: Any, tables: list[type[BaseModel]]) -> Any:
    """Copy of a part of a raw case with a value at a place within it."""
    if not steps:
        return value
    first, rest = steps[0], steps[1:]
    if isinstance(first, int):
        items = list(node)
        items[first] = _put(items[first], rest, value, tables)
        return items
    table = _spread(node, tables)
    kind = table.get("kind")
    found = [one for one in tables if len(tables) == 1 or kind_of(one) == kind]
    info = found[0].model_fields.get(first) if found else None
    inner = list(tables_in(info.annotation)) if info else []
    return {**table, first: _put(table.get(first), rest, value, inner)}


def _spread(node: Any, tables: Sequence[type[BaseModel]]) -> dict[str, Any]:
    """A part of a raw case as a table, also where a short form stands for one."""
    if isinstance(node, Mapping):
        return dict(node)
    if node is None or len(tables) != 1:
        return {}
    try:
        return tables[0].model_validate(node).model_dump()
    except ValidationError:
        return {}


def _unknown(key: str, text: str) -> UnknownKeyError:
    return UnknownKeyError(key, [Fault(key, "", text)])
