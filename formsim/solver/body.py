"""The meshed solid: nodes in solving order, shape functions at points, faces that may be loaded."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from skfem import CellBasis, ElementQuadS2, FacetBasis, MeshQuad
from skfem.mapping import MappingIsoparametric

from formsim.arrays import Floats, Ints
from formsim.errors import MeshError
from formsim.kernels import kernel
from formsim.solver.numbering import Columns, number_nodes

CELL_ORDER, FACE_ORDER = 3, 5
"""Orders of integration: 2 x 2 points in an element, three on an edge. Two on an edge would not see
the hourglass mode of the element, and ironed faces would scallop."""

FACE_POINTS = 3

FLAT = 1e-9
"""Slope of a sheet that is rounding: a flat blank lies exactly along R."""

PLACED = 1e-10
"""How well the places of face points within their elements are found, of an element's size."""

NODAL_FACETS = 3
"""Facets before a rim whose contact points are their nodes (Gauss-Lobatto): between inner points
the free end of the sheet would bend through a tool."""


@dataclass(frozen=True)
class Faces:
    """Boundary facets of one named edge, ordered from ``centre`` to ``rim``.

    Attributes
    ----------
    element : element behind each facet, (n_faces)
    local : its three local nodes, in walking order, (n_faces, 3)
    nodes : their node numbers, (n_faces, 3)
    shape : shape functions at the contact points, (n_faces, n_points, 3) [-]
    weight : ring area of each contact point in the reference, (n_faces, n_points) [mm2]
    """

    element: Ints
    local: Ints
    nodes: Ints
    shape: Floats
    weight: Floats


@dataclass(frozen=True)
class Body:
    """An axisymmetric solid of 8-node quadrilaterals.

    Unknowns are ``2 node`` (radial) and ``2 node + 1`` (axial). Element unknowns list the eight
    radial ones first, then the eight axial ones.

    Attributes
    ----------
    mesh : corner mesh with named edges
    nodes : reference positions in solving order, (n_nodes, 2) [mm]
    elements : node numbers, corners then mid-sides, (n_el, 8)
    unknowns : unknown numbers, (n_el, 16)
    shape : shape functions at the points, (n_q, 8) [-]
    along : unit vector along the sheet; the material normal is on its left, (n_el, 2) [-]
    gradient : derivatives of the shape functions along and across the sheet, which are those
        with respect to R and Z in a flat blank, (n_el, n_q, 2, 8) [1/mm]
    radius : reference radius of the points, (n_el, n_q) [mm]
    volume : ring volume of the points, (n_el, n_q) [mm3]
    columns : the strip structure, or None for any other mesh
    faces : facets by edge name
    order : node number of each degree of freedom of a scalar scikit-fem basis, (n_nodes)
    """

    mesh: MeshQuad
    nodes: Floats
    elements: Ints
    unknowns: Ints
    shape: Floats
    along: Floats
    gradient: Floats
    radius: Floats
    volume: Floats
    columns: Columns | None
    faces: dict[str, Faces]
    order: Ints

    @property
    def n_unknowns(self) -> int:
        """Number of displacement unknowns."""
        return 2 * len(self.nodes)

    def edge_nodes(self, name: str) -> Ints:
        """Node numbers on a named edge."""
        return np.unique(self.faces[name].nodes)

    def axis_nodes(self) -> Ints:
        """Node numbers on the axis of rotation."""
        scale = float(np.abs(self.nodes[:, 0]).max())
        return np.flatnonzero(np.abs(self.nodes[:, 0]) < 1e-9 * scale)


def build_body(mesh: MeshQuad) -> Body:
    """Body of a corner mesh whose edges are named (at least those that tools or fluids touch).

    A strip with a ``centre`` edge is numbered column by column; any other mesh by reverse
    Cuthill-McKee.

    Raises
    ------
    MeshError : an element is folded over
    """
    basis = CellBasis(mesh, ElementQuadS2(), intorder=CELL_ORDER)
    turn = np.asarray(basis.mapping.detDF(basis.X))
    bad = np.flatnonzero(turn.min(axis=1) * turn.max(axis=1) <= 0)
    if bad.size:
        message = f"{len(bad)} elements are folded over, the first is {bad[0]}"
        raise MeshError(message, hint="use quadrilaterals without re-entrant corners")
    numbering = number_nodes(mesh)
    walk = numbering.elements
    order = _inverse(numbering.nodes)
    elements = order[basis.element_dofs.T[walk]]
    n_el, n_q = basis.dx.shape
    shape = np.stack(
        [np.broadcast_to(np.asarray(b[0]), (n_el, n_q))[0] for b in basis.basis], axis=1
    )
    gradient = np.stack([np.broadcast_to(b[0].grad, (2, n_el, n_q)) for b in basis.basis])
    radius = np.asarray(basis.global_coordinates())[0]
    nodes = np.ascontiguousarray(basis.doflocs.T[numbering.nodes])
    along = _directions(nodes, numbering.columns, n_el)
    turned = _turned(np.ascontiguousarray(gradient.transpose(2, 3, 1, 0)[walk]), along)
    faces = _all_faces(mesh, elements, order, _inverse(walk))
    if numbering.columns is not None:
        faces |= {k: _nodal_at_rim(faces[k], nodes) for k in ("bottom", "top") if k in faces}
    return Body(
        mesh=mesh,
        nodes=nodes,
        elements=elements,
        unknowns=np.concatenate([2 * elements, 2 * elements + 1], axis=1),
        shape=np.ascontiguousarray(shape),
        along=along,
        gradient=turned,
        radius=np.ascontiguousarray(radius[walk]),
        volume=np.ascontiguousarray((basis.dx * 2 * np.pi * radius)[walk]),
        columns=numbering.columns,
        faces=faces,
        order=order,
    )


def _directions(nodes: Floats, columns: Columns | None, n_el: int) -> Floats:
    """Unit vector along the sheet of every element, the mean of both faces of its column.

    A mesh without columns is taken for flat.
    """
    if columns is None:
        return np.tile([1.0, 0.0], (n_el, 1))
    line = columns.lines
    steps = [np.diff(nodes[line + k], axis=0) for k in (0, columns.line_nodes - 1)]
    chord: Floats = np.sum([s / np.hypot(s[:, 0], s[:, 1])[:, None] for s in steps], axis=0)
    unit = chord / np.hypot(chord[:, 0], chord[:, 1])[:, None]
    unit = np.where(np.abs(unit) < FLAT, 0.0, unit)
    unit /= np.hypot(unit[:, 0], unit[:, 1])[:, None]
    return np.repeat(unit, columns.layers, axis=0)


def _turned(gradient: Floats, along: Floats) -> Floats:
    """Derivatives along and across the sheet from those with respect to R and Z."""
    cos, sin = along[:, 0, None, None], along[:, 1, None, None]
    radial, axial = gradient[:, :, 0], gradient[:, :, 1]
    return np.stack([cos * radial + sin * axial, cos * axial - sin * radial], axis=2)


def _inverse(permutation: Ints) -> Ints:
    inverse = np.empty(len(permutation), dtype=np.int64)
    inverse[permutation] = np.arange(len(permutation))
    return inverse


def _all_faces(mesh: MeshQuad, elements: Ints, order: Ints, position: Ints) -> dict[str, Faces]:
    return {
        name: _faces(mesh, np.asarray(facets), elements, order, position)
        for name, facets in (mesh.boundaries or {}).items()
    }


def _face_mapping(mesh: MeshQuad) -> MappingIsoparametric:
    """Mapping that finds places as well as rounding allows in thin sheet far from the axis."""
    mapping = MappingIsoparametric(mesh, mesh.elem(), mesh.bndelem)
    mapping.invF = partial(mapping.invF, newton_tol=PLACED)
    return mapping


def _faces(mesh: MeshQuad, facets: Ints, elements: Ints, order: Ints, position: Ints) -> Faces:
    mapping = _face_mapping(mesh)
    basis = FacetBasis(mesh, ElementQuadS2(), mapping, facets=facets, intorder=FACE_ORDER)
    element = position[np.asarray(mesh.f2t[0, facets])]
    values = np.stack(
        [np.broadcast_to(np.asarray(b[0]), basis.dx.shape) for b in basis.basis], axis=2
    )
    ends, middle = order[mesh.facets[:, facets]], order[mesh.nvertices + np.asarray(facets)]
    nodes = np.stack([ends[0], middle, ends[1]], axis=1)
    nodes = np.where((nodes[:, 0] > nodes[:, 2])[:, None], nodes[:, ::-1], nodes)
    local = np.array(
        [
            [int(np.flatnonzero(elements[e] == n)[0]) for n in row]
            for e, row in zip(element, nodes, strict=True)
        ]
    ).reshape(-1, 3)
    shape = np.take_along_axis(values, local[:, None, :].repeat(values.shape[1], axis=1), axis=2)
    radius = np.asarray(basis.global_coordinates())[0]
    weight = basis.dx * 2 * np.pi * radius
    walk = np.argsort(nodes[:, 0], kind="stable")
    return Faces(
        element=element[walk],
        local=local[walk],
        nodes=nodes[walk],
        shape=np.ascontiguousarray(shape[walk]),
        weight=np.ascontiguousarray(weight[walk]),
    )


def _nodal_at_rim(faces: Faces, places: Floats) -> Faces:
    """The same faces with contact points at the nodes of the last ones."""
    last = slice(len(faces.element) - NODAL_FACETS, None)
    ends = places[faces.nodes[last]]
    half = 0.5 * np.hypot(*(ends[:, 2] - ends[:, 0]).T)
    shape, weight = faces.shape.copy(), faces.weight.copy()
    shape[last] = np.eye(FACE_POINTS)
    weight[last] = 2 * np.pi * ends[..., 0] * half[:, None] * np.array([1.0, 4.0, 1.0]) / 3.0
    return replace(faces, shape=shape, weight=weight)


@kernel
def swept_areas(nodes: Floats, u: Floats, first: int, stride: int, area: Floats) -> None:
    """Areas that the pieces of a line of nodes sweep round the axis, as cones [mm2].

    Parameters
    ----------
    nodes, u : reference positions, (n_nodes, 2) [mm], and displacement, (n_unknowns) [mm]
    first, stride : first node of the line, and from one to the next
    area : set, (n_pieces)
    """
    r0, z0 = nodes[first, 0] + u[2 * first], nodes[first, 1] + u[2 * first + 1]
    for c in range(len(area)):
        k = first + (c + 1) * stride
        r, z = nodes[k, 0] + u[2 * k], nodes[k, 1] + u[2 * k + 1]
        area[c] = math.pi * (r + r0) * math.hypot(r - r0, z - z0)
        r0, z0 = r, z
