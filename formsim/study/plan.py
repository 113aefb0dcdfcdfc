"""From a study to its variants: every case made and checked before anything is solved."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from formsim.case.describe import describe
from formsim.case.expect import Wanted
from formsim.case.faults import path_text
from formsim.case.finding import Finding
from formsim.case.fit_expect import curve_faults, expect_faults
from formsim.case.key_path import Step, with_values
from formsim.case.lines import key_lines, line_of
from formsim.case.load import build_case
from formsim.case.schema import Case
from formsim.case.study import Study, key_places
from formsim.case.toml_file import tables_of, text_of
from formsim.case.toml_text import toml_text
from formsim.errors import CaseError, Fault
from formsim.sources import sources
from formsim.stages.drawn_check import drawn_tools
from formsim.study.design import UNCHANGED, rows_of
from formsim.study.handbook import Broken, advice_on
from formsim.study.values import in_unit, named
from formsim.study.wanted import headline, name_of
from formsim.version import VERSION

_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:e[+-]?\d+)?")


@dataclass(frozen=True)
class Input:
    """One input of a study.

    Attributes
    ----------
    name : key path as the study writes it
    places : steps of all keys that take its value
    unit : of its values; empty for texts and ratios
    """

    name: str
    places: tuple[tuple[Step, ...], ...]
    unit: str


@dataclass(frozen=True)
class Variant:
    """One variant of a study.

    Attributes
    ----------
    number : in the table, from 1
    key : digest of its case, version and sources of the program; empty where it is refused
    values : of the inputs, as the case reads them
    text : its case file
    refused : why it is no case that can be run; empty where it is one
    advice : handbook rules it does not keep
    """

    number: int
    key: str
    values: tuple[Any, ...]
    text: str = ""
    refused: str = ""
    advice: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Plan:
    """All variants of a study and what is wanted of them.

    Attributes
    ----------
    study : as asked
    folder : of the base case, to which files it names are relative
    case : that of the first variant that can be run
    wanted : measures in the order of the table, each with its stage
    """

    study: Study
    folder: Path
    case: Case
    inputs: tuple[Input, ...]
    variants: tuple[Variant, ...]
    wanted: tuple[Wanted, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of all variants that can be run, each once."""
        return tuple(dict.fromkeys(one.key for one in self.variants if one.key))

    @property
    def broken(self) -> tuple[Broken, ...]:
        """Handbook rules that variants do not keep."""
        return tuple(Broken(one.number, rule) for one in self.variants for rule in one.advice)


def plan_study(study: Study, path: Path, name: str, lines: Mapping[str, int] | None = None) -> Plan:
    """Make and check all variants of a study.

    Parameters
    ----------
    path : file of the base case
    name : what messages call the study
    lines : of the keys of its file

    Raises
    ------
    CaseError : keys that lead nowhere, measures no stage has, or no variant that can be run; in a
        strict study one that cannot
    """
    text = text_of(path)
    raw = tables_of(text, path.name)
    source = _Source(name, lines or {})
    places = _places(study, raw, path.parent, source)
    base = _Base(raw, path, key_lines(text), places)
    made = [base.variant(n, row) for n, row in enumerate(rows_of(study, name), start=1)]
    cases = [case for _, case, _ in made if case is not None]
    faults = [(one.number, fault) for one, _, found in made for fault in found]
    if not cases:
        # What is wrong with the base case itself is told with its own name and lines.
        build_case(raw, path.name, base.lines, path.parent)
    if faults and (study.strict or not cases):
        raise _refused(name, faults, len(made))
    source.refuse(list(_measure_faults(cases[0], study.measure)))
    units = {row.key: row.unit for row in describe(cases[0])}
    inputs = tuple(
        Input(one.name, steps, units.get(path_text(steps[0]), ""))
        for one, steps in zip(study.vary, places, strict=True)
    )
    wanted = tuple(with_stage(one, cases[0]) for one in study.measure) or headline(cases[0])
    source.refuse(_twice(wanted))
    variants = tuple(_in_units(one, inputs) if one.refused else one for one, _, _ in made)
    return Plan(study, path.parent, cases[0], inputs, variants, wanted)


def _in_units(refused: Variant, inputs: Sequence[Input]) -> Variant:
    """A variant no case could read, its values in the units of the table; None for none."""
    pairs = zip(refused.values, inputs, strict=True)
    values = tuple(in_unit(value, one.unit) if one.unit else value for value, one in pairs)
    return replace(refused, values=values)


def with_stage(wanted: Wanted, case: Case) -> Wanted:
    """A measure with the name of its stage, where it leaves that out the last one."""
    return wanted.model_copy(update={"stage": wanted.stage or case.stages[-1].name})


@dataclass(frozen=True)
class _Source:
    """Name of a study as messages call it, and the lines of its keys."""

    name: str
    lines: Mapping[str, int]

    def refuse(self, faults: Sequence[Fault]) -> None:
        """Tell faults of the study, each with its line; nothing where there is none."""
        if faults:
            placed = [replace(one, line=line_of(one.key, self.lines)) for one in faults]
            raise CaseError(self.name, placed)


def _twice(wanted: Sequence[Wanted]) -> list[Fault]:
    """Measures that would be two columns of the same name."""
    names = [name_of(one) for one in wanted]
    told = "is asked for already, as measure[{}]"
    return [
        Fault(f"measure[{n}].measure", name, told.format(names.index(name)))
        for n, name in enumerate(names)
        if name in names[:n]
    ]


def _measure_faults(case: Case, wanted: Sequence[Wanted]) -> Iterator[Fault]:
    """Measures that the case of a study cannot have."""
    yield from expect_faults(case.stages, wanted, "measure")
    yield from curve_faults(case.forming_limit, wanted, "measure")


@dataclass(frozen=True)
class _Base:
    """The base case and the places whose values change."""

    raw: Mapping[str, Any]
    path: Path
    lines: Mapping[str, int]
    places: Sequence[tuple[tuple[Step, ...], ...]]

    def variant(
        self, number: int, row: Sequence[Any]
    ) -> tuple[Variant, Case | None, tuple[Fault, ...]]:
        """A variant and its case, or the faults that forbid it."""
        chosen = zip(self.places, row, strict=True)
        values = {steps: v for group, v in chosen if v is not UNCHANGED for steps in group}
        raw = with_values(self.raw, values, self.path.parent)
        try:
            case = build_case(raw, self.path.name, self.lines, self.path.parent)
            drawn_tools(case)
        except CaseError as error:
            reason = "; ".join(str(replace(fault, line=0)) for fault in error.faults)
            asked = tuple(map(named, row))
            return Variant(number, "", asked, refused=reason), None, error.faults
        read = tuple(_as_read(case, raw, group[0]) for group in self.places)
        made = Variant(number, key_of(case), read, toml_text(raw), advice=advice_on(case))
        return made, case, ()


def _as_read(case: Case, raw: Mapping[str, Any], steps: Sequence[Step]) -> Any:
    """Value of a key as the case reads it, in its unit; a table goes by its name."""
    key = path_text(steps)
    for item in describe(case):
        if item.key == key:
            return item.value
    value: Any = raw
    for step in steps:
        value = value[step] if isinstance(step, int) else value.get(step)
        if value is None:
            return None
    return named(value)


def key_of(case: Case) -> str:
    """Name of a variant by the numbers of its case, the version and the sources that solve it."""
    return f"{case.digest}-{VERSION}-{sources()[:8]}"


def _places(
    study: Study, raw: Mapping[str, Any], folder: Path, source: _Source
) -> list[tuple[tuple[Step, ...], ...]]:
    """Steps of all keys of all inputs; those that lead nowhere are told at once."""
    places, faults = key_places([one.key for one in study.vary], raw, folder)
    counts = Counter(steps for group in places for steps in group)
    for steps, count in counts.items():
        if count > 1:
            faults.append(Fault("vary", path_text(steps), "is varied twice under two names"))
        for wider in counts:
            if len(wider) < len(steps) and steps[: len(wider)] == wider:
                told = f"is a part of {path_text(wider)}, which varies too: leave one of them out"
                faults.append(Fault("vary", path_text(steps), told))
    if faults:
        with suppress(CaseError):
            faults += _measure_faults(build_case(raw, source.name, {}, folder), study.measure)
    source.refuse(faults)
    return places


def _refused(name: str, faults: Sequence[tuple[int, Fault]], count: int) -> CaseError:
    """All faults of all variants, those that many share but for their numbers once."""
    shared: dict[tuple[str, str, str], list[tuple[int, Fault]]] = {}
    for number, fault in faults:
        value, expected = (_NUMBER.sub("#", text) for text in (fault.value, fault.expected))
        shared.setdefault((fault.key, value, expected), []).append((number, fault))
    told = [
        replace(alike[0][1], expected=f"{alike[0][1].expected}{_of_which(alike, count)}")
        for alike in shared.values()
    ]
    hint = "variants that cannot be run become rows of the table unless the study is strict"
    everyone = len({number for number, _ in faults}) == count
    return CaseError(name, told, hint="" if everyone else hint)


def _of_which(alike: Sequence[tuple[int, Fault]], count: int) -> str:
    """Which variants have a fault, and whether its numbers are those of the first alone."""
    numbers = [number for number, _ in alike]
    if len({fault for _, fault in alike}) > 1:
        return f" ({which(numbers)}; the numbers are those of the first)"
    return "" if len(numbers) == count else f" ({which(numbers)})"


def which(numbers: Sequence[int]) -> str:
    """Some variants by their numbers, the first few where there are many."""
    shown = ", ".join(map(str, numbers[:6])) + (", ..." if len(numbers) > 6 else "")
    return f"variant {shown}" if len(numbers) == 1 else f"variants {shown}"
