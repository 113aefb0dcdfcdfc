"""A tensile test as engineering stress and strain, checked for what spoils an evaluation."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np

from formsim.arrays import Bools, Floats, Ints, runs
from formsim.errors import Fault, TensileError
from formsim.tensile.columns import Chosen, Declared, choose_columns, declared_for
from formsim.tensile.sizes import stated_sizes
from formsim.tensile.table import DataTable, read_table

LEAST = 20
"""Fewest rows of a test that is evaluated."""

ALIKE = 0.01
"""How far a size given may be off that which the file states."""

BACK = 5e-4
"""Strain that extension may go back by as noise or a slip of the gauge [-]."""

UNLOADED = 0.1
"""Share of the stress by which a loop falls below it."""


@dataclass(frozen=True)
class Specimen:
    """Sizes of the test piece before the test [mm]; None where the file needs none."""

    gauge_length: float | None = None
    width: float | None = None
    thickness: float | None = None


@dataclass(frozen=True)
class TensileTest:
    """One test, (n) each.

    Attributes
    ----------
    file, digest : name of the file and digest of what is in it
    strain : engineering strain over the gauge length [-]
    stress : engineering stress over the first section [MPa]
    width_strain : engineering strain of the width, below zero [-]; None where not measured
    lines : lines of the file
    columns : which column was taken for what, in words
    unused : headers of the columns that were not
    sizes : of the test piece that stress and strain hang on, in words; empty for none
    warnings : what does not fit together
    piece : sizes of the test piece, as far as they are known
    """

    file: str
    digest: str
    strain: Floats
    stress: Floats
    width_strain: Floats | None
    lines: Ints
    columns: str
    unused: tuple[str, ...] = ()
    sizes: str = ""
    warnings: tuple[str, ...] = ()
    piece: Specimen = Specimen()

    def only(self, rows: Bools | slice) -> TensileTest:
        """Some rows of it."""
        return replace(
            self,
            strain=self.strain[rows],
            stress=self.stress[rows],
            width_strain=None if self.width_strain is None else self.width_strain[rows],
            lines=self.lines[rows],
        )


def read_test(
    path: Path, specimen: Specimen, declared: Mapping[str, Declared], *, drop_loops: bool = False
) -> TensileTest:
    """Read one test and check it.

    Parameters
    ----------
    specimen : sizes the user gave; others are taken from lines above the columns
    declared : columns named by the user
    drop_loops : leave out unloading loops instead of refusing them

    Raises
    ------
    TensileError : with every fault of the file
    """
    table = read_table(path)
    columns = table.columns
    with np.errstate(invalid="ignore"):
        largest = [float(np.nanmax(np.abs(column), initial=0.0)) for column in columns.values.T]
    own = declared_for(declared, table.file)
    chosen, faults = choose_columns(columns.headers, columns.units, own, largest)
    stated = stated_sizes(columns.above)
    warnings = tuple(_size_warnings(stated, specimen))
    specimen = _completed(specimen, stated)
    faults += _size_faults(chosen, specimen)
    if faults:
        raise TensileError(table.file, faults)
    test, faults = _engineering(table, chosen, specimen)
    if not faults:
        test, faults = _without_loops(replace(test, warnings=warnings), drop_loops)
    faults = faults or _length_faults(test)
    if faults:
        raise TensileError(table.file, faults)
    return test


def _size_faults(chosen: Mapping[str, Chosen], specimen: Specimen) -> list[Fault]:
    """Sizes of the test piece that the columns ask for and nobody gave."""
    needs = {
        "gauge_length": "extension" in chosen and "strain" not in chosen,
        "thickness": "force" in chosen and "stress" not in chosen,
        "width": ("force" in chosen and "stress" not in chosen)
        or ("width_change" in chosen and "width_strain" not in chosen),
    }
    return [
        Fault(
            f"--{name.replace('_', '-')}",
            "",
            f"is needed in mm: the file gives {_given(chosen)}",
        )
        for name, needed in needs.items()
        if needed and getattr(specimen, name) is None
    ]


def _completed(specimen: Specimen, stated: Mapping[str, float]) -> Specimen:
    """Sizes as given, else as the file states them."""
    own = {name: value for name, value in asdict(specimen).items() if value is not None}
    return Specimen(**{**stated, **own})


def _size_warnings(stated: Mapping[str, float], specimen: Specimen) -> Iterator[str]:
    for name, value in stated.items():
        given = getattr(specimen, name)
        if given is not None and abs(given / value - 1.0) > ALIKE:
            option = f"--{name.replace('_', '-')}"
            yield f"the file states {value:g} mm, {option} {given:g} mm was taken: which is right?"


def _size_words(chosen: Mapping[str, Chosen], specimen: Specimen) -> str:
    """Sizes that stress and strain of a test hang on."""
    words = []
    if "strain" not in chosen:
        words.append(f"gauge length {specimen.gauge_length:g} mm")
    if "stress" not in chosen:
        words.append(f"width {specimen.width:g} mm, thickness {specimen.thickness:g} mm")
    return ", ".join(words)


def _given(chosen: Mapping[str, Chosen]) -> str:
    return ", ".join(name.replace("_", " ") for name in chosen)


def _engineering(
    table: DataTable, chosen: Mapping[str, Chosen], specimen: Specimen
) -> tuple[TensileTest, list[Fault]]:
    """Stress and strain of a table, from zero load on and without rows that lack either."""
    read = {name: table.columns.values[:, one.index] * one.factor for name, one in chosen.items()}
    section = (specimen.width or 1.0) * (specimen.thickness or 1.0)
    stress = read["stress"] if "stress" in read else read["force"] / section
    gauge = specimen.gauge_length or 1.0
    strain = read["strain"] if "strain" in read else read["extension"] / gauge
    width = _width_strain(read, specimen)
    words = ", ".join(
        f'{name.replace("_", " ")} from "{chosen[name].header}"'
        + (f" in {chosen[name].unit}" if chosen[name].unit else "")
        for name in _used(read)
    )
    used = {chosen[name].index for name in _used(read)}
    unused = tuple(one for k, one in enumerate(table.columns.headers) if k not in used)
    sizes = _size_words(chosen, specimen)
    there: Bools = np.isfinite(stress) & np.isfinite(strain)
    lines = table.columns.lines
    whole = TensileTest(
        table.file, table.digest, strain, stress, width, lines, words, unused, sizes, piece=specimen
    )
    test = whole.only(there)
    if not there.any():
        return test, [Fault("row", "", "no row has both a stress and a strain")]
    if test.stress.max() <= 0.0 or abs(test.stress.min()) > test.stress.max():
        return test, [Fault("stress", "", "is below zero: expected tension as positive numbers")]
    return test, []


def _used(read: Mapping[str, Floats]) -> list[str]:
    first = "stress" if "stress" in read else "force"
    second = "strain" if "strain" in read else "extension"
    third = "width_strain" if "width_strain" in read else "width_change"
    return [name for name in (first, second, third) if name in read]


def _width_strain(read: Mapping[str, Floats], specimen: Specimen) -> Floats | None:
    """Strain of the width, below zero whichever way the file counts narrowing."""
    if "width_strain" in read:
        strain = read["width_strain"]
    elif "width_change" in read:
        strain = read["width_change"] / (specimen.width or 1.0)
    else:
        return None
    known = strain[np.isfinite(strain)]
    if len(known) and known[np.abs(known).argmax()] > 0.0:
        return -strain
    return strain


def _without_loops(test: TensileTest, drop: bool) -> tuple[TensileTest, list[Fault]]:
    """The test up to its end, and rows where the extension goes back."""
    test = _before_break(test)
    highest = np.maximum.accumulate(test.strain)
    back = highest - test.strain > BACK
    if not back.any():
        return test, []
    reached = np.maximum.accumulate(test.stress)
    # Reloading ends where stress is back too, not at the first strain beyond the last one.
    loop = _spread(back, test.stress < (1.0 - 0.02) * reached, test.strain >= highest)
    if drop:
        return test.only(~loop), []
    return test, [_back_fault(test, back, first, end - 1) for first, end in runs(back)[:6]]


def _spread(back: Bools, low: Bools, ahead: Bools) -> Bools:
    """Rows of loops with the way down to them and the way up behind."""
    loop = back.copy()
    for start, behind in runs(back):
        end = behind - 1
        while start > 0 and low[start - 1]:
            start -= 1
        while end + 1 < len(back) and (low[end + 1] or not ahead[end + 1]):
            end += 1
        loop[start : end + 1] = True
    return loop


def _back_fault(test: TensileTest, back: Bools, first: int, last: int) -> Fault:
    before = float(test.stress[:first].max(initial=0.0))
    fallen = before - float(test.stress[first : last + 1].min())
    lines = f"to line {test.lines[last]}"
    if fallen > UNLOADED * before:
        why = "the test piece is unloaded here; --drop-loops leaves such loops out"
    else:
        why = "the extension goes back: a slipped gauge, or rows out of order; cut these rows out"
    return Fault("extension", "", f"{lines}: {why}", int(test.lines[first]))


def _before_break(test: TensileTest) -> TensileTest:
    """The test without what was recorded after the piece had parted.

    It has parted where the stress falls by a third of the highest within three rows.
    """
    top = int(test.stress.argmax())
    fallen = test.stress[top:-3] - test.stress[top + 3 :] > test.stress[top] / 3.0
    drops = np.flatnonzero(fallen)
    if not len(drops) or test.strain[top:][drops[0]] < test.strain[top]:
        return test
    return test.only(slice(top + int(drops[0]) + 1))


def _length_faults(test: TensileTest) -> list[Fault]:
    count = len(test.strain)
    if count >= LEAST:
        return []
    expected = f"{count} rows are too few: expected at least {LEAST}, some hundred are usual"
    return [Fault("row", "", expected)]
