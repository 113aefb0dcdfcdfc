"""The digest that names a case: the same numbers give the same digest."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

LENGTH = 12
_WORDS = frozenset({"title", "source", "sources", "tested"})
_WHEN_GIVEN = frozenset({"speed", "warm", "strain_rate", "heating", "thickness"})
"""Keys that count only where they are set: a case without them keeps the name it had."""


def digest_of(values: Mapping[str, Any]) -> str:
    """Digest of a fully defaulted case, 12 hexadecimal characters.

    A drawing enters by what is in it. Titles and sources do not count, nor does the way a number
    is written: floats enter with 12 significant digits, so ``"0.011 in"`` and ``0.2794`` agree.
    """
    plain = json.dumps(_plain(values), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(plain.encode()).hexdigest()[:LENGTH]


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items() if _counts(key, item)}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return format(value + 0.0, ".12g")
    return value


def _counts(key: str, item: Any) -> bool:
    return key not in _WORDS and not (key in _WHEN_GIVEN and not item)
