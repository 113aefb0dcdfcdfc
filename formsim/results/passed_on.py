"""The sheet as a stage passes it on, as arrays: what a later case needs to go on from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from skfem import MeshQuad

from formsim.errors import StoreError
from formsim.results.array_file import DAMAGED, notes_of, write_arrays
from formsim.solver.body import Body, build_body
from formsim.solver.state import State, between_stages

_EDGE = "edge_"


@dataclass(frozen=True)
class PassedOn:
    """A sheet between two stages, without its metal.

    Attributes
    ----------
    body, state : mesh, displacement, plastic strains, damage integrals and heat
    blank_volume : of the metal before the first stage of the line [mm3]
    notes : what the file says about its case
    """

    body: Body
    state: State
    blank_volume: float
    notes: dict[str, str]


def write_sheet(
    path: Path, body: Body, state: State, blank_volume: float, notes: Mapping[str, str | int]
) -> None:
    """Write a sheet; the file is whole or the old one.

    Displacements, plastic strains, damage and heat are all a stage takes over: contact begins
    anew, and elastic strains follow from the first two.
    """
    arrays: dict[str, Any] = {
        "points": body.mesh.p,
        "cells": body.mesh.t.astype(np.int32),
        "displacement": state.u,
        "plastic": state.plastic,
        "damage": state.damage,
        "blank_volume": blank_volume,
    }
    if state.heat.size:
        arrays["heat"] = state.heat
    named = body.mesh.boundaries or {}
    arrays |= {f"{_EDGE}{name}": np.asarray(facets) for name, facets in named.items()}
    write_arrays(path, arrays, notes, packed=True)


def read_sheet(path: Path) -> PassedOn:
    """Sheet of a file written by ``write_sheet``, to the last bit.

    Raises
    ------
    StoreError : the file is missing or damaged
    """
    try:
        with np.load(path, allow_pickle=False) as file:
            mesh = MeshQuad(file["points"], file["cells"].astype(np.int64))
            edges = {key[len(_EDGE) :]: file[key] for key in file if key.startswith(_EDGE)}
            body = build_body(mesh.with_boundaries(edges))
            u = file["displacement"].reshape(body.n_unknowns)
            plastic = file["plastic"].reshape(*body.volume.shape, 4)
            heat = file["heat"] if "heat" in file else np.zeros((0, 0, 3))
            state = between_stages(u, plastic, file["damage"], heat)
            return PassedOn(body, state, float(file["blank_volume"]), notes_of(file))
    except DAMAGED as error:
        message = f"the sheet in {path} cannot be read: {error}"
        raise StoreError(message, hint="run the case of that result again") from error
