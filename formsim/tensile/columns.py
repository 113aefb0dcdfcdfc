"""Which column of a test file holds which quantity, in which unit."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from formsim.case.units import UNITS, dimension_of, known_unit
from formsim.errors import Fault


@dataclass(frozen=True)
class Kind:
    """A quantity of a tensile test.

    Attributes
    ----------
    dimension : of its unit, a key of ``case.units.UNITS``
    words : headers it is known by, in small letters
    """

    dimension: str
    words: tuple[str, ...]


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "force": Kind(
            "force",
            ("force", "load", "tensile force", "standard force", "axial force", "f", "kraft")
            + ("prüfkraft", "standardkraft", "zugkraft", "last"),
        ),
        "extension": Kind(
            "length",
            ("extension", "elongation", "displacement", "length change", "change of length")
            + ("dl", "delta l", "δl", "verlängerung", "längenänderung", "wegaufnehmer")
            + ("dehnungsaufnehmer", "längsaufnehmer", "extensometer"),
        ),
        "stress": Kind(
            "stress",
            ("stress", "engineering stress", "nominal stress", "tensile stress", "r", "sigma")
            + ("spannung", "technische spannung", "zugspannung", "nennspannung"),
        ),
        "strain": Kind(
            "ratio",
            ("strain", "engineering strain", "nominal strain", "axial strain", "e", "epsilon")
            + ("dehnung", "technische dehnung", "nenndehnung", "längsdehnung", "gesamtdehnung"),
        ),
        "width_change": Kind(
            "length",
            ("width change", "change of width", "width reduction", "transverse extension", "db")
            + ("delta b", "δb", "breitenänderung", "breitenabnahme", "breitenverformung")
            + ("breitenaufnehmer", "queraufnehmer"),
        ),
        "width_strain": Kind(
            "ratio",
            ("width strain", "transverse strain", "lateral strain", "querdehnung")
            + ("breitendehnung",),
        ),
    }
)
_TWIN = {"extension": "strain", "strain": "extension", "width_change": "width_strain"} | {
    "width_strain": "width_change"
}
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})
_OF_UNIT = {"force": "force", "length": "extension", "stress": "stress"}
"""Quantity of a column that is headed by a unit alone, by the dimension of that."""

_TRUE = re.compile(r"\b(true|log|logarithmic|wahre)\b")
_BRACKETS = re.compile(r"^(.*?)[\s_]*[\[(<{]\s*([^\])>}]*?)\s*[\])>}]\s*$")
_BEHIND = re.compile(r"^(.*?)(?:\s*[/,]\s*|\s+in\s+|\s+|_)(\S+)\s*$")


@dataclass(frozen=True)
class Chosen:
    """A column that was chosen.

    Attributes
    ----------
    index : of the column, from 0
    header : how the file calls it
    factor : to N, mm, MPa or a fraction
    unit : in which the file gives it, "" for a fraction
    """

    index: int
    header: str
    factor: float
    unit: str


@dataclass(frozen=True)
class Declared:
    """A column named on the command line: its header or number, its unit and its file, if given."""

    column: str
    unit: str | None
    file: str | None = None


def declared_columns(texts: Iterable[str]) -> dict[str, Declared]:
    """Columns declared as ``QUANTITY=COLUMN:UNIT`` or, of one file, ``QUANTITY@FILE=COLUMN:UNIT``.

    Raises
    ------
    ValueError : with what was expected
    """
    found: dict[str, Declared] = {}
    for text in texts:
        place, equals, rest = text.partition("=")
        name, _, file = place.partition("@")
        if not equals or name not in KINDS or not rest:
            message = (
                f'"{text}" declares no column: write QUANTITY=COLUMN:UNIT, such as'
                f' force="Channel 2:kN", or of one file force@FILE="Channel 2:kN"; quantities are'
                f" {', '.join(KINDS)}"
            )
            raise ValueError(message)
        column, colon, unit = rest.rpartition(":")
        known = known_unit(unit) if colon else None
        declared = Declared(column, known) if known is not None else Declared(rest, None)
        found[place] = replace(declared, file=file or None)
    return found


def declared_for(declared: Mapping[str, Declared], file: str) -> dict[str, Declared]:
    """Columns by quantity declared for a file: those of every file, then its own."""
    found = {name: one for name, one in declared.items() if one.file is None}
    own = {name: one for name, one in declared.items() if one.file == file}
    return found | {name.partition("@")[0]: one for name, one in own.items()}


def split_header(header: str) -> tuple[str, str | None]:
    """Name and unit of a header such as ``Force [kN]``, ``strain / %``, ``load_N`` or ``cm``."""
    if known := known_unit(header):
        return header.strip(), known
    if found := _BRACKETS.match(header):
        unit = known_unit(found[2])
        if unit is not None:
            return found[1].strip(), unit
    if (found := _BEHIND.match(header)) and found[1]:
        unit = known_unit(found[2])
        if unit is not None and found[2] not in ("1",):
            return found[1].strip(), unit
    return header.strip(), None


def choose_columns(
    headers: Sequence[str],
    units: Sequence[str | None],
    declared: Mapping[str, Declared],
    largest: Sequence[float],
) -> tuple[dict[str, Chosen], list[Fault]]:
    """Columns by quantity, and what is wrong with them.

    Parameters
    ----------
    headers : names of the columns, units included where they hold them
    units : units of a row of their own, None where there is none
    largest : largest value of each column, to tell per cent from fractions
    """
    split = [split_header(header) for header in headers]
    known = [own if given is None else given for given, (_, own) in zip(units, split, strict=True)]
    chosen: dict[str, Chosen] = {}
    faults: list[Fault] = []
    for name, column in declared.items():
        found = _declared_places(column, headers, [bare for bare, _ in split])
        if len(found) != 1:
            only = f"; --column {name}@FILE=... declares a column of one file alone"
            why = f"no such column; {_listed(headers)}{only}"
            if found:
                numbers = " and ".join(str(k + 1) for k in found)
                why = f"columns {numbers} are called so; {_how(name, str(found[0] + 1))}"
            faults.append(Fault(name, column.column, why))
            continue
        index = found[0]
        unit = known[index] if column.unit is None else column.unit
        _take(name, index, unit, headers, largest, chosen, faults)
    taken = {one.index for one in chosen.values()}
    named = [index for index, (bare, _) in enumerate(split) if not _is_unit(bare)]
    for index in (*named, *sorted(set(range(len(split))) - set(named))):
        bare, _ = split[index]
        quantity = _recognised(bare, known[index])
        if quantity is None or index in taken or quantity in declared:
            continue
        if quantity in chosen and index not in named and chosen[quantity].index in named:
            continue
        if quantity in chosen:
            first = chosen[quantity].index
            others = f'{first + 1} "{headers[first]}" and {index + 1} "{headers[index]}"'
            expected = f"columns {others} may both be it; {_how(quantity, str(index + 1))}"
            faults.append(Fault(quantity, "", expected))
            continue
        _take(quantity, index, known[index], headers, largest, chosen, faults)
    return chosen, faults or _needed(chosen, headers)


def _take(
    name: str,
    index: int,
    unit: str | None,
    headers: Sequence[str],
    largest: Sequence[float],
    chosen: dict[str, Chosen],
    faults: list[Fault],
) -> None:
    """Choose a column, or say what is wrong with its unit."""
    table = UNITS[KINDS[name].dimension]
    if unit in table:
        chosen[name] = Chosen(index, headers[index], table[str(unit)], str(unit))
        return
    expected = f"has no unit; {_how(name, headers[index])}"
    if unit:
        expected = f"{unit} is no unit of this quantity; {_how(name, headers[index])}"
    elif KINDS[name].dimension == "ratio":
        per_cent = largest[index] > 1.5
        likely = "per cent is likely" if per_cent else "it may be a fraction, or per cent"
        expected += f"; its largest value is {largest[index]:.4g}, so {likely}"
    faults.append(Fault(name, headers[index], expected))


def plain_words(bare: str) -> str:
    """A header in small letters with single spaces, umlauts written out."""
    return re.sub(r"[\s_.\-]+", " ", bare.lower().translate(_UMLAUTS)).strip()


def _is_unit(bare: str) -> bool:
    """Whether a header is a unit and nothing else."""
    return bool(known_unit(bare))


def _recognised(bare: str, unit: str | None) -> str | None:
    if unit and _is_unit(bare):
        dimension = dimension_of(unit)
        return "strain" if unit == "%" else _OF_UNIT.get(dimension or "")
    words = plain_words(bare)
    if _TRUE.search(words):
        return None
    words = re.sub(r"\s*\d+$", "", words)
    for name, kind in KINDS.items():
        if words in map(plain_words, kind.words):
            other = _TWIN.get(name)
            fits = unit is None or unit in UNITS[kind.dimension]
            if not fits and other is not None and unit in UNITS[KINDS[other].dimension]:
                return other
            return name
    return None


def _declared_places(column: Declared, headers: Sequence[str], bare: Sequence[str]) -> list[int]:
    """Columns a declaration may mean, by header, by name without unit, or by number."""
    for names in (headers, bare):
        if column.column in names:
            return [k for k, name in enumerate(names) if name == column.column]
    if column.column.isdecimal() and 1 <= int(column.column) <= len(headers):
        return [int(column.column) - 1]
    return []


def _needed(chosen: Mapping[str, Chosen], headers: Sequence[str]) -> list[Fault]:
    """What is missing for a stress and for a strain."""
    faults = []
    for one, other in (("stress", "force"), ("strain", "extension")):
        if one not in chosen and other not in chosen:
            expected = f"no column for {one} or {other} was recognised; {_listed(headers)}"
            if any(_TRUE.search(header.casefold()) for header in headers):
                expected += "; true values cannot be used: expected engineering ones"
            faults.append(Fault(one, "", f"{expected}; {_cure(other, chosen, headers)}"))
    return faults


def _cure(name: str, chosen: Mapping[str, Chosen], headers: Sequence[str]) -> str:
    """How a missing quantity is declared, with a column that is not taken for another."""
    taken = {one.index for one in chosen.values()}
    left = [k for k in range(len(headers)) if k not in taken]
    if left:
        return _how(name, str(left[0] + 1))
    return f"all of them are taken for other quantities, so the record lacks the {name}"


def _listed(headers: Sequence[str]) -> str:
    return "the file has " + ", ".join(
        f'{number} "{header}"' for number, header in enumerate(headers, start=1)
    )


def _how(name: str, column: str) -> str:
    units = ", ".join(unit or "-" for unit in UNITS[KINDS[name].dimension])
    return f'declare it with --column {name}="{split_header(column)[0]}:UNIT", UNIT one of {units}'
