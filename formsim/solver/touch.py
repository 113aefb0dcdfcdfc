"""Tools and the faces they may touch, as flat arrays for the contact kernel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.solver.body import FACE_POINTS
from formsim.solver.border import border_places
from formsim.solver.problem import Problem


@dataclass(frozen=True)
class Touch:
    """Tools and faces as flat arrays for the contact kernel; made once per stage.

    Attributes
    ----------
    element, local, nodes, shape, weight : facets of all touched edges, see ``Faces``
    pieces, piece_start, face_start, friction : see ``contact_forces``
    border : position of each tool, pressure and tie among the scalar unknowns, see
        ``border_places``
    """

    element: Ints
    local: Ints
    nodes: Ints
    shape: Floats
    weight: Floats
    pieces: Floats
    piece_start: Ints
    face_start: Ints
    friction: Floats
    border: Ints


def touch_arrays(problem: Problem) -> Touch:
    """Flat arrays of the tools and the faces they may touch."""
    edges = sorted({tool.edge for tool in problem.tools})
    faces = [problem.body.faces[edge] for edge in edges]
    starts = dict(zip(edges, np.cumsum([0, *(len(f.element) for f in faces)]), strict=False))
    spans = [
        (starts[t.edge], starts[t.edge] + len(problem.body.faces[t.edge].element))
        for t in problem.tools
    ]
    pieces = [t.outline.pieces for t in problem.tools]

    def joined(name: str, blank: tuple[int, ...], kind: type) -> np.ndarray:
        parts = [getattr(f, name) for f in faces] or [np.zeros(blank, dtype=kind)]
        return np.ascontiguousarray(np.concatenate(parts))

    return Touch(
        element=joined("element", (0,), np.int64),
        local=joined("local", (0, 3), np.int64),
        nodes=joined("nodes", (0, 3), np.int64),
        shape=joined("shape", (0, FACE_POINTS, 3), float),
        weight=joined("weight", (0, FACE_POINTS), float),
        pieces=np.concatenate(pieces) if pieces else np.zeros((0, 8)),
        piece_start=np.cumsum([0, *(len(p) for p in pieces)]).astype(np.int64),
        face_start=np.array(spans, dtype=np.int64).reshape(-1, 2),
        friction=np.array([t.friction for t in problem.tools], dtype=float),
        border=border_places(problem),
    )
