"""Look-up of material names in the library file, as data."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from formsim.case.quantity import refuse


@lru_cache(maxsize=1)
def library() -> Mapping[str, Mapping[str, Any]]:
    """Raw material tables of the library, by name."""
    data = files("formsim") / "material" / "library.toml"
    tables = tomllib.loads(data.read_text(encoding="utf-8"))
    return MappingProxyType({name: {"name": name} | table for name, table in tables.items()})


def resolve(material: Any) -> Any:
    """Raw card for a library name; anything but a text passes unchanged."""
    if not isinstance(material, str):
        return material
    known = library()
    if material not in known:
        near = difflib.get_close_matches(material.lower(), known, n=3, cutoff=0.4)
        which = f"nearest: {', '.join(near)}" if near else f"it has: {', '.join(sorted(known))}"
        refuse(
            f"no material of this name in the library; {which}; or write your own [sheet.material]"
            " table"
        )
    return known[material]
