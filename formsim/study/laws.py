"""Laws through the numbers of a study, kept in its folder so that they are fitted once."""

from __future__ import annotations

import hashlib
import json
import time
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from formsim.arrays import Floats
from formsim.errors import StoreError
from formsim.study.folder import LAWS, StudyFolder
from formsim.study.gaussian import Gaussian, fit_gaussian

FORMAT = 2
"""Number of the layout of the file of laws."""

SIZES = ("lengths", "grains", "weights")
"""What tells the processes of a law from others through the same numbers."""


@dataclass
class KeptLaws:
    """Laws of a study by their numbers, read from its folder.

    Attributes
    ----------
    rows : what is known of every law, and the digest of the numbers behind it
    why : why laws of the file cannot be used; empty where they can, or there is none
    fitted : numbers whose law was fitted by this call, and the time it took [s]
    """

    folder: StudyFolder
    rows: dict[str, dict[str, Any]]
    why: str = ""
    fitted: dict[str, float] = field(default_factory=dict)

    def law(self, number: str, points: Floats, values: Floats) -> Gaussian:
        """Law of a number through values, (n), at points, (n, inputs): kept, or fitted and kept."""
        behind = _digest(points, values)
        kept = self.rows.get(number)
        if kept is not None and kept["behind"] == behind:
            return Gaussian(points, values, *(np.array(kept[name]) for name in SIZES))
        if kept is not None:
            self.why = "the table has changed"
        begin = time.perf_counter()
        law = fit_gaussian(points, values)
        self.fitted[number] = time.perf_counter() - begin
        own = {name: getattr(law, name).tolist() for name in SIZES}
        self.rows[number] = {"behind": behind, **own}
        return law

    def keep(self) -> str:
        """Write what was fitted; why that was not possible, empty where it was."""
        if not self.fitted:
            return ""
        plain = {"format": FORMAT, "laws": self.rows}
        try:
            self.folder.write(LAWS, json.dumps(plain, indent=1, ensure_ascii=False) + "\n")
        except StoreError as error:
            return str(error)
        return ""


def read_laws(folder: StudyFolder) -> KeptLaws:
    """Laws kept in the folder of a study; none where there are none, or they cannot be used."""
    try:
        raw = json.loads((folder.path / LAWS).read_text(encoding="utf-8"))
        if raw["format"] != FORMAT:
            return KeptLaws(folder, {}, f"{LAWS} is of another version")
        return KeptLaws(folder, {name: _checked(row) for name, row in raw["laws"].items()})
    except FileNotFoundError:
        return KeptLaws(folder, {})
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return KeptLaws(folder, {}, f"{LAWS} is damaged")


def _checked(row: dict[str, Any]) -> dict[str, Any]:
    """A row of the file, its numbers above 0.

    Raises
    ------
    KeyError, TypeError, ValueError : it is damaged
    """
    sizes = {name: np.array(row[name], dtype=np.float64) for name in SIZES}
    if not all(one.size and np.isfinite(one).all() and (one > 0.0).all() for one in sizes.values()):
        message = "a length, grain or weight is not above 0"
        raise ValueError(message)
    if sizes["lengths"].ndim != 2 or len({len(one) for one in sizes.values()}) > 1:
        message = "lengths, grains and weights are not of the same processes"
        raise ValueError(message)
    return {"behind": str(row["behind"]), **{name: one.tolist() for name, one in sizes.items()}}


def _digest(points: Floats, values: Floats) -> str:
    """Digest of the numbers a law goes through."""
    digest = hashlib.sha256(repr(points.shape).encode())
    for one in (points, values):
        digest.update(np.ascontiguousarray(one, dtype="<f8").tobytes())
    return digest.hexdigest()[:16]
