"""From the validator's errors to faults a press engineer reads."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from formsim.case.nearest import nearest, question
from formsim.case.quantity import REFUSED
from formsim.errors import Fault, MisfitError

_PLAIN = {
    "bool_type": "expected true or false, without quotes",
    "string_type": "expected a text in quotes",
    "string_too_short": "must not be empty",
    "string_too_long": "text too long: expected at most {max_length} characters",
    "string_pattern_mismatch": "expected a name of letters, digits, - and _",
    "model_type": "expected a table, such as {{ ... }}",
    "dict_type": "expected a table, such as {{ ... }}",
    "model_attributes_type": "expected a table, such as {{ ... }}",
    "tuple_type": "expected a list, such as [ ... ]",
    "too_short": "expected at least {min_length}; the list has {actual_length}",
    "float_type": "expected a number",
}
_SHOWN = 60
_TAGGED = ("flow", "start", "forming_limit", "damage", "scatter", "strain_rate", "softening")
"""Keys whose tables have a kind."""


def faults_of(error: ValidationError, raw: Mapping[str, Any], root: type[BaseModel]) -> list[Fault]:
    """Faults of a raw case in the order the validator met them, each once.

    Parameters
    ----------
    root : schema of the whole file
    """
    faults: dict[Fault, None] = {}
    details = error.errors(include_url=False)
    misspelt = {place for detail in details if (place := _meant(detail, root)) is not None}
    for detail in details:
        if detail["type"] == "missing" and detail["loc"] in misspelt:
            continue
        faults.update(dict.fromkeys(_faults_of_detail(detail, raw, root)))
    return list(faults)


def _meant(detail: ErrorDetails, root: type[BaseModel]) -> tuple[int | str, ...] | None:
    """Location of the key that an unknown one nearly spells."""
    if detail["type"] != "extra_forbidden":
        return None
    table, field = _table_and_field(detail["loc"], root)
    near = next(iter(_nearest_keys(table, field)), "")
    return (*detail["loc"][:-1], near) if near else None


def _faults_of_detail(
    detail: ErrorDetails, raw: Mapping[str, Any], root: type[BaseModel]
) -> Iterator[Fault]:
    cause = detail.get("ctx", {}).get("error")
    if isinstance(cause, MisfitError):
        yield from cause.faults
        return
    steps = list(_steps(detail["loc"]))
    missing = detail["type"] in ("missing", "union_tag_not_found")
    steps = steps if missing else _reachable(steps, raw)
    if detail["type"].startswith("union_tag"):
        steps.append("kind")
    shown = "" if missing else _shown(_value(steps, raw))
    yield Fault(path_text(steps), shown, _expected(detail, root))


def _expected(detail: ErrorDetails, root: type[BaseModel]) -> str:
    kind, context = detail["type"], detail.get("ctx", {})
    table, field = _table_and_field(detail["loc"], root)
    if kind == REFUSED:
        return str(context["text"])
    if kind == "missing":
        return f"is missing; {_wanted(table, field)}"
    if kind == "extra_forbidden":
        return unknown_key(table, field)
    if kind == "union_tag_not_found":
        return f"is missing; expected one of {', '.join(_kinds(detail['loc'], root))}"
    if kind == "union_tag_invalid":
        return _unknown_kind(str(context["tag"]), _kinds(detail["loc"], root))
    if kind == "literal_error":
        return _one_of(str(context["expected"]), detail["input"])
    if detail["loc"] == ("stage",) and isinstance(detail["input"], Mapping):
        return "write [[stage]] with double brackets, once for each stage"
    if kind in _PLAIN:
        return _PLAIN[kind].format(**context)
    return detail["msg"]


def _steps(loc: Iterable[int | str]) -> Iterator[int | str]:
    """Location in the file: the validator adds the kind after stage numbers and tagged keys."""
    before: list[int | str] = []
    for item in loc:
        in_stage = len(before) == 2 and before[0] == "stage"
        in_flow = bool(before) and before[-1] in _TAGGED
        before.append(item)
        if not ((in_stage or in_flow) and isinstance(item, str)):
            yield item


def _reachable(steps: list[int | str], raw: Any) -> list[int | str]:
    """Steps that exist in the file: a friction written as one number has no tools below it."""
    for count, step in enumerate(steps):
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            return steps[:count]
    return steps


def _value(steps: Iterable[int | str], raw: Any) -> Any:
    for step in steps:
        raw = raw[step]
    return raw


def path_text(steps: Iterable[int | str]) -> str:
    """Key path as messages write it, such as ``stage[0].punch.diameter``."""
    text = ""
    for step in steps:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def _shown(value: Any) -> str:
    if isinstance(value, Mapping | list | tuple):
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    text = f'"{value}"' if isinstance(value, str) else f"{value}"
    text = "".join(letter if letter.isprintable() else "?" for letter in text)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 3] + "..."


def _table_and_field(
    loc: tuple[int | str, ...], root: type[BaseModel]
) -> tuple[type[BaseModel] | None, str]:
    """Table of the schema that a location's last key belongs to, and that key."""
    table: type[BaseModel] | None = root
    tables: list[type[BaseModel]] = [root]
    for item in loc[:-1]:
        if isinstance(item, int):
            continue
        if table is not None and item in table.model_fields:
            tables = list(tables_in(table.model_fields[item].annotation))
        else:
            tables = [one for one in tables if kind_of(one) == item]
        table = tables[0] if len(tables) == 1 else None
    return table, str(loc[-1]) if loc else ""


def tables_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """Tables of the schema that a field may hold."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from tables_in(inner)


def kind_of(table: type[BaseModel]) -> str:
    """Kind a table of the schema stands for; empty where it has none."""
    field = table.model_fields.get("kind")
    return str(get_args(field.annotation)[0]) if field is not None else ""


def _wanted(table: type[BaseModel] | None, field: str) -> str:
    if table is None or field not in table.model_fields:
        return "it must be given"
    info = table.model_fields[field]
    for note in info.metadata:
        if hasattr(note, "expected"):
            return str(note.expected)
    if info.description:
        return f"expected {info.description}"
    if info.annotation is str:
        return "expected a text"
    inner = list(tables_in(info.annotation))
    if len(inner) == 1:
        needed = [key for key, item in inner[0].model_fields.items() if item.is_required()]
        return "expected a table" + (f" with {', '.join(needed)}" if needed else "")
    return "it must be given"


def unknown_key(table: type[BaseModel] | None, field: str) -> str:
    """What to say of a key that a table does not know: the nearest one, or all of them."""
    if table is None:
        return "is no key here"
    asked = question(_nearest_keys(table, field))
    if asked:
        return f"no such key; {asked}"
    return f"no such key; known here are {', '.join(table.model_fields)}"


def _nearest_keys(table: type[BaseModel] | None, field: str) -> list[str]:
    return [] if table is None else nearest(field, table.model_fields, 0.55)


def _one_of(listed: str, given: Any) -> str:
    """What a word that is none of those the validator lists should have been."""
    words = re.findall(r"'([^']*)'", listed)
    return f"{nearest_word(str(given), words)}expected one of {', '.join(words)}"


def _unknown_kind(given: str, kinds: list[str]) -> str:
    return f"no kind of this name; {nearest_word(given, kinds)}known are {', '.join(kinds)}"


def nearest_word(given: str, words: list[str]) -> str:
    """Question for the nearest word; empty where none is near."""
    asked = question(nearest(given, words))
    return f"{asked} " if asked else ""


def _kinds(loc: tuple[int | str, ...], root: type[BaseModel]) -> list[str]:
    parent = tuple(item for item in loc if not isinstance(item, int))
    table, field = _table_and_field(parent, root)
    if table is None or field not in table.model_fields:
        return []
    return [kind_of(one) for one in tables_in(table.model_fields[field].annotation)]
