"""The table of a study: one row per variant, as CSV and, where pyarrow is there, as Parquet."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from formsim.case.expect import Wanted
from formsim.results.endings import ENDINGS
from formsim.study.folder import PARQUET, TABLE, StudyFolder
from formsim.study.handbook import HANDBOOK, WARNINGS, Broken, advice_text
from formsim.study.values import head_of
from formsim.study.wanted import beyond, name_of

if TYPE_CHECKING:
    from formsim.study.plan import Plan

GOOD, REJECT, NOT_TRUSTED, OPEN = "good", "reject", "not trusted", ""
"""Verdicts: keeps all limits; breaks one or the sheet gives way; a trust check failed; none yet."""


@dataclass(frozen=True)
class StudyTable:
    """Columns of equal length by name, in their order.

    Attributes
    ----------
    inputs, measures : names of those columns that hold them
    broken : handbook rules that variants do not keep
    """

    columns: Mapping[str, Sequence[Any]]
    inputs: tuple[str, ...]
    measures: tuple[str, ...]
    broken: tuple[Broken, ...] = ()


def table_of(
    plan: Plan, rows: Mapping[str, Mapping[str, Any]], running: frozenset[str] = frozenset()
) -> StudyTable:
    """Table of a study as far as it has come.

    Parameters
    ----------
    rows : what became of finished variants, by key
    running : keys of those that are being solved
    """
    found = [rows.get(one.key) for one in plan.variants]
    states = [
        _state(row, plan.wanted) if row else _open(one.refused, one.key in running)
        for one, row in zip(plan.variants, found, strict=True)
    ]
    values = [row.get("measures", {}) if row else {} for row in found]
    inputs = [head_of(one.name, one.unit) for one in plan.inputs]
    heads = [head_of(name_of(one), one.unit) for one in plan.wanted]
    columns: dict[str, list[Any]] = {"variant": [one.number for one in plan.variants]}
    columns |= {
        name: [state[k] for state in states] for k, name in enumerate(("status", "verdict"))
    }
    for k, name in enumerate(inputs):
        columns[name] = [one.values[k] for one in plan.variants]
    for head, one in zip(heads, plan.wanted, strict=True):
        columns[head] = [value.get(name_of(one)) for value in values]
    for name, key in _BEHIND.items():
        columns[name] = [row.get(key) if row else None for row in found]
    columns["reason"] = [state[2] for state in states]
    columns[WARNINGS] = [None if one.refused else len(one.advice) for one in plan.variants]
    columns[HANDBOOK] = [advice_text(one.advice) for one in plan.variants]
    columns["key"] = [one.key for one in plan.variants]
    return StudyTable(columns, tuple(inputs), tuple(heads), plan.broken)


_BEHIND = {
    "least_margin [%]": "least_margin_percent",
    "least_margin_of": "least_margin_of",
    "mass [g]": "mass_g",
    "time [s]": "seconds",
}


def _open(refused: str, running: bool) -> tuple[str, str, str]:
    if refused:
        return "refused", OPEN, refused
    return ("running" if running else "waiting"), OPEN, ""


def _state(row: Mapping[str, Any], wanted: Sequence[Wanted]) -> tuple[str, str, str]:
    """Status, verdict and reason of a finished variant."""
    status, reason = str(row["status"]), str(row.get("reason", ""))
    if status != "done":
        return status, REJECT if status in ENDINGS else OPEN, reason
    failed = row.get("failed_checks", ())
    untrue = [_told(check) for check in failed if check["kind"] == "trust"]
    broken = [_told(check) for check in failed if check["kind"] != "trust"]
    broken += beyond(row.get("measures", {}), wanted)
    verdict = NOT_TRUSTED if untrue else REJECT if broken else GOOD
    return status, verdict, "; ".join([*untrue, *broken])


def _told(check: Mapping[str, Any]) -> str:
    """A failed check in words."""
    from formsim.report.words import number, wanted

    return f"{check['name']} {number(check['computed'])}, wanted {wanted(check)}"


def write_table(folder: StudyFolder, table: StudyTable) -> None:
    """Write the table, whole or not at all.

    Raises
    ------
    StoreError : it cannot be written; the last one is still there
    """
    folder.write(TABLE, csv_text(table.columns))
    data = _parquet(table)
    if data is not None:
        folder.write(PARQUET, data)


def write_rows(folder: StudyFolder, name: str, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows with the same keys as a table; without rows an earlier table goes."""
    columns = {key: [row[key] for row in rows] for key in rows[0]} if rows else {}
    if rows:
        folder.write(name, csv_text(columns))
    else:
        folder.remove(name)


def csv_text(columns: Mapping[str, Sequence[Any]]) -> str:
    """Comma-separated text with a header; empty where there is no value."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(
        [_shown(value) for value in row] for row in zip(*columns.values(), strict=True)
    )
    return out.getvalue()


def _shown(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.9g}" if isinstance(value, float) else str(value)


def _parquet(table: StudyTable) -> bytes | None:
    """The table as Parquet; None where pyarrow is not installed."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        return None
    kinds = {int: pyarrow.int64(), float: pyarrow.float64(), str: pyarrow.string()}
    arrays = {}
    for name, values in table.columns.items():
        kind = str if name in TEXTS else _kind(values)
        cast = [None if value is None else kind(value) for value in values]
        arrays[name] = pyarrow.array(cast, kinds[kind])
    sink = pyarrow.BufferOutputStream()
    pyarrow.parquet.write_table(pyarrow.table(arrays), sink)
    data: bytes = sink.getvalue().to_pybytes()
    return data


TEXTS = frozenset({"status", "verdict", "least_margin_of", "reason", HANDBOOK, "key"})
"""Columns that hold texts."""


def _kind(values: Sequence[Any]) -> type[int] | type[float] | type[str]:
    """One type for all values of a column: numbers where all are, else texts."""
    given = [value for value in values if value is not None]
    if not all(isinstance(value, int | float) and not isinstance(value, bool) for value in given):
        return str
    return int if given and all(isinstance(value, int) for value in given) else float
