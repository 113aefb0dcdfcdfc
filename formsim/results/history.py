"""What the columns of a sheet went through in a stage; laws and limit curves judge it later."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from formsim.arrays import Bools, Floats

_WORDS, _ARRAYS = (
    ("zones", "phases"),
    ("way", "strokes", "major", "minor", "squeezed", "thinned", "integrals"),
)


@dataclass(frozen=True)
class History:
    """Columns of a stage over its kept states.

    Attributes
    ----------
    stage : name
    zones : zone of every column in the last state, (n_columns)
    way : place of the columns before the first stage, in a flat blank its radius, (n_columns) [mm]
    strokes, phases : of the states, (n_states) [mm]
    major, minor : log strains of the middle of the sheet, (n_states, n_columns) [-]
    squeezed : columns that have been ironed by then, (n_states, n_columns)
    thinned : at last, along the normal, of the two lines beside a column the larger, (n_columns)
        [%]
    integrals : largest principal and mean stress over the equivalent one, and 1, over plastic
        strain, means of the elements, (n_states, n_columns, n_layers, 3); of a stage that was read
        from a result in its last state only, (1, n_columns, n_layers, 3)
    passed : strokes at which damage passed its limit, see ``Passing.strokes``; None where there is
        no limit, or the stage was read from a result
    """

    stage: str
    zones: tuple[str, ...]
    way: Floats
    strokes: Floats
    phases: tuple[str, ...]
    major: Floats
    minor: Floats
    squeezed: Bools
    thinned: Floats
    integrals: Floats
    passed: Floats | None = field(default=None, kw_only=True)


def history_arrays(history: History) -> dict[str, Any]:
    """A history as arrays for a file, its integrals in the last state."""
    arrays: dict[str, Any] = {name: getattr(history, name) for name in _ARRAYS}
    arrays["integrals"] = history.integrals[-1:]
    return arrays | {name: np.array(getattr(history, name)) for name in ("stage", *_WORDS)}


def history_from(arrays: Mapping[str, Any]) -> History:
    """History of the arrays of ``history_arrays``.

    Raises
    ------
    KeyError : an array is missing
    """
    values: dict[str, Any] = {name: tuple(map(str, arrays[name])) for name in _WORDS}
    values |= {name: np.asarray(arrays[name]) for name in _ARRAYS}
    return History(stage=str(arrays["stage"]), **values)
