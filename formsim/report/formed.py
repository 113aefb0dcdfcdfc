"""The sheet of a kept state as a mesh file and as a drawing of its faces."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from formsim.arrays import Floats
from formsim.geometry.drawing_write import write_lines
from formsim.results.curve import Curve
from formsim.results.series_read import Moment

PER_COLUMN = 4
"""Straight pieces of a drawing for every column of the mesh."""


def save_mesh(moment: Moment, path: Path) -> Path:
    """Write the mesh of a state with its fields as VTU: x the radius, y the height [mm].

    Parameters
    ----------
    path : the file, which ends in ``.vtu``
    """
    import meshio

    def in_space(plane: Floats) -> Floats:
        return np.column_stack([plane, np.zeros(len(plane))])

    at_nodes = {"displacement": in_space(moment.places - moment.first), **moment.at_nodes}
    in_cells = {name: [values] for name, values in moment.in_cells.items()}
    cells = [("quad8", moment.cells)]
    meshio.Mesh(in_space(moment.places), cells, point_data=at_nodes, cell_data=in_cells).write(path)
    return path


def save_outline(moment: Moment, path: Path, *, replace: bool = False) -> Path:
    """Draw both faces of a state and its rim as DXF in mm, each on a layer of its own.

    Raises
    ------
    DrawingError : the file is there or cannot be written
    """
    bottom, top = (points_along(face) for face in moment.faces())
    lines = {"bottom_face": bottom, "top_face": top, "rim": np.stack([bottom[-1], top[-1]])}
    if bottom[0, 0] > 1e-6:
        lines["inner_edge"] = np.stack([bottom[0], top[0]])
    return write_lines(path, lines, replace=replace)


def points_along(face: Curve) -> Floats:
    """Points along a face from the centre to the rim, (n, 2) [mm]."""
    count = len(face.middles)
    return face.at(np.linspace(0.0, count, PER_COLUMN * count + 1))
