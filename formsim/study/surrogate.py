"""A surrogate of a finished study: what one more variant would come to, without solving it."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from formsim.errors import FormsimError, StoreError
from formsim.study.asked import asked_study
from formsim.study.conduct import solved_rows
from formsim.study.folder import STUDY, StudyFolder
from formsim.study.gaussian import Gaussian, fit_gaussian
from formsim.study.plan import Plan, plan_study
from formsim.study.surrogate_place import coded, nearest, read_place, refuse_outside, usable
from formsim.study.table import StudyTable, table_of

LEAST, LEAST_EACH = 5, 3
"""Fewest rows in all, and for each column of the law."""

CUSTOM = 10
"""Rows for each input with which a law of a computer experiment is commonly begun.

Source: J. L. Loeppky, J. Sacks and W. J. Welch, Technometrics 51, 2009 (memory).
"""


@dataclass(frozen=True)
class Answer:
    """What a study says of one number at a place it has not solved.

    Attributes
    ----------
    value, deviation : of one more run, in the unit of the number
    left_out : root of the mean square error of every row told by the others
    explained : share of the variance that leaving out leaves explained, at most 1
    rows : behind it
    fitted, answered : time [s]
    """

    number: str
    value: float
    deviation: float
    left_out: float
    explained: float
    rows: int
    fitted: float
    answered: float


@dataclass(frozen=True)
class Told:
    """Answers at one place.

    Attributes
    ----------
    place : value of every input
    enough : rows with which such a law is commonly begun
    nearest : number of the nearest variant, with its status and verdict
    """

    place: Mapping[str, Any]
    answers: tuple[Answer, ...]
    enough: int
    nearest: tuple[int, str, str]


def solved_study(path: Path) -> tuple[Plan, StudyTable]:
    """Plan and table of the study in a folder, as far as it is solved.

    Raises
    ------
    StoreError : there is none
    CaseError : it cannot be planned any more
    """
    if not (path / STUDY).is_file():
        message = f"{path} holds no study: there is no {STUDY}"
        raise StoreError(message, hint="name a folder that formsim sweep or formsim seek has made")
    asked = asked_study(path / STUDY, [], {})
    plan = plan_study(asked.study, asked.case, asked.name, asked.lines)
    return plan, table_of(plan, solved_rows(plan, StudyFolder(path)))


def predict(plan: Plan, table: StudyTable, at: Sequence[str]) -> Told:
    """What a study says at a place between its variants.

    Parameters
    ----------
    at : texts such as ``stage.draw.punch.nose_radius = 3.3``, one for every input

    Raises
    ------
    CaseError : with every fault of the place; it lies outside of what was solved
    FormsimError : too few variants are solved
    """
    place = read_place(plan, table, at)
    laws = [law for name in table.measures if (law := _law(table, name, place)) is not None]
    if not laws:
        raise _too_few(table)
    varying = [head for head in table.inputs if len(set(table.columns[head])) > 1]
    enough = CUSTOM * len(varying)
    return Told(place, tuple(laws), enough, nearest(table, place))


def _law(table: StudyTable, name: str, place: Mapping[str, Any]) -> Answer | None:
    """Answer for one number; None where too few rows have it."""
    rows = usable(table, name)
    if rows.sum() < LEAST:
        return None
    points, own = coded(table, rows, place)
    if not points.size or len(points) < LEAST_EACH * points.shape[1]:
        return None
    refuse_outside(table, rows, place, name)
    values = np.array(table.columns[name], dtype=object)[rows].astype(np.float64)
    begin = time.perf_counter()
    law = fit_gaussian(points, values)
    fitted = time.perf_counter()
    value, deviation = law.at(own[None, :])
    answered = time.perf_counter()
    error, explained = left_out_error(law)
    times = fitted - begin, answered - fitted
    found = float(value[0]), float(deviation[0]), error, explained
    return Answer(name, *found, len(values), *times)


def left_out_error(law: Gaussian) -> tuple[float, float]:
    """Root of the mean square error of leaving one out, and the share of the variance explained."""
    error = float(np.square(law.left_out()[0] - law.values).mean())
    spread = float(np.square(law.values - law.values.mean()).mean())
    return float(np.sqrt(error)), 1.0 - error / spread if spread > 0.0 else 1.0


def _too_few(table: StudyTable) -> FormsimError:
    count = max((int(usable(table, name).sum()) for name in table.measures), default=0)
    left = sum(one in ("waiting", "failed") for one in table.columns["status"])
    message = (
        f"{count} of {len(table.columns['status'])} variants give trusted numbers, too few for a"
        f" law: expected {LEAST} at least, and {LEAST_EACH} for each input and each value of a text"
    )
    hint = f"{left} variants are not solved: run the study again" if left else "extend the study"
    return FormsimError(message, hint=hint)
