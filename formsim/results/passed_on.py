"""The sheet as a stage passes it on, as arrays: what a later case needs to go on from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from skfem import MeshQuad

from formsim.errors import StoreError
from formsim.results.array_file import DAMAGED, notes_of, write_arrays
from formsim.results.history import History, history_arrays, history_from
from formsim.solver.body import Body, build_body
from formsim.solver.state import State, between_stages

_EDGE, _DONE = "edge_", "done_"


@dataclass(frozen=True)
class PassedOn:
    """A sheet between two stages, without its metal.

    Attributes
    ----------
    body, state : mesh, displacement, plastic strains, damage integrals and heat
    blank_volume : of the metal before the first stage of the line [mm3]
    done : what the stage that passes it on did to it
    notes : what the file says about its case
    """

    body: Body
    state: State
    blank_volume: float
    done: History
    notes: Mapping[str, str | int]


def write_sheet(path: Path, sheet: PassedOn) -> None:
    """Write a sheet; the file is whole or the old one.

    Displacements, plastic strains, damage and heat are all a stage takes over: contact begins
    anew, and elastic strains follow from the first two.
    """
    arrays: dict[str, Any] = {
        "points": sheet.body.mesh.p,
        "cells": sheet.body.mesh.t.astype(np.int32),
        "displacement": sheet.state.u,
        "plastic": sheet.state.plastic,
        "damage": sheet.state.damage,
        "blank_volume": sheet.blank_volume,
    }
    if sheet.state.heat.size:
        arrays["heat"] = sheet.state.heat
    named = sheet.body.mesh.boundaries or {}
    arrays |= {f"{_EDGE}{name}": np.asarray(facets) for name, facets in named.items()}
    arrays |= {f"{_DONE}{name}": values for name, values in history_arrays(sheet.done).items()}
    write_arrays(path, arrays, sheet.notes, packed=True)


def read_sheet(path: Path) -> PassedOn:
    """Sheet of a file written by ``write_sheet``, to the last bit.

    Raises
    ------
    StoreError : the file is missing or damaged
    """
    with _opened(path) as file:
        mesh = MeshQuad(file["points"], file["cells"].astype(np.int64))
        body = build_body(mesh.with_boundaries(_under(_EDGE, file)))
        u = file["displacement"].reshape(body.n_unknowns)
        plastic = file["plastic"].reshape(*body.volume.shape, 4)
        heat = file["heat"] if "heat" in file else np.zeros((0, 0, 3))
        state = between_stages(u, plastic, file["damage"], heat)
        done = history_from(_under(_DONE, file))
        return PassedOn(body, state, float(file["blank_volume"]), done, notes_of(file))


def read_done(path: Path) -> History:
    """What the stage that passed a sheet on did to it, from the file of that sheet.

    Raises
    ------
    StoreError : the file is missing or damaged
    """
    with _opened(path) as file:
        return history_from(_under(_DONE, file))


def write_histories(
    path: Path, histories: Sequence[History], notes: Mapping[str, str | int]
) -> None:
    """Write what stages did to a sheet, in their order; the file is whole or the old one."""
    arrays = {
        f"{number}_{name}": values
        for number, history in enumerate(histories)
        for name, values in history_arrays(history).items()
    }
    write_arrays(path, arrays | {"count": len(histories)}, notes, packed=True)


def read_histories(path: Path) -> tuple[History, ...]:
    """Histories of a file written by ``write_histories``.

    Raises
    ------
    StoreError : the file is missing or damaged
    """
    with _opened(path) as file:
        count = int(file["count"])
        return tuple(history_from(_under(f"{number}_", file)) for number in range(count))


def _under(mark: str, file: Mapping[str, Any]) -> dict[str, Any]:
    """Arrays whose names begin with a mark, by the rest of their names."""
    return {key[len(mark) :]: file[key] for key in file if key.startswith(mark)}


@contextmanager
def _opened(path: Path) -> Iterator[Mapping[str, Any]]:
    try:
        with np.load(path, allow_pickle=False) as file:
            yield file
    except DAMAGED as error:
        message = f"the sheet in {path} cannot be read: {error}"
        raise StoreError(message, hint="run the case of that result again") from error
