"""A surrogate of a finished study: what one more variant would come to, without solving it."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from formsim.errors import FormsimError
from formsim.sources import sources
from formsim.study.folder import StudyFolder
from formsim.study.gaussian import Gaussian
from formsim.study.kept import Kept
from formsim.study.laws import KeptLaws, read_laws
from formsim.study.surrogate_place import coded, nearest, read_place, refuse_outside, usable
from formsim.study.table import StudyTable

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
    value, low, high : of one more run, and ends that hold it with 95 %, in the unit of the number
    left_out : root of the mean square error of every row told by the others
    explained : share of the variance that leaving out leaves explained, at most 1
    rows : behind it
    answered : time [s]
    """

    number: str
    value: float
    low: float
    high: float
    left_out: float
    explained: float
    rows: int
    answered: float


@dataclass(frozen=True)
class Fitting:
    """Laws that had to be fitted for an answer.

    Attributes
    ----------
    seconds : it took [s]
    count : of laws
    why : why those of an earlier call could not be taken; empty where there were none
    trouble : why they could not be kept; empty where they were
    """

    seconds: float
    count: int
    why: str
    trouble: str


@dataclass(frozen=True)
class Told:
    """Answers at one place.

    Attributes
    ----------
    place : value of every input
    enough : rows with which such a law is commonly begun
    nearest : number of the nearest variant, with its status and verdict
    others : rows that another formsim has solved, by its version or its sources
    """

    place: Mapping[str, Any]
    answers: tuple[Answer, ...]
    enough: int
    nearest: tuple[int, str, str]
    fitting: Fitting
    others: int


def predict(kept: Kept, at: Sequence[str]) -> Told:
    """What a study says at a place between its variants.

    Laws that an earlier call has fitted to the same numbers are taken from the folder of the study.

    Parameters
    ----------
    at : texts such as ``stage.draw.punch.nose_radius = 3.3``, one for every input

    Raises
    ------
    CaseError : with every fault of the place; it lies outside of what was solved
    FormsimError : too few variants are solved
    """
    table = kept.table
    place, laws = read_place(table, at), read_laws(kept.folder)
    found = [one for name in table.measures if (one := _answer(table, name, place, laws))]
    if not found:
        raise _too_few(table, kept.folder)
    varying = [head for head in table.inputs if len(set(table.columns[head])) > 1]
    fitting = Fitting(sum(laws.fitted.values()), len(laws.fitted), laws.why, laws.keep())
    others = sum(not key.endswith(sources()[:8]) for key in table.columns["key"] if key)
    enough = CUSTOM * len(varying)
    return Told(place, tuple(found), enough, nearest(table, place), fitting, others)


def _answer(
    table: StudyTable, name: str, place: Mapping[str, Any], laws: KeptLaws
) -> Answer | None:
    """Answer for one number; None where too few rows have it."""
    rows = usable(table, name)
    if rows.sum() < LEAST:
        return None
    points, own = coded(table, rows, place)
    if not points.size or len(points) < LEAST_EACH * points.shape[1]:
        return None
    refuse_outside(table, rows, place, name, laws.folder.extended)
    values = np.array(table.columns[name], dtype=object)[rows].astype(np.float64)
    law = laws.law(name, points, values)
    begin = time.perf_counter()
    there = own[None, :]
    value, (low, high) = law.at(there)[0], law.within(there)
    answered = time.perf_counter() - begin
    found = float(value[0]), float(low[0]), float(high[0]), *left_out_error(law)
    return Answer(name, *found, len(values), answered)


def left_out_error(law: Gaussian) -> tuple[float, float]:
    """Root of the mean square error of leaving one out, and the share of the variance explained."""
    error = float(np.square(law.left_out()[0] - law.values).mean())
    spread = float(np.square(law.values - law.values.mean()).mean())
    return float(np.sqrt(error)), 1.0 - error / spread if spread > 0.0 else 1.0


def _too_few(table: StudyTable, folder: StudyFolder) -> FormsimError:
    count = max((int(usable(table, name).sum()) for name in table.measures), default=0)
    left = sum(one in ("waiting", "failed") for one in table.columns["status"])
    message = (
        f"{count} of {len(table.columns['status'])} variants give trusted numbers, too few for a"
        f" law: expected {LEAST} at least, and {LEAST_EACH} for each input and each value of a text"
    )
    hint = f"{left} variants are not solved: {folder.again}" if left else folder.extended
    return FormsimError(message, hint=hint)
