"""Points of a measured limit curve, from the case or from a CSV file, as true strains."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationInfo

from formsim.case.named_file import NamedFile, named_file
from formsim.case.number_table import number_table
from formsim.case.quantity import refuse
from formsim.errors import CaseError

LARGEST = 1_000_000
"""Largest file of points accepted [bytes]; a real one has a few hundred."""

MOST = 2_000
"""Most points of a curve."""

WIDEST = 3.0
"""True strain that no sheet of metal reaches: beyond it the unit is wrong."""

PLANE, GAP = 0.05, 0.5
"""Minor over major strain that counts as plane strain, and the widest step over it: the lowest
point of a curve lies there, and straight lines over a wider step pass above it. Our own numbers."""

_UNIT = re.compile(r"[\[(].*")
_KNOWN = 'expected the name of a CSV file such as "limit.csv", relative to the case file'


@dataclass(frozen=True)
class StrainPoints:
    """Points of a limit curve.

    Attributes
    ----------
    minor, major : true strains in the plane of the sheet, minor rising, (n) [-]
    """

    minor: tuple[float, ...]
    major: tuple[float, ...]


def read_points(raw: Any, info: ValidationInfo) -> NamedFile | None:
    """Find a file of points beside its case file."""
    return None if raw is None else named_file(raw, info, _KNOWN, LARGEST, "csv")


def strain_points(
    file: NamedFile | None,
    minor: tuple[float, ...],
    major: tuple[float, ...],
    strain: str,
    unit: str,
) -> StrainPoints:
    """Points as true strains; refuses what is no limit curve.

    Source: ISO 12004-2 for what is measured; true strain is ln(1 + engineering strain).
    """
    if file is not None:
        minor, major = points_of(file.path)
    if len(minor) != len(major):
        refuse(
            f"minor has {len(minor)} values and major {len(major)}; expected as many of one as of"
            " the other"
        )
    if not 2 <= len(minor) <= MOST:
        refuse(f"expected 2 to {MOST} points of the curve, there are {len(minor)}")
    factor = 0.01 if unit == "percent" else 1.0
    pairs = [
        (_true(factor * low, strain), _true(factor * high, strain))
        for low, high in zip(minor, major, strict=True)
    ]
    _check(sorted(pairs), unit)
    low, high = zip(*sorted(pairs), strict=True)
    return StrainPoints(low, high)


def points_of(path: Path) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Columns ``minor`` and ``major`` of a CSV file, read as test files are."""
    try:
        table = number_table(path.read_bytes(), path.name)
    except OSError:
        refuse(f"{path.name} cannot be read")
    except CaseError as error:
        refuse("; ".join(f"{path.name}, {fault}" for fault in error.faults))
    names = [_UNIT.sub("", header).strip().casefold() for header in table.headers]
    if "minor" not in names or "major" not in names:
        refuse(
            f"{path.name}: expected a header line with minor and major above the points; it has"
            f" {', '.join(table.headers)}"
        )
    columns = [table.values[:, names.index(name)] for name in ("minor", "major")]
    for number, *pair in zip(table.lines, *columns, strict=True):
        if not all(map(math.isfinite, pair)):
            refuse(f"{path.name}, line {number}: expected two numbers, minor and major strain")
    low, high = (tuple(map(float, column)) for column in columns)
    return low, high


def _true(value: float, strain: str) -> float:
    if strain == "true":
        return value
    if value <= -1.0:
        refuse(f"an engineering strain of {value:g} leaves no sheet; is unit right?")
    return math.log1p(value)


def _check(pairs: list[tuple[float, float]], unit: str) -> None:
    other = "fraction" if unit == "percent" else "percent"
    widest = max(high for _, high in pairs)
    if widest > WIDEST:
        refuse(f'a major strain of {widest:g} (true) is not real; did you mean unit = "{other}"?')
    if widest < 0.01:
        refuse(f'the largest major strain is {widest:g} (true); did you mean unit = "{other}"?')
    for low, high in pairs:
        if high <= 0.0 or low > high:
            refuse(
                f"the point minor {low:g}, major {high:g} (true) is none of a limit curve: major"
                " must be above zero and no less than minor"
            )
        if low <= -high:
            refuse(
                f"at the point minor {low:g}, major {high:g} (true) the sheet gets no thinner,"
                " since minor lies at or below -major: no neck opens there and no tensile test gets"
                " there; leave such points out"
            )
    for (a, b), (c, d) in zip(pairs, pairs[1:], strict=False):
        if not a / b < c / d:
            refuse(
                f"the points at minor {a:g} and {c:g} (true) do not follow each other: minor over"
                " major must rise from each point to the next"
            )
    _check_plane_strain([low / high for low, high in pairs])


def _check_plane_strain(paths: list[float]) -> None:
    """The lowest point of a limit curve has to be there: everything is judged unsafely without."""
    told = "points in plane strain (minor 0), the lowest place of a limit curve"
    if paths[0] > PLANE or paths[-1] < -PLANE:
        side = "above" if paths[0] > 0.0 else "below"
        refuse(f"all minor strains are {side} zero; expected {told}, and on both sides of it")
    for one, other in zip(paths, paths[1:], strict=False):
        if one < -PLANE and other > PLANE and other - one > GAP:
            refuse(
                f"from {one:.2f} to {other:.2f} of minor over major strain there is no point;"
                f" expected {told}: straight lines over it are on the unsafe side"
            )
