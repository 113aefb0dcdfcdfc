"""Sizes of a test piece that stand in lines above the columns of a test file."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from formsim.case.units import UNITS, known_unit
from formsim.tensile.columns import plain_words, split_header

SIZE_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "gauge_length": (
            *("gauge length", "initial gauge length", "original gauge length", "l0", "le"),
            *("messlänge", "anfangsmesslänge", "gerätemesslänge"),
        ),
        "width": ("width", "specimen width", "initial width", "b0", "breite", "probenbreite"),
        "thickness": (
            *("thickness", "specimen thickness", "initial thickness", "a0", "t0"),
            *("dicke", "probendicke", "blechdicke"),
        ),
    }
)
_KNOWN = {name: tuple(map(plain_words, words)) for name, words in SIZE_WORDS.items()}
_VALUE = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*(\S*)\s*")


def stated_sizes(above: Iterable[Sequence[str]]) -> dict[str, float]:
    """Gauge length, width and thickness that lines such as ``Probendicke;0,8;mm`` state [mm]."""
    found: dict[str, float] = {}
    for row in above:
        cells = [cell for cell in row if cell]
        if len(cells) == 1 and ":" in cells[0]:
            cells = cells[0].split(":", 1)
        if len(cells) < 2:
            continue
        bare, unit = split_header(cells[0].rstrip(": "))
        words = plain_words(bare)
        name = next(
            (name for name, known in SIZE_WORDS.items() if words in map(plain_words, known)), None
        )
        value = _VALUE.fullmatch(cells[1])
        if name is None or value is None:
            continue
        told = known_unit(value[2] or (cells[2].strip("[]()") if len(cells) > 2 else ""))
        factor = UNITS["length"].get(told or unit or "mm")
        if factor is not None:
            found.setdefault(name, float(value[1].replace(",", ".")) * factor)
    return found
