"""Numbers of several results beside each other, with differences and how well they are known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from formsim.report.comparison.bars import error_bar, noise
from formsim.report.comparison.side import Side
from formsim.report.comparison.stages import Aligned, Key

MORE, LESS, NEITHER = 1, -1, 0
"""Which way of a number is better."""

POINTS = "percentage points"
"""Unit of the difference of two percentages."""

_SCALE = {"kN": 1e-3}
_SAME = 1e-9
"""Relative difference of numbers that are the same but for the last digits."""

MESH = 0.02
"""Share of a number, or of the whole of a percentage, that another mesh may change; own number:
thickness at a tight nose moves by up to 1.5 %, forces of rings by 1 %, see the README."""


@dataclass(frozen=True)
class Measure:
    """What a number is.

    Attributes
    ----------
    label, unit : in words; the unit is that of the values
    digits : behind the point
    better : ``MORE``, ``LESS`` or ``NEITHER``
    stage : whose number it is; empty for the whole run
    exact : follows from the inputs alone
    """

    label: str
    unit: str
    digits: int
    better: int = NEITHER
    stage: str = ""
    exact: bool = False

    @property
    def share(self) -> bool:
        """Whether the number is a percentage."""
        return self.unit.startswith("%")

    @property
    def difference_unit(self) -> str:
        """Unit of a difference of two such numbers."""
        return POINTS if self.share else self.unit


@dataclass(frozen=True)
class Number:
    """A value, its error bar where one is known, and the solver's noise, all in its unit."""

    value: float
    bar: float | None = None
    floor: float = 0.0

    @property
    def width(self) -> float:
        """How far the value may be off by what is known."""
        return max(self.bar or 0.0, self.floor)


@dataclass(frozen=True)
class Compared:
    """A measure in all results; None where a result has no such number."""

    measure: Measure
    numbers: tuple[Number | None, ...]

    def difference(self, k: int, against: int) -> float | None:
        """Value of a result less that of another; None where one has none."""
        one, other = self.numbers[k], self.numbers[against]
        return None if one is None or other is None else one.value - other.value

    def percent(self, k: int, against: int) -> float | None:
        """Difference over the size of the other value [%]; None without one, or beside zero.

        Nor have shares one: a difference of two is in percentage points, a share of it confuses.
        """
        difference, other = self.difference(k, against), self.numbers[against]
        if self.measure.share or difference is None or other is None or other.value == 0.0:
            return None
        return 100.0 * difference / abs(other.value)

    def apart(self, k: int, against: int) -> bool:
        """Whether two values are further apart than both their error bars together.

        Zero lies outside the difference of the two intervals then (Moore, Interval Analysis, 1966;
        memory).
        """
        difference, one, other = self.difference(k, against), self.numbers[k], self.numbers[against]
        if difference is None or one is None or other is None or self.equal(k, against):
            return False
        return abs(difference) > one.width + other.width

    def equal(self, k: int, against: int) -> bool:
        """Whether two values are the same in the digits they are told in."""
        difference, one = self.difference(k, against), self.numbers[k]
        return difference is not None and one is not None and self._nothing(difference, one.value)

    @property
    def same(self) -> bool:
        """Whether all values are the same in the digits they are told in."""
        values = [number.value for number in self.numbers if number is not None]
        return self._nothing(max(values) - min(values), max(map(abs, values)))

    def _nothing(self, difference: float, size: float) -> bool:
        told = round(difference, self.measure.digits)
        return told == 0.0 or abs(difference) <= _SAME * abs(size)

    def slight(self, k: int, against: int) -> bool:
        """Whether a difference may be that of the mesh alone: no error bar tells otherwise."""
        difference, one, other = self.difference(k, against), self.numbers[k], self.numbers[against]
        if difference is None or one is None or other is None or self.measure.exact:
            return False
        if one.bar is not None and other.bar is not None:
            return False
        whole = 100.0 if self.measure.share else abs(other.value)
        return abs(difference) < MESH * whole

    def unsure(self, k: int) -> bool:
        """Whether nothing is known of how far the value of a result may be off."""
        number = self.numbers[k]
        return number is not None and not number.width and not self.measure.exact

    @property
    def known(self) -> int:
        """How many results have the number."""
        return sum(number is not None for number in self.numbers)


Spec = tuple[str, str, str, int, str]
"""Dotted key in a stage, words as its error bar has them, unit, digits, kind of noise."""

THINNEST: Spec = ("min_thickness", "smallest thickness", "mm", 4, "thickness")
THINNING: Spec = ("max_thinning_percent", "largest thinning", "% of t0", 2, "thickness")
SHAPE: tuple[Spec, ...] = (
    ("height", "height", "mm", 2, "length"),
    ("dome_depth", "dome depth", "mm", 3, "length"),
    ("stand_diameter", "stand diameter", "mm", 3, "length"),
)
STRENGTH: tuple[Spec, ...] = (
    ("pressurise.limit", "limit pressure", "MPa", 4, "force"),
    ("top_load.crush_load", "crush load", "kN", 4, "force"),
)
_PLAIN: tuple[Spec, ...] = (
    THINNEST,
    THINNING,
    *SHAPE,
    ("peak_pressure", "peak pressure", "MPa", 3, "force"),
    ("trim.mass", "mass cut off", "g", 3, ""),
    ("neck.diameter", "neck diameter", "mm", 3, "length"),
    ("neck.thickness", "neck thickness", "mm", 4, "thickness"),
    ("neck.load", "axial load", "kN", 3, "force"),
    ("neck.load_ratio", "axial load over what the wall bears", "-", 3, "force"),
    ("flange.diameter", "flange diameter", "mm", 3, "length"),
    ("flange.width", "flange width", "mm", 3, "length"),
    ("flange.thickness", "flange thickness", "mm", 4, "thickness"),
    ("flange.short_of_flat", "flange short of flat", "deg", 2, ""),
    ("ears.height", "height of ears by the ring model", "mm", 2, ""),
    *STRENGTH,
    ("pressurise.highest", "highest inside pressure", "MPa", 4, ""),
    ("top_load.highest", "highest top load", "kN", 4, ""),
)


def of_stages(sides: Sequence[Side], aligned: Aligned) -> tuple[Compared, ...]:
    """Numbers of every stage that at least two results have made."""
    rows = [row_of(sides, key, spec) for key in aligned.shared for spec in _specs(sides, key)]
    return tuple(row for row in rows if row.known > 1)


def row_of(sides: Sequence[Side], key: Key, spec: Spec, better: int = NEITHER) -> Compared:
    """A number of one stage in all results."""
    _, label, unit, digits, _ = spec
    numbers = tuple(stage_number(side, key, spec) for side in sides)
    return Compared(Measure(label, unit, digits, better, key[0]), numbers)


def stage_number(side: Side, key: Key, spec: Spec) -> Number | None:
    """A number of one stage in one result; None where it has none."""
    name, label, unit, _, kind = spec
    stage = side.stages().get(key)
    value = None if stage is None else _value(stage, name)
    if value is None:
        return None
    scale, bar = _SCALE.get(unit, 1.0), error_bar(side.summary, key[0], label)
    # Thinning is what is missing of the thickness, whose noise it has.
    size = 100.0 - value if spec is THINNING else abs(value)
    floor = noise(side.summary, key[0], kind) * size
    return Number(scale * value, None if bar is None else scale * bar, scale * floor)


def force_spec(tool: str) -> Spec:
    """Largest force of a tool."""
    return f"peak_force.{tool}", f"peak force, {tool}", "kN", 3, "force"


def _specs(sides: Sequence[Side], key: Key) -> Iterator[Spec]:
    """Numbers that a stage may have."""
    stages = [side.stages().get(key, {}) for side in sides]
    yield from _PLAIN
    yield from map(force_spec, _names(stages, "peak_force"))
    for tool in _names(stages, "work"):
        if any(stage.get("work", {}).get(tool) for stage in stages):
            yield f"work.{tool}", f"work, {tool}", "J", 2, "work"
    for ring in dict.fromkeys(one["name"] for stage in stages for one in stage.get("rings", ())):
        yield f"rings.{ring}.mean_force", f"mean force, {ring}", "kN", 3, "force"
        yield f"rings.{ring}.exit_thickness", f"wall behind {ring}", "mm", 4, "thickness"


def _names(stages: Sequence[Mapping[str, Any]], key: str) -> list[str]:
    return list(dict.fromkeys(name for stage in stages for name in stage.get(key, {})))


def _value(stage: Mapping[str, Any], name: str) -> float | None:
    """Number of a stage by its dotted key, through tables and lists of named tables."""
    found: Any = stage
    for part in name.split("."):
        if isinstance(found, list | tuple):
            found = next((one for one in found if one.get("name") == part), None)
        else:
            found = found.get(part) if isinstance(found, Mapping) else None
    return float(found) if isinstance(found, int | float) and math.isfinite(found) else None
