"""Last accepted state of a run as arrays, to look at or to go on from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from formsim.errors import StoreError
from formsim.results.array_file import DAMAGED, notes_of, write_arrays
from formsim.solver.contact import Grip
from formsim.solver.state import State

_PLAIN = tuple(field.name for field in fields(State) if field.name != "grip")


@dataclass(frozen=True)
class LastState:
    """An accepted state with the stage it belongs to.

    Attributes
    ----------
    stage : number of the stage, from 0
    name : its name
    state : the state
    notes : what the file says about the case
    """

    stage: int
    name: str
    state: State
    notes: dict[str, str]


def write_state(
    path: Path, stage: int, name: str, state: State, notes: Mapping[str, str | int]
) -> None:
    """Write a state; the file is whole or the old one."""
    arrays: dict[str, Any] = {"stage": stage, "name": np.array(name)}
    arrays |= {key: getattr(state, key) for key in _PLAIN}
    arrays |= {f"grip_{field.name}": getattr(state.grip, field.name) for field in fields(Grip)}
    write_arrays(path, arrays, notes, packed=False)


def read_state(path: Path) -> LastState:
    """State of a file written by ``write_state``.

    Raises
    ------
    StoreError : the file is missing or damaged
    """
    try:
        with np.load(path, allow_pickle=False) as file:
            grip = Grip(**{field.name: file[f"grip_{field.name}"] for field in fields(Grip)})
            plain: dict[str, Any] = {
                key: file[key] if file[key].ndim else float(file[key])
                for key in _PLAIN
                if key in file
            }
            state = State(**plain, grip=grip)
            return LastState(int(file["stage"]), str(file["name"]), state, notes_of(file))
    except DAMAGED as error:
        message = f"the last state in {path} cannot be read: {error}"
        raise StoreError(message, hint="run the case again") from error
