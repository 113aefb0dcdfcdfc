"""Plain values written as TOML."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def inline(value: Any) -> str:
    """One value on one line: numbers, texts, lists and tables; None has no place in TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value + 0.0)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, str):
        # DEL is the one control character that JSON leaves as it is.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, Mapping):
        inner = ", ".join(_pairs(value))
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, Iterable):
        return f"[{', '.join(inline(item) for item in value)}]"
    message = f"{type(value).__name__} cannot be written as TOML"
    raise TypeError(message)


def toml_text(table: Mapping[str, Any]) -> str:
    """A table as a file, one key to a line."""
    return "\n".join(_pairs(table)) + "\n"


def _pairs(table: Mapping[str, Any]) -> Iterable[str]:
    for key, value in table.items():
        name = key if _BARE.fullmatch(key) else json.dumps(key, ensure_ascii=False)
        yield f"{name} = {inline(value)}"
