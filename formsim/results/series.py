"""Time series of the moving sheet in one VTKHDF file, written step by step.

Every step is added to a copy that then takes the place of the file: whenever a run is killed, the
file is whole, and a viewer may keep it open. A file torn in the middle would crash such viewers.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.errors import StoreError
from formsim.results.curve import strip
from formsim.results.thickness import plane_gradient, thickness_profile
from formsim.solver.body import Body
from formsim.solver.state import State

ROOT = "VTKHDF"
VERSION = (2, 0)
QUADRATIC_QUAD = 23


def create_series(path: Path, body: Body, notes: Mapping[str, str | int]) -> None:
    """New file with the mesh and no steps; ``notes`` become attributes of the file.

    Raises
    ------
    StoreError : the file cannot be written
    """
    n_nodes, (n_cells, corners) = len(body.nodes), body.elements.shape
    fixed = {
        "NumberOfPoints": [n_nodes],
        "NumberOfCells": [n_cells],
        "NumberOfConnectivityIds": [n_cells * corners],
        "Connectivity": body.elements.ravel(),
        "Offsets": corners * np.arange(n_cells + 1),
    }
    with _file(path, "w") as file:
        for key, note in notes.items():
            file.attrs[key] = note
        root = file.create_group(ROOT)
        root.attrs["Version"] = np.array(VERSION, dtype=np.int64)
        root.attrs["Type"] = np.bytes_("UnstructuredGrid")
        for name, values in fixed.items():
            root.create_dataset(name, data=np.asarray(values, dtype=np.int64))
        root.create_dataset("Types", data=np.full(n_cells, QUADRATIC_QUAD, dtype=np.uint8))
        root.create_group("PointData")
        root.create_group("CellData")
        steps = root.create_group("Steps")
        steps.attrs["NSteps"] = 0
        steps.create_group("PointDataOffsets")
        steps.create_group("CellDataOffsets")


def append_step(path: Path, time: float, body: Body, state: State, stage: int, phase: int) -> None:
    """Add one step with its places and fields.

    Parameters
    ----------
    time : value of the step, growing
    stage : number of the stage, from 0
    phase : 0 at the start, 1 while forming, 2 during springback
    """
    places = np.zeros((len(body.nodes), 3))
    places[:, :2] = state.places(body)
    with _changed(path) as file:
        root = file[ROOT]
        steps = root["Steps"]
        number = int(steps.attrs["NSteps"])
        _extend(root, "Points", places, number)
        for group, fields in (
            ("PointData", point_fields(body, state)),
            ("CellData", cell_fields(body, state, stage, phase)),
        ):
            for name, values in fields.items():
                _extend(root[group], name, values, number)
                offsets = steps[f"{group}Offsets"]
                _extend(offsets, name, np.array([number * len(values)]), number)
        _extend(steps, "Values", np.array([float(time)]), number)
        _extend(steps, "PointOffsets", np.array([number * len(places)]), number)
        for name in ("PartOffsets", "CellOffsets", "ConnectivityIdOffsets"):
            _extend(steps, name, np.zeros((1, 1) if name != "PartOffsets" else 1), number, np.int64)
        _extend(steps, "NumberOfParts", np.ones(1), number, np.int64)
        steps.attrs["NSteps"] = number + 1


def set_times(path: Path, times: Floats) -> None:
    """Give the last steps of the file new times, (n); they must grow."""
    with _changed(path) as file:
        values = file[ROOT]["Steps"]["Values"]
        values[len(values) - len(times) :] = times


def point_fields(body: Body, state: State) -> dict[str, Floats]:
    """Fields at the nodes: displacement (n_nodes, 3) [mm], thickness [mm], thinning [%]."""
    profile = thickness_profile(body, state)
    displacement = np.zeros((len(body.nodes), 3))
    displacement[:, :2] = state.u.reshape(-1, 2)
    return {
        "displacement": displacement,
        "thickness": _at_nodes(body, profile.thickness),
        "thinning_percent": _at_nodes(body, profile.thinning_percent),
    }


def cell_fields(body: Body, state: State, stage: int, phase: int) -> dict[str, Floats]:
    """Fields of the elements: means of plastic and log strains, stage and phase numbers."""
    plane, hoop = plane_gradient(body, state)
    along = 0.5 * np.log(plane[0, 0] ** 2 + plane[1, 0] ** 2)
    ones = np.ones(len(body.elements))
    return {
        "equivalent_plastic_strain": _mean(body, state.strain),
        "meridional_log_strain": _mean(body, along),
        "hoop_log_strain": _mean(body, np.log(hoop)),
        "stage": stage * ones,
        "phase": phase * ones,
    }


def _mean(body: Body, values: Floats) -> Floats:
    mean: Floats = (values * body.volume).sum(axis=1) / body.volume.sum(axis=1)
    return mean


def _at_nodes(body: Body, values: Floats) -> Floats:
    """Values of the lines at all nodes, (n_lines) -> (n_nodes)."""
    columns = strip(body)
    between = 0.5 * (values[1:] + values[:-1])
    pairs = [np.repeat(values[:-1, None], columns.line_nodes, axis=1)]
    pairs.append(np.repeat(between[:, None], columns.layers + 1, axis=1))
    inner = np.concatenate(pairs, axis=1).ravel()
    return np.concatenate([inner, np.repeat(values[-1], columns.line_nodes)])


def _extend(
    group: Any, name: str, values: Floats | Ints, number: int, kind: type[Any] | None = None
) -> None:
    """Put the rows of step ``number`` behind those of the steps before it."""
    values = np.asarray(values, dtype=kind)
    size = len(values)
    if name not in group:
        limit, chunk = (None, *values.shape[1:]), (max(size, 64), *values.shape[1:])
        group.create_dataset(
            name, shape=(0, *values.shape[1:]), maxshape=limit, chunks=chunk, dtype=values.dtype
        )
    rows = group[name]
    rows.resize((number + 1) * size, axis=0)
    rows[number * size :] = values


@contextmanager
def _changed(path: Path) -> Iterator[Any]:
    """Copy of a file to change, which then takes its place; no copy is left when that fails."""
    part = path.with_name(path.name + ".part")
    try:
        with _store_errors(path):
            shutil.copyfile(path, part)
        with _file(part, "r+") as file:
            yield file
        with _store_errors(path):
            part.replace(path)
    finally:
        part.unlink(missing_ok=True)


@contextmanager
def _file(path: Path, mode: str) -> Iterator[Any]:
    import h5py

    with _store_errors(path), h5py.File(path, mode, locking=False) as file:
        yield file


@contextmanager
def _store_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except (OSError, KeyError) as error:
        message = f"the time series {path} cannot be written: {error}"
        raise StoreError(message, hint="choose another folder with --into") from error
