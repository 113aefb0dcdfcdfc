"""Time series of the moving sheet in one VTKHDF file, written step by step.

Where a trim changes the mesh, the new one stands behind the old ones as a further part, and every
step says where the points, cells and corners of its own begin.

Steps are added to a second copy that then takes the place of the file: whenever a run is killed,
the file is whole. A file torn in the middle would crash viewers. Each step begins with a chunk of
its own, since chunks are packed, and one that is packed twice leaves a hole.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formsim.arrays import Floats, Ints
from formsim.errors import StoreError
from formsim.material.model import Material
from formsim.results.curve import strip
from formsim.results.residual_stress import point_stresses
from formsim.results.thickness import plane_gradient, thickness_profile
from formsim.results.twin import changed, drop_twin, new_file
from formsim.solver.body import Body
from formsim.solver.state import State
from formsim.solver.tempo import temperatures

Bytes = NDArray[np.uint8]
Singles = NDArray[np.float32]
Rows = Floats | Ints | Bytes | Singles

ROOT = "VTKHDF"
VERSION = (2, 0)
QUADRATIC_QUAD = 23

PACKED: Mapping[str, str | int | bool] = {
    "compression": "gzip",
    "compression_opts": 1,
    "shuffle": True,
}
"""How steps are packed: a packing every viewer knows, at its fastest."""


@dataclass(frozen=True)
class Step:
    """One step of a series.

    Attributes
    ----------
    time : value of the step, growing
    body, state : the sheet and its places and strains
    stage : number of the stage, from 0
    phase : 0 at the start, 1 while forming, 2 during springback
    material : its metal in this stage
    """

    time: float
    body: Body
    state: State
    stage: int
    phase: int
    material: Material


def create_series(path: Path, body: Body, notes: Mapping[str, str | int]) -> None:
    """New file with the mesh and no steps; ``notes`` become attributes of the file.

    Raises
    ------
    StoreError : the file cannot be written
    """
    with _store_errors(path), new_file(path) as new, _file(new, "w") as file:
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


def append_steps(path: Path, steps: Sequence[Step]) -> None:
    """Add steps with their places and fields; the file is changed once for all of them."""
    with _changed(path) as file:
        root = file[ROOT]
        found = [_add_fields(root, step) for step in steps]
        group = root["Steps"]
        for name in found[0] if found else ():
            _extend(group, name, np.array([row[name] for row in found]))
        group.attrs["NSteps"] = int(group.attrs["NSteps"]) + len(steps)


def _add_fields(root: Any, step: Step) -> dict[str, Any]:
    """Put the places and fields of a step behind the others; says where all of it begins."""
    body, state = step.body, step.state
    if not _is_last_mesh(root, body):
        _add_mesh(root, body)
    places = np.zeros((len(body.nodes), 3))
    places[:, :2] = state.places(body)
    begins: dict[str, Any] = {
        "Values": float(step.time),
        "PointOffsets": _add_block(root, "Points", places),
        "PartOffsets": len(root["NumberOfCells"]) - 1,
        "NumberOfParts": 1,
        "CellOffsets": [int(root["NumberOfCells"][:-1].sum())],
        "ConnectivityIdOffsets": [int(root["NumberOfConnectivityIds"][:-1].sum())],
    }
    for group, fields in (
        ("PointData", point_fields(body, state)),
        ("CellData", cell_fields(step)),
    ):
        for name, values in fields.items():
            begin = _add_block(root[group], name, values.astype(np.float32))
            begins[f"{group}Offsets/{name}"] = begin
    return begins


def set_times(path: Path, times: Floats) -> None:
    """Give the last steps of the file new times, (n); they must grow."""
    with _changed(path) as file:
        values = file[ROOT]["Steps"]["Values"]
        values[len(values) - len(times) :] = times


def end_series(path: Path) -> None:
    """Remove the second copy: no step will come any more."""
    with _store_errors(path):
        drop_twin(path)


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


def cell_fields(step: Step) -> dict[str, Floats]:
    """Fields of the elements: means of strains and stresses, stage and phase numbers."""
    body, state = step.body, step.state
    stress = point_stresses(body, step.material, state)
    plane, hoop = plane_gradient(body, state)
    along = 0.5 * np.log(plane[0, 0] ** 2 + plane[1, 0] ** 2)
    ones, degrees = np.ones(len(body.elements)), temperatures(state)
    followed = {} if degrees is None else {"temperature": _mean(body, degrees)}
    return followed | {
        "equivalent_plastic_strain": _mean(body, state.strain),
        "meridional_log_strain": _mean(body, along),
        "hoop_log_strain": _mean(body, np.log(hoop)),
        "meridional_stress": _mean(body, stress[0]),
        "hoop_stress": _mean(body, stress[1]),
        "stage": step.stage * ones,
        "phase": step.phase * ones,
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


def _extend(group: Any, name: str, values: Rows) -> int:
    """Put rows behind those that are there; says where they begin."""
    if name not in group:
        _create(group, name, values, max(len(values), 64), {})
    rows = group[name]
    begin = len(rows)
    _put(rows, begin, values)
    return begin


def _add_block(group: Any, name: str, values: Rows) -> int:
    """Put the rows of a step into packed chunks of their own; says where they begin."""
    if name not in group:
        _create(group, name, values, len(values), PACKED)
    rows = group[name]
    begin = _next_block(rows)
    _put(rows, begin, values)
    return begin


def _create(
    group: Any, name: str, values: Rows, chunk: int, packing: Mapping[str, str | int | bool]
) -> None:
    tail = values.shape[1:]
    group.create_dataset(
        name,
        shape=(0, *tail),
        maxshape=(None, *tail),
        chunks=(chunk, *tail),
        dtype=values.dtype,
        **packing,
    )


def _put(rows: Any, begin: int, values: Rows) -> None:
    rows.resize(begin + len(values), axis=0)
    rows[begin:] = values


def _next_block(rows: Any) -> int:
    """Where the next step begins in a packed array."""
    chunk: int = rows.chunks[0]
    return -(-len(rows) // chunk) * chunk


def _catch_up(copy: Any, series: Any) -> None:
    """Add to an older copy of a series what has come since; the times are taken anew."""

    def add(name: str, rows: Any) -> None:
        if not hasattr(rows, "chunks"):
            return
        there, number = copy.get(name), len(rows)
        if there is None:
            series.copy(rows, copy, name)
        elif (begin := len(there)) == number:
            return
        elif rows.compression:
            _copy_blocks(there, rows)
        else:
            _put(there, begin, rows[begin:])

    series.visititems(add)
    steps = series["Steps"]
    copy["Steps"].attrs["NSteps"] = steps.attrs["NSteps"]
    if "Values" in steps:
        copy["Steps"]["Values"][:] = steps["Values"][:]


def _copy_blocks(copy: Any, rows: Any) -> None:
    """Copy the packed chunks that are missing, as they are."""
    begin, side = _next_block(copy), (0,) * (rows.ndim - 1)
    copy.resize(len(rows), axis=0)
    for at in range(begin, len(rows), rows.chunks[0]):
        mask, packed = rows.id.read_direct_chunk((at, *side))
        copy.id.write_direct_chunk((at, *side), packed, mask)


@contextmanager
def _changed(path: Path) -> Iterator[Any]:
    """Second copy of a series, open to be changed; it then takes the place of the series."""
    with _store_errors(path), changed(path) as part, _file(part, "r+") as file:
        with _file(path, "r") as series:
            _catch_up(file[ROOT], series[ROOT])
        yield file


@contextmanager
def _file(path: Path, mode: str) -> Iterator[Any]:
    import h5py

    with h5py.File(path, mode, locking=False) as file:
        yield file


@contextmanager
def _store_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except (OSError, KeyError) as error:
        message = f"the time series {path} cannot be written: {error}"
        raise StoreError(message, hint="choose another folder with --into") from error
