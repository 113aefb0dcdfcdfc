"""Time series of the moving sheet in one VTKHDF file, written step by step.

Where a trim changes the mesh, the new one stands behind the old ones as a further part, and every
step says where the points, cells and corners of its own begin.

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
from numpy.typing import NDArray

from formsim.arrays import Floats, Ints
from formsim.errors import StoreError
from formsim.results.curve import strip
from formsim.results.thickness import plane_gradient, thickness_profile
from formsim.solver.body import Body
from formsim.solver.state import State

Bytes = NDArray[np.uint8]

ROOT = "VTKHDF"
VERSION = (2, 0)
QUADRATIC_QUAD = 23


def create_series(path: Path, body: Body, notes: Mapping[str, str | int]) -> None:
    """New file with the mesh and no steps; ``notes`` become attributes of the file.

    Raises
    ------
    StoreError : the file cannot be written
    """
    with _file(path, "w") as file:
        for key, note in notes.items():
            file.attrs[key] = note
        root = file.create_group(ROOT)
        root.attrs["Version"] = np.array(VERSION, dtype=np.int64)
        root.attrs["Type"] = np.bytes_("UnstructuredGrid")
        _add_mesh(root, body)
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
        if not _is_last_mesh(root, body):
            _add_mesh(root, body)
        where = {
            "PointOffsets": [_extend(root, "Points", places)],
            "PartOffsets": [len(root["NumberOfCells"]) - 1],
            "NumberOfParts": [1],
            "CellOffsets": [[root["NumberOfCells"][:-1].sum()]],
            "ConnectivityIdOffsets": [[root["NumberOfConnectivityIds"][:-1].sum()]],
        }
        for group, fields in (
            ("PointData", point_fields(body, state)),
            ("CellData", cell_fields(body, state, stage, phase)),
        ):
            offsets = steps[f"{group}Offsets"]
            for name, values in fields.items():
                begin = _extend(root[group], name, values)
                _extend(offsets, name, np.array([begin]))
        _extend(steps, "Values", np.array([float(time)]))
        for name, begins in where.items():
            _extend(steps, name, np.array(begins, dtype=np.int64))
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


def _add_mesh(root: Any, body: Body) -> None:
    """Put the cells of a mesh behind those of the meshes before it."""
    cells, corners = body.elements.shape
    whole = {
        "NumberOfPoints": [len(body.nodes)],
        "NumberOfCells": [cells],
        "NumberOfConnectivityIds": [cells * corners],
        "Connectivity": body.elements.ravel(),
        "Offsets": corners * np.arange(cells + 1),
    }
    for name, values in whole.items():
        _extend(root, name, np.asarray(values, dtype=np.int64))
    _extend(root, "Types", np.full(cells, QUADRATIC_QUAD, dtype=np.uint8))


def _is_last_mesh(root: Any, body: Body) -> bool:
    """Whether the last mesh of the file is that of the body."""
    size = int(root["NumberOfConnectivityIds"][-1])
    if (int(root["NumberOfPoints"][-1]), size) != (len(body.nodes), body.elements.size):
        return False
    return bool(np.array_equal(root["Connectivity"][-size:], body.elements.ravel()))


def _extend(group: Any, name: str, values: Floats | Ints | Bytes) -> int:
    """Put rows behind those that are there; says where they begin."""
    if name not in group:
        tail = values.shape[1:]
        shape, chunk = (0, *tail), (max(len(values), 64), *tail)
        group.create_dataset(
            name, shape=shape, maxshape=(None, *tail), chunks=chunk, dtype=values.dtype
        )
    rows = group[name]
    begin = len(rows)
    rows.resize(begin + len(values), axis=0)
    rows[begin:] = values
    return begin


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
