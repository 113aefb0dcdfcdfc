"""Stresses that stay in the sheet, from its elastic strains."""

from __future__ import annotations

import numpy as np

from formsim.arrays import Floats
from formsim.material.model import Material
from formsim.results.curve import between_lines, start_way, strip
from formsim.results.thickness import volume_ratio
from formsim.solver.body import Body
from formsim.solver.state import State
from formsim.solver.strain import strain_modes
from formsim.solver.stress import S2, S6


def face_stresses(body: Body, material: Material, state: State) -> tuple[Floats, Floats, Floats]:
    """Stresses next to the lower and the upper face, mean of the outermost points of each column.

    Returns
    -------
    Way to the columns before the first stage (n_columns) [mm], Cauchy stress along the sheet and
    around the axis, rows lower and upper face, (2, n_columns) [MPa].

    Elastic logarithmic strains, total less plastic, times Hooke's law. Along the sheet this is
    the stress of the material line that ran along the sheet at the start: exact where it is not
    sheared.
    """
    columns, n_q = strip(body), body.radius.shape[1]
    shape = (columns.count, columns.layers * n_q)
    across = np.stack([-body.along[:, 1], body.along[:, 0]], axis=1)
    places = np.einsum("ead,ed,qa->eq", body.nodes[body.elements], across, body.shape)
    height = places.reshape(shape)
    order = np.argsort(height, axis=1, kind="stable")
    outer = np.stack([order[:, : n_q // 2], order[:, -(n_q // 2) :]])
    along, around = point_stresses(body, material, state)
    values = [
        np.take_along_axis(np.broadcast_to(s.reshape(shape), (2, *shape)), outer, axis=2).mean(2)
        for s in (along, around)
    ]
    return between_lines(start_way(body)), values[0], values[1]


def point_stresses(body: Body, material: Material, state: State) -> tuple[Floats, Floats]:
    """Cauchy stress along and around at the points, (n_el, n_q) each [MPa].

    Source: Hooke's law in the modes of ``solver/strain.py``, Kirchhoff stress over the change of
    volume.
    """
    elastic = strain_modes(body, state.places(body)) - state.plastic[..., :3]
    normal, second = elastic[..., 0] / S6, elastic[..., 1] / S2
    ratio = volume_ratio(body, state)
    mean, shear = material.bulk * np.log(ratio), 2.0 * material.shear
    return (mean + shear * (second - normal)) / ratio, (mean - shear * (second + normal)) / ratio
