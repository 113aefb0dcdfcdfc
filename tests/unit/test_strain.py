"""Strain modes of many points are those of the stress law."""

import numpy as np

from formsim.solver.problem import material_data
from formsim.solver.strain import strain_modes
from formsim.solver.stress import respond
from tests.unit.solid import SHEET, block, rough


def test_a_point_whose_strain_is_all_plastic_carries_pressure_only():
    body = block(wobble=0.1)
    u = rough(body, 0.2)
    places = body.nodes + u.reshape(-1, 2)
    modes = strain_modes(body, places)
    data = material_data(SHEET)
    f = np.einsum("eac,eqda->eqcd", places[body.elements], body.gradient)
    hoop = places[body.elements][:, :, 0] @ body.shape.T / body.radius
    new, force, stiff = np.zeros(4), np.zeros(5), np.zeros((4, 4))
    for e, q in np.ndindex(hoop.shape):
        (f11, f12), (f21, f22) = f[e, q]
        ratio = (f11 * f22 - f12 * f21) * hoop[e, q]
        old = np.array([*modes[e, q], 1.0])
        stored = respond(
            f11,
            f12,
            f21,
            f22,
            hoop[e, q],
            data.constants,
            data.table,
            old,
            new,
            force,
            stiff,
            False,
        )
        spherical = 0.5 * SHEET.bulk * np.log(ratio) ** 2
        np.testing.assert_allclose(stored, spherical, rtol=1e-9, atol=1e-9)


def test_no_strain_is_no_mode():
    body = block()
    np.testing.assert_allclose(strain_modes(body, body.nodes), 0.0, atol=1e-14)
