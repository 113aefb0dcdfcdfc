"""States of the moving sheet read back from the time series of a result."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.errors import StoreError
from formsim.results.curve import Curve, between_lines, level
from formsim.results.files import check_format
from formsim.results.series import ROOT
from formsim.solver.numbering import Columns

LEVEL = 1e-4
"""Height within which the middle of a sheet counts as flat [mm]; fields have seven digits."""

ABOUT_THE_STEP = ("stage", "phase")
"""Fields that tell of the step itself."""


class Stop(NamedTuple):
    """A step of a series: its number, time, stage from 0, and phase as in ``Step``."""

    number: int
    time: float
    stage: int
    phase: int


@dataclass(frozen=True)
class Moment:
    """A state of the sheet as the series keeps it.

    Attributes
    ----------
    stop : which step it is
    columns, cells : structure of the mesh; nodes of its elements, (n_el, 8)
    places, first : of the nodes now and before the first stage, (n_nodes, 2) [mm]
    at_nodes, in_cells : fields by name, (n_nodes) and (n_el)
    """

    stop: Stop
    columns: Columns
    cells: Ints
    places: Floats
    first: Floats
    at_nodes: Mapping[str, Floats]
    in_cells: Mapping[str, Floats]

    def faces(self) -> tuple[Curve, Curve]:
        """Bottom and top face; in a cup the outside and the inside."""
        return self._level(self.places, 0), self._level(self.places, 2 * self.columns.layers)

    def starts_flat(self) -> bool:
        """Whether the sheet was a flat blank before the first stage."""
        return float(np.ptp(self._middle(self.first).knots[:, 1])) < LEVEL

    def way(self) -> Floats:
        """Place of every line along the sheet before the first stage, as ``curve.start_way``."""
        middle = self._middle(self.first)
        way: Floats = middle.knots[:, 0] if self.starts_flat() else middle.arc_length()
        return way

    def along(self, name: str) -> Floats | None:
        """A field at every line, mean over the thickness; None where it is not kept."""
        if name in self.at_nodes:
            return self.at_nodes[name][self.columns.lines]
        if name not in self.in_cells:
            return None
        mean = self.in_cells[name].reshape(self.columns.count, self.columns.layers).mean(axis=1)
        way = self.way()
        values: Floats = np.interp(way, between_lines(way), mean)
        return values

    def _middle(self, places: Floats) -> Curve:
        return self._level(places, self.columns.layers)

    def _level(self, places: Floats, half: int) -> Curve:
        return level(self.columns, places, half)


def read_stops(path: Path) -> list[Stop]:
    """Steps of a series.

    Raises
    ------
    StoreError : the file is missing, damaged, or of another format
    """
    with _reading(path) as file:
        check_format(path, file.attrs["format"])
        return _stops(file[ROOT])


def ends_of_stages(stops: Sequence[Stop]) -> dict[int, Stop]:
    """Last state of every stage, by its number from 0."""
    return {stop.stage: stop for stop in stops}


def read_moments(path: Path, wanted: Sequence[int]) -> Iterator[Moment]:
    """States of a series, one after the other, by the numbers of their steps.

    Raises
    ------
    StoreError : the file is missing or damaged
    """
    with _reading(path) as file:
        root = file[ROOT]
        stops, begins = _stops(root), _begins(root)
        for number in wanted:
            begin = {name: int(rows[number]) for name, rows in begins.items()}
            yield _moment(root, stops[number], begin)


def _stops(root: Any) -> list[Stop]:
    begins, cells = _begins(root), root["CellData"]
    if int(root["Steps"].attrs["NSteps"]) == 0:
        return []
    stage, phase = (cells[name][:][begins[f"CellData/{name}"]] for name in ("stage", "phase"))
    times = root["Steps"]["Values"][:]
    return [
        Stop(number, float(time), int(stage[number]), int(phase[number]))
        for number, time in enumerate(times)
    ]


def _begins(root: Any) -> dict[str, Ints]:
    """Where every step begins in the arrays, by group and name."""
    steps = root["Steps"]
    begins = {
        name: steps[name][:].reshape(-1)
        for name in ("PartOffsets", "PointOffsets", "ConnectivityIdOffsets")
        if name in steps
    }
    for group in ("PointData", "CellData"):
        offsets = steps[f"{group}Offsets"]
        begins |= {f"{group}/{name}": offsets[name][:] for name in offsets}
    return begins


def _moment(root: Any, stop: Stop, begin: Mapping[str, int]) -> Moment:
    part = begin["PartOffsets"]
    nodes, count = (int(root[name][part]) for name in ("NumberOfPoints", "NumberOfCells"))
    corners, first = int(root["NumberOfConnectivityIds"][part]), begin["ConnectivityIdOffsets"]
    cells = root["Connectivity"][first : first + corners].reshape(count, -1)

    def fields(group: str, rows: int) -> dict[str, Floats]:
        names = [name for name in root[group] if name not in ABOUT_THE_STEP]
        begins = {name: begin[f"{group}/{name}"] for name in names}
        return {
            name: np.asarray(root[group][name][at : at + rows], dtype=float)
            for name, at in begins.items()
        }

    at_nodes, in_cells = fields("PointData", nodes), fields("CellData", count)
    places = root["Points"][begin["PointOffsets"] : begin["PointOffsets"] + nodes, :2]
    moved = at_nodes.pop("displacement")[:, :2]
    columns = _columns(nodes, count)
    return Moment(stop, columns, cells, places, places - moved, at_nodes, in_cells)


def _columns(nodes: int, cells: int) -> Columns:
    """Columns of a strip: with c of them and l layers it has 3cl + 2c + 2l + 1 nodes."""
    total = (nodes - 3 * cells - 1) // 2
    for layers in range(1, total):
        if cells == layers * (total - layers) and total - layers >= layers:
            return Columns(total - layers, layers)
    message = f"the mesh with {nodes} points and {cells} cells is no strip of columns"
    raise ValueError(message)


@contextmanager
def _reading(path: Path) -> Iterator[Any]:
    import h5py

    if not path.is_file():
        message = f"{path} is missing"
        raise StoreError(message, hint="run the case again")
    try:
        with h5py.File(path, "r", locking=False) as file:
            yield file
    except (OSError, KeyError, IndexError, ValueError) as error:
        message = f"the time series {path} cannot be read: {error}"
        raise StoreError(message, hint="run the case again") from error
