"""A place in a study that was not solved: read, coded, and whether solved variants surround it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.errors import CaseError, Fault, FormsimError
from formsim.study.findings import is_number, results_of
from formsim.study.table import StudyTable
from formsim.study.values import in_unit, name_and_unit

LEAST_ALIKE = 3
"""Fewest rows with the texts that are asked for."""

FORM = 'expected KEY = VALUE, such as "stage.draw.punch.nose_radius = 3.3"'


def read_place(table: StudyTable, at: Sequence[str]) -> dict[str, Any]:
    """Value of every column of inputs, in its unit."""
    heads = {name_and_unit(head)[0]: head for head in table.inputs}
    units = {name: name_and_unit(head)[1] for name, head in heads.items()}
    found: dict[str, Any] = {}
    faults = []
    for text in at:
        key, equals, spec = (part.strip() for part in text.partition("="))
        names = [name for name in heads if name == key or name.endswith(f".{key}")]
        if not equals or not key or not spec:
            faults.append(Fault("--at", f'"{text}"', FORM))
        elif len(names) != 1:
            known = f"the study varies {', '.join(heads)}"
            why = f"{key} may be {' or '.join(names)}" if names else known
            faults.append(Fault("--at", f'"{text}"', why))
        elif heads[names[0]] in found:
            faults.append(Fault("--at", f'"{text}"', "is given twice"))
        else:
            head = heads[names[0]]
            found[head], fault = _read(spec, units[names[0]], table.columns[head])
            faults += [Fault("--at", f'"{text}"', fault)] if fault else []
    for head in table.inputs:
        given = {value for value in table.columns[head] if value is not None}
        if head not in found and len(given) == 1:
            found[head] = given.pop()
    missing = [name for name, head in heads.items() if head not in found]
    if missing and not faults:
        faults = [Fault("--at", "", f"no value for {', '.join(missing)}; {FORM}")]
    if faults:
        source = "--at"
        raise CaseError(source, faults)
    return {head: found[head] for head in table.inputs}


def _read(spec: str, unit: str, column: Sequence[Any]) -> tuple[Any, str]:
    """A value in the unit of its column, and what is wrong with it; empty where nothing is."""
    texts = list(dict.fromkeys(str(one) for one in column if isinstance(one, str)))
    if texts:
        value = spec.strip("\"'")
        known = f"is not in the study, which has {', '.join(texts)}"
        return value, "" if value in texts else known
    try:
        number: float | None = float(spec)
    except ValueError:
        number = in_unit(spec.strip("\"'"), unit)
    if number is None or not np.isfinite(number):
        return None, f"expected a number{f' in {unit}' if unit else ''}"
    given = [float(one) for one in column if is_number(one)]
    if given and not min(given) <= number <= max(given):
        ends = f"{min(given):g} to {max(given):g}{f' {unit}' if unit else ''}"
        return number, f"lies outside of the study, {ends}; nothing is said beyond what was solved"
    return number, ""


def usable(table: StudyTable, name: str) -> Bools:
    """Rows whose number counts: done, trusted, with a number, (n)."""
    done = np.array([status == "done" for status in table.columns["status"]], dtype=np.bool_)
    return done & results_of(table, name)[1]


def coded(table: StudyTable, rows: Bools, place: Mapping[str, Any]) -> tuple[Floats, Floats]:
    """Rows and a place in columns from 0 to 1, (n, columns) and (columns).

    A text becomes a column of 0 and 1 for each of its values; what does not vary has none.
    """
    columns, own = [], []
    for head in table.inputs:
        values = [one for one, keep in zip(table.columns[head], rows, strict=True) if keep]
        if isinstance(place[head], str):
            texts = sorted(set(map(str, values)))
            for text in texts if len(texts) > 1 else ():
                columns.append([float(str(one) == text) for one in values])
                own.append(float(place[head] == text))
        elif len(set(values)) > 1:
            low, high = min(values), max(values)
            columns.append([(one - low) / (high - low) for one in values])
            own.append((place[head] - low) / (high - low))
    matrix = np.array(columns, dtype=np.float64).T.reshape(int(rows.sum()), len(columns))
    return matrix, np.array(own, dtype=np.float64)


def refuse_outside(
    table: StudyTable, rows: Bools, place: Mapping[str, Any], name: str, hint: str
) -> None:
    """Refuse a place that solved variants with the same texts do not surround.

    Parameters
    ----------
    hint : how to extend the study
    """
    alike = rows.copy()
    for head in table.inputs:
        if isinstance(place[head], str):
            alike &= np.array([str(one) == place[head] for one in table.columns[head]])
    if alike.sum() < LEAST_ALIKE:
        texts = ", ".join(str(value) for value in place.values() if isinstance(value, str))
        behind = f" with {texts}" if texts else ""
        message = (
            f"{int(alike.sum())} solved variants have {name}{behind}; {LEAST_ALIKE} are needed"
        )
        raise FormsimError(message, hint=hint)
    heads = [head for head in table.inputs if not isinstance(place[head], str)]
    columns = [np.array(table.columns[head], dtype=object)[alike] for head in heads]
    solved = np.array(columns, dtype=np.float64).T.reshape(int(alike.sum()), len(heads))
    if not surrounded(solved, np.array([place[head] for head in heads], dtype=np.float64)):
        message = f"no solved variants surround this place for {name}: it would be extrapolated"
        raise FormsimError(message, hint=f"stay between the variants, or {hint}")


def surrounded(points: Floats, place: Floats) -> bool:
    """Whether a place, (inputs), lies in the convex hull of points, (n, inputs)."""
    if len(place) < 2:
        return bool(((points.min(axis=0) <= place) & (place <= points.max(axis=0))).all())
    from scipy.optimize import linprog

    low, width = points.min(axis=0), np.ptp(points, axis=0)
    width = np.where(width > 0.0, width, np.maximum(np.abs(low), 1.0))
    inner = (points - low) / width
    matrix = np.vstack([inner.T, np.ones(len(points))])
    wanted = np.append((place - low) / width, 1.0)
    found = linprog(np.zeros(len(points)), A_eq=matrix, b_eq=wanted, bounds=(0.0, 1.0))
    return bool(found.status == 0)


def nearest(table: StudyTable, place: Mapping[str, Any]) -> tuple[int, str, str]:
    """The variant nearest to a place among those that came to something."""
    columns = table.columns
    known = [
        all(columns[head][k] is not None for head in place) for k in range(len(columns["key"]))
    ]
    open_ = {"waiting", "running", "failed"}
    rows = np.array(known) & np.array([one not in open_ for one in columns["status"]])
    points, own = coded(table, rows, place)
    away = np.linalg.norm(points - own, axis=1)
    row = int(np.flatnonzero(rows)[int(away.argmin())])
    return columns["variant"][row], columns["status"][row], columns["verdict"][row]
