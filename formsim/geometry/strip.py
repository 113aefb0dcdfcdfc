"""Mesh of a strip from given corners: a trimmed sheet, a tube, a cup that is there already."""

from __future__ import annotations

import numpy as np
from skfem import MeshQuad

from formsim.arrays import Floats


def strip_of(corners: Floats) -> MeshQuad:
    """Mesh between neighbouring lines of corners.

    Parameters
    ----------
    corners : lines from the centre to the rim, each from the lower face to the upper one,
        (n_lines, layers + 1, 2) [mm]

    Returns
    -------
    Mesh with the named edges ``bottom``, ``top``, ``centre`` and ``rim``.
    """
    n_lines, across, _ = corners.shape
    number = np.arange(n_lines * across).reshape(n_lines, across)
    low, high = number[:-1], number[1:]
    cells = np.stack([low[:, :-1], high[:, :-1], high[:, 1:], low[:, 1:]])
    mesh = MeshQuad(np.ascontiguousarray(corners.reshape(-1, 2).T), cells.reshape(4, -1))
    places = {frozenset(ends): k for k, ends in enumerate(mesh.facets.T.tolist())}
    edges = {
        "bottom": zip(number[:-1, 0], number[1:, 0], strict=True),
        "top": zip(number[:-1, -1], number[1:, -1], strict=True),
        "centre": zip(number[0, :-1], number[0, 1:], strict=True),
        "rim": zip(number[-1, :-1], number[-1, 1:], strict=True),
    }
    named = {
        name: np.array([places[frozenset((int(a), int(b)))] for a, b in links])
        for name, links in edges.items()
    }
    return mesh.with_boundaries(named)
