"""Node numbering: column by column along a strip, reverse Cuthill-McKee for any other mesh."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import reverse_cuthill_mckee
from skfem import MeshQuad

from formsim.arrays import Ints


@dataclass(frozen=True)
class Columns:
    """A strip of element columns: every column joins two neighbouring node lines.

    Attributes
    ----------
    count, layers : number of columns and of elements through the thickness
    """

    count: int
    layers: int

    @property
    def line_nodes(self) -> int:
        """Nodes on one line across the thickness."""
        return 2 * self.layers + 1

    @property
    def lines(self) -> Ints:
        """First node of every line, that on the bottom, (count + 1)."""
        return self.stride * np.arange(self.count + 1)

    @property
    def stride(self) -> int:
        """Nodes from one line to the next, the mid-side nodes between them included."""
        return 3 * self.layers + 2


@dataclass(frozen=True)
class Numbering:
    """Solving order of nodes and elements.

    Attributes
    ----------
    columns : the strip structure, or None
    nodes : scikit-fem number (corners, then facets) of each node in solving order, (n_nodes)
    elements : scikit-fem number of each element in solving order, (n_el)
    """

    columns: Columns | None
    nodes: Ints
    elements: Ints


def number_nodes(mesh: MeshQuad) -> Numbering:
    """Column numbering where the mesh is a strip that starts at its edge ``centre``."""
    return _strip_numbering(mesh) or _band_numbering(mesh)


def _band_numbering(mesh: MeshQuad) -> Numbering:
    cells = np.concatenate([mesh.t, mesh.nvertices + mesh.t2f]).T
    n = mesh.nvertices + mesh.nfacets
    rows, cols = np.repeat(cells, 8, axis=1).ravel(), np.tile(cells, (1, 8)).ravel()
    graph = coo_matrix((np.ones(rows.size), (rows, cols)), shape=(n, n)).tocsr()
    nodes = reverse_cuthill_mckee(graph, symmetric_mode=True).astype(np.int64)
    return Numbering(None, nodes, np.arange(mesh.nelements))


def _strip_numbering(mesh: MeshQuad) -> Numbering | None:
    """Walk from line to line; None as soon as the mesh turns out to be no strip."""
    line = _first_line(mesh)
    if line is None:
        return None
    layers = len(line) - 1
    facet = {frozenset(ends): k for k, ends in enumerate(mesh.facets.T.tolist())}
    nodes: list[int] = _weave(mesh, line, facet)
    elements: list[int] = []
    while True:
        ahead = _elements_ahead(mesh, line, facet, set(elements[-layers:]))
        if len(ahead) < layers:
            break
        onward = _next_line(mesh, line, ahead)
        if onward is None:
            return None
        nodes += [mesh.nvertices + facet[frozenset(p)] for p in zip(line, onward, strict=True)]
        nodes += _weave(mesh, onward, facet)
        elements += ahead
        line = onward
    if len(elements) != mesh.nelements or len(set(nodes)) != mesh.nvertices + mesh.nfacets:
        return None
    columns = Columns(count=len(elements) // layers, layers=layers)
    return Numbering(columns, np.array(nodes), np.array(elements))


def _first_line(mesh: MeshQuad) -> list[int] | None:
    """Corners of the edge ``centre`` as a chain from the edge ``bottom`` upwards."""
    edges = mesh.boundaries or {}
    if "centre" not in edges or "bottom" not in edges:
        return None
    links = [set(ends) for ends in mesh.facets[:, edges["centre"]].T.tolist()]
    bottom = set(mesh.facets[:, edges["bottom"]].ravel().tolist())
    start = bottom & set().union(*links)
    if len(start) != 1:
        return None
    line = [start.pop()]
    while links:
        link = next((pair for pair in links if line[-1] in pair), None)
        if link is None:
            return None
        links.remove(link)
        line.append((link - {line[-1]}).pop())
    return line


def _elements_ahead(
    mesh: MeshQuad, line: list[int], facet: dict[frozenset[int], int], behind: set[int]
) -> list[int]:
    """Element beyond each link of a line, fewer than links at the end of the strip."""
    sides = [
        mesh.f2t[:, facet[frozenset(link)]].tolist() for link in zip(line, line[1:], strict=False)
    ]
    return [e for pair in sides for e in pair if e >= 0 and e not in behind]


def _next_line(mesh: MeshQuad, line: list[int], ahead: list[int]) -> list[int] | None:
    """Corners opposite to a line across the elements ahead; None when they do not join up."""
    pairs = []
    for element, low, high in zip(ahead, line, line[1:], strict=False):
        around = mesh.t[:, element].tolist()
        i, j = around.index(low), around.index(high)
        turn = i - j
        pairs.append((around[(i + turn) % 4], around[(j - turn) % 4]))
    if any(a[1] != b[0] for a, b in zip(pairs, pairs[1:], strict=False)):
        return None
    return [pair[0] for pair in pairs] + [pairs[-1][1]]


def _weave(mesh: MeshQuad, line: list[int], facet: dict[frozenset[int], int]) -> list[int]:
    """Corner, mid-side, corner, ... along a line."""
    woven = [line[0]]
    for low, high in zip(line, line[1:], strict=False):
        woven += [mesh.nvertices + facet[frozenset((low, high))], high]
    return woven
