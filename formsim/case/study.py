"""The study file: a base case, what varies, how variants are chosen, and what is wanted of them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, ValidationError, model_validator

from formsim.case.base import Table, Words
from formsim.case.expect import Wanted
from formsim.case.faults import faults_of
from formsim.case.lines import key_lines, line_of
from formsim.case.quantity import Count, Quantity, refuse
from formsim.case.toml_file import tables_of, text_of
from formsim.case.units import split_text
from formsim.errors import CaseError, Fault

if TYPE_CHECKING:
    from formsim.case.key_path import Step

ANY = Quantity("a number, in the unit of the key", "ratio", -math.inf, math.inf)
POSITIVE = Quantity("a number above 0, in the unit of the key", "ratio", 1e-300, math.inf)
LOG = Quantity("a standard deviation of the logarithm", "ratio", 1e-9, 3.0)
SAMPLES = Count("a number of samples", 2, 100_000)
SEED = Count("a whole number", 0, 2**31 - 1)
LONGEST = Quantity("a time", "time", 0.1, 1e7)
MOST = 100_000
"""Most values of one range, and most variants of a study."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
RANGE = re.compile(rf"\s*({_NUMBER})\s*:\s*({_NUMBER})\s*:\s*({_NUMBER})\s*([^\d\s:.,].*?)?\s*")
"""First, last and step of a range, and perhaps a unit."""

_RANGE_FORM = 'expected first:last:step, perhaps with a unit, such as "2:6:0.5" or "6:10:1 kN"'


def _plain(raw: Any) -> Any:
    if isinstance(raw, str):
        refuse(
            "expected a plain number, in the unit of the key: a scatter takes no unit, nor per cent"
        )
    return raw


InUnit = Annotated[float, ANY, BeforeValidator(_plain)]
PositiveInUnit = Annotated[float, POSITIVE, BeforeValidator(_plain)]


class Normal(Table):
    """Normal distribution, cut off below ``low`` and above ``high`` where they are given."""

    kind: Literal["normal"]
    mean: InUnit
    deviation: PositiveInUnit
    low: InUnit | None = None
    high: InUnit | None = None

    @model_validator(mode="after")
    def _leaves_room(self) -> Self:
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        if not low < high:
            refuse(f"low {low:g} is not below high {high:g}")
        if not low <= self.mean <= high:
            refuse(f"the mean {self.mean:g} lies outside low to high")
        return self


class Uniform(Table):
    """Every value between two bounds alike."""

    kind: Literal["uniform"]
    low: InUnit
    high: InUnit

    @model_validator(mode="after")
    def _rises(self) -> Self:
        if not self.low < self.high:
            refuse(f"low {self.low:g} is not below high {self.high:g}")
        return self


class Lognormal(Table):
    """Values whose logarithm is normal: half of them below the median."""

    kind: Literal["lognormal"]
    median: PositiveInUnit
    deviation: Annotated[float, LOG]


class Triangular(Table):
    """Values between two bounds, most often near the mode."""

    kind: Literal["triangular"]
    low: InUnit
    mode: InUnit
    high: InUnit

    @model_validator(mode="after")
    def _rises(self) -> Self:
        if not (self.low <= self.mode <= self.high and self.low < self.high):
            refuse("expected low, mode and high in rising order")
        return self


Scatter = Annotated[Normal | Uniform | Lognormal | Triangular, Field(discriminator="kind")]


def _keys(raw: Any) -> Any:
    """One key path or several that take the same value, as a list."""
    keys = raw.split(",") if isinstance(raw, str) else raw
    if not isinstance(keys, list) or not all(isinstance(key, str) for key in keys):
        refuse("expected a key path in quotes, or a list of those that take the same value")
    found = [key.strip() for key in keys]
    if not all(found):
        refuse("expected a key path such as sheet.thickness; one is empty")
    return tuple(found)


def _range(raw: Any) -> Any:
    """Values of a range as texts with a unit, or plain numbers."""
    found = RANGE.fullmatch(raw) if isinstance(raw, str) else None
    if found is None:
        refuse(_RANGE_FORM)
    first, last, step = (float(found[k]) for k in (1, 2, 3))
    if not all(map(math.isfinite, (first, last, step))) or step == 0.0:
        refuse(f"{_RANGE_FORM}; the step must not be 0")
    count = (last - first) / step
    if count < 0.0:
        refuse(f"{_RANGE_FORM}; this step leads away from the last value")
    if count > MOST:
        refuse(f"{_RANGE_FORM}; these would be more than {MOST} values")
    numbers = [float(f"{first + k * step:.12g}") for k in range(int(count + 1e-9) + 1)]
    if found[4]:
        return tuple(f"{number:.12g} {found[4]}" for number in numbers)
    whole = not any(mark in found[k] for k in (1, 2, 3) for mark in ".eE")
    return tuple(int(number) if whole else number for number in numbers)


def _values(raw: Any) -> Any:
    """Values one by one; a range is another key."""
    if isinstance(raw, str) and RANGE.fullmatch(raw):
        refuse(f'this is a range and no list: write range = "{raw}"')
    if not isinstance(raw, list | tuple):
        refuse('expected a list, such as [0.26, 0.28], or a range, such as range = "2:5:0.5"')
    return tuple(raw)


def short_of_last(spec: str) -> str:
    """Where a range ends before its last value, in words; empty where it reaches that."""
    found = RANGE.fullmatch(spec)
    if found is None:
        return ""
    values, unit = _range(spec), f" {found[4]}" if found[4] else ""
    end = split_text(values[-1])[0] if unit else values[-1]
    last, step = float(found[2]), abs(float(found[3]))
    if abs(last - end) < 1e-6 * step:
        return ""
    return f"{spec.strip()} ends at {end:g}{unit}: steps of {step:g} do not lead to {last:g}{unit}"


class Vary(Table):
    """What varies: keys that take the same value, and the values or the scatter of it."""

    key: Annotated[tuple[str, ...], BeforeValidator(_keys)]
    values: Annotated[tuple[Any, ...] | None, BeforeValidator(_values)] = None
    range: Annotated[tuple[Any, ...] | None, BeforeValidator(_range)] = None
    scatter: Scatter | None = None

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        given = [self.values, self.range, self.scatter]
        if sum(one is not None for one in given) != 1:
            refuse("expected one of values, range and scatter")
        if self.values is not None and not self.values:
            refuse("the list of values is empty")
        return self

    @property
    def levels(self) -> tuple[Any, ...]:
        """Values one by one; none for a scatter."""
        return self.values or self.range or ()

    @property
    def name(self) -> str:
        """What the table of the study calls it: the first of its keys."""
        return self.key[0]


class Design(Table):
    """Which variants are made.

    ``grid``: every combination; ``list``: first values together, second values together, and so
    on; ``one_at_a_time``: the base case, then one value after the other changed alone;
    ``random``, ``latin_hypercube``, ``sobol``: samples of all inputs together; ``pick_freeze``:
    samples for Sobol indices, (inputs + 2) times as many variants.
    """

    kind: Literal[
        "grid", "list", "one_at_a_time", "random", "latin_hypercube", "sobol", "pick_freeze"
    ] = "grid"
    samples: Annotated[int | None, SAMPLES] = None
    seed: Annotated[int, SEED] = 1

    @property
    def sampled(self) -> bool:
        """Whether it draws samples."""
        return self.kind not in ("grid", "list", "one_at_a_time")

    @model_validator(mode="after")
    def _has_samples(self) -> Self:
        if self.sampled and self.samples is None:
            refuse(f"{self.kind} needs samples, their number")
        if not self.sampled and self.samples is not None:
            refuse(f"{self.kind} has no samples: leave them out, or choose a sampled kind")
        if not self.sampled and "seed" in self.model_fields_set:
            refuse(f"{self.kind} draws nothing: leave the seed out, or choose a sampled kind")
        balanced = self.kind in ("sobol", "pick_freeze")
        if balanced and self.samples is not None and self.samples & (self.samples - 1):
            below = 1 << (self.samples.bit_length() - 1)
            refuse(f"{self.kind} needs a power of 2 of samples, such as {below} or {2 * below}")
        return self


class Study(Table):
    """A base case and its variants, with everything needed to make, solve and judge them.

    A variant that takes longer than ``longest`` is stopped [s]; None lets it take what it takes.
    """

    title: Words
    source: Words = "not given"
    case: str
    vary: tuple[Vary, ...] = Field(strict=False)
    design: Design = Design()
    measure: tuple[Wanted, ...] = Field(default=(), strict=False)
    keep: Literal["summary", "curves", "history"] = "curves"
    strict: bool = False
    longest: Annotated[float | None, LONGEST] = None

    @model_validator(mode="after")
    def _is_sound(self) -> Self:
        if not self.vary:
            refuse("nothing varies: expected at least one [[vary]] with a key")
        keys = [key for one in self.vary for key in one.key]
        twice = {key for key in keys if keys.count(key) > 1}
        if twice:
            refuse(f"{', '.join(sorted(twice))} is varied twice")
        for one in self.vary:
            self._check_form(one)
        counts = {one.name: len(one.levels) for one in self.vary}
        if self.design.kind == "list" and len(set(counts.values())) > 1:
            told = ", ".join(f"{name} has {count}" for name, count in counts.items())
            refuse(f"a list takes values together, so their numbers must agree: {told}")
        return self

    def _check_form(self, one: Vary) -> None:
        kind = self.design.kind
        if one.scatter is not None and kind in ("grid", "list"):
            refuse(
                f"the scatter of {one.name} needs samples:"
                ' [design] kind = "latin_hypercube", samples = 64, or --design and --samples'
            )


def load_study(path: Path) -> tuple[Study, dict[str, Any], dict[str, int]]:
    """Read and check a study file; the study, the file as nested tables, the line of every key.

    Raises
    ------
    CaseError : with every fault of the file
    """
    text = text_of(path)
    raw = tables_of(text, path.name)
    lines = key_lines(text)
    case = raw.get("case")
    absent = []
    if isinstance(case, str) and not (path.parent / case).is_file():
        told = f"there is no file {path.parent / case}; expected a case file, relative to the study"
        absent = [Fault("case", f'"{case}"', told)]
    try:
        return build_study(raw, path.name, lines, absent), raw, lines
    except CaseError as error:
        more = [] if absent else _lost_keys(raw, path.parent)
        found = [*error.faults, *placed(more, lines)]
        raise CaseError(path.name, sorted(found, key=lambda fault: fault.line)) from None


def _lost_keys(raw: Mapping[str, Any], folder: Path) -> list[Fault]:
    """Keys of a faulty study that its case does not have, as far as both can be read."""
    with suppress(CaseError, TypeError, ValueError, AttributeError):
        path = folder / raw["case"]
        keys = [_keys(one.get("key")) if "key" in one else () for one in raw.get("vary", ())]
        return list(key_places(keys, tables_of(text_of(path), path.name), path.parent)[1])
    return []


def key_places(
    keys: Sequence[Sequence[str]], raw: Mapping[str, Any], folder: Path
) -> tuple[list[tuple[tuple[Step, ...], ...]], list[Fault]]:
    """Steps of the keys of all inputs in a case, and a fault for each that leads nowhere.

    Parameters
    ----------
    folder : to which files named in the case are relative
    """
    # Only what plans a study needs the schema of a whole case; what reads one back does not.
    from formsim.case.key_path import UnknownKeyError, place_of

    places, faults = [], []
    for number, group in enumerate(keys):
        found = []
        for key in group:
            try:
                found.append(place_of(key, raw, folder))
            except UnknownKeyError as error:
                told = "; ".join(f"{fault.key}: {fault.expected}" for fault in error.faults)
                faults.append(Fault(f"vary[{number}].key", f'"{key}"', told))
        places.append(tuple(found))
    return places, faults


def build_study(
    raw: Mapping[str, Any],
    name: str,
    lines: Mapping[str, int] | None = None,
    faults: Sequence[Fault] = (),
) -> Study:
    """Check a study given as nested tables.

    Parameters
    ----------
    lines : of the keys of its file
    faults : found before, told with the others
    """
    found = list(faults)
    try:
        study = Study.model_validate(raw)
        if not found:
            return study
    except ValidationError as error:
        found += faults_of(error, raw, Study)
    raise CaseError(name, sorted(placed(found, lines or {}), key=lambda fault: fault.line))


def placed(faults: Iterable[Fault], lines: Mapping[str, int]) -> list[Fault]:
    """Faults with the lines of their keys."""
    return [Fault(f.key or "study", f.value, f.expected, line_of(f.key, lines)) for f in faults]


def is_study(path: Path) -> bool:
    """Whether a TOML file is a study and not a case: it names a case."""
    raw = tables_of(text_of(path), path.name)
    return isinstance(raw.get("case"), str) or ("vary" in raw and "sheet" not in raw)
