"""Look-up of material names in the library file, as data."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from formsim.case.quantity import refuse

NEEDED = ("young", "poisson", "density", "flow")
"""What a card must hold before a case can use it, beside name and source."""

_NOMINAL = "nominal"
_BAND = re.compile(r"(?:(\d+) to|at most) (\d+) MPa")


@lru_cache(maxsize=1)
def _tables() -> Mapping[str, Mapping[str, Any]]:
    data = files("formsim") / "material" / "library.toml"
    return MappingProxyType(tomllib.loads(data.read_text(encoding="utf-8")))


@lru_cache(maxsize=1)
def library() -> Mapping[str, Mapping[str, Any]]:
    """Raw cards of the library by name; those of which no source gives all are incomplete."""
    return MappingProxyType({name: _card(name, table) for name, table in _tables().items()})


def _card(name: str, table: Mapping[str, Any]) -> dict[str, Any]:
    return {"name": name} | {key: value for key, value in table.items() if key != _NOMINAL}


def nominal(name: str) -> Mapping[str, str]:
    """What a standard or memory says of a library material in words; only ``check`` looks at it."""
    said: Mapping[str, str] = _tables()[name].get(_NOMINAL, {})
    return said


@dataclass(frozen=True)
class UsualProof:
    """Proof stress that a standard or memory gives a library material [MPa].

    Attributes
    ----------
    name : of the material
    low, high : least and most
    text : in words, with the source
    """

    name: str
    low: float
    high: float
    text: str


def usual_proof(source: str) -> UsualProof | None:
    """Proof stress of the library material a card was completed from, by its source."""
    for name, table in _tables().items():
        text = nominal(name).get("proof_stress", "")
        found = _BAND.match(text)
        if found and source.startswith(table["source"]):
            return UsualProof(name, float(found[1] or 0.0), float(found[2]), text)
    return None


def missing(card: Mapping[str, Any]) -> tuple[str, ...]:
    """Keys a raw card needs and does not have."""
    return tuple(key for key in NEEDED if key not in card)


def nearest(name: str) -> str:
    """Which library names are like this one, in words."""
    known = library()
    near = difflib.get_close_matches(name.lower(), known, n=3, cutoff=0.4)
    return f"nearest: {', '.join(near)}" if near else f"it has: {', '.join(sorted(known))}"


def completion(name: str, lacks: tuple[str, ...]) -> str:
    """How a case completes a library material of which no source gives all."""
    own = "".join(f", {key} = {_EXAMPLES[key]}" for key in lacks)
    return f'material = {{ base = "{name}"{own} }}'


def named(material: Any) -> Mapping[str, Any]:
    """Raw library card of a name, complete or not; refuses what is no such name."""
    known = library()
    if not isinstance(material, str) or material not in known:
        if not isinstance(material, str):
            refuse("expected the name of a library material in quotes")
        refuse(
            f"no material of this name in the library; {nearest(material)}; or write your own"
            " [sheet.material] table"
        )
    return known[material]


_EXAMPLES = {
    "young": "...",
    "poisson": "...",
    "density": "...",
    "flow": '{ kind = "voce", ... }',
}
