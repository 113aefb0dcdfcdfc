"""Damage integrals of single steps whose stress is known in closed form."""

import numpy as np
import pytest

from formsim.material.flow import Swift
from formsim.material.model import Material
from formsim.solver.damage import MEAN, SQUEEZED, TENSION, grown
from formsim.solver.problem import material_data
from formsim.solver.state import State, fresh_state
from formsim.solver.strain import strain_modes
from tests.unit.shaped import blank

STEP = 0.01
SHEAR = 7.0e4 / (2.0 * 1.3)


def brought(modes, pressure=0.0, r_bar=1.0) -> np.ndarray:
    """Integrals after a step of plastic strain at given deviatoric modes of the stress [MPa].

    The sheet does not move; its plastic strain is what leaves the elastic strains wanted.
    """
    body = blank(columns=6, layers=1, thickness=1.0)
    swell = np.exp(-pressure / (3.0 * 7.0e4 / (3.0 * 0.4)))
    old = fresh_state(body)
    u = ((swell - 1.0) * body.nodes).ravel()
    plastic = old.plastic.copy()
    total = strain_modes(body, body.nodes + u.reshape(-1, 2))
    plastic[..., :3] = total - np.array(modes) / (2.0 * SHEAR)
    plastic[..., 3] = STEP
    new = State(1.0, u, plastic, old.positions, old.grip, damage=old.damage)
    metal = Material("m", 7.0e4, 0.3, 2700.0, Swift(500.0, 0.01, 0.2), r_bar)
    damage = grown(body, material_data(metal).constants, old, new)
    assert np.ptp(damage, axis=(0, 1)) == pytest.approx(0.0, abs=1e-9)
    assert not old.damage.any()
    return damage[0, 0] / STEP


def modes_of(along, normal, hoop, shear=0.0):
    """Modes of a stress and its pressure, by their definition in ``solver/stress.py``."""
    mean = (along + normal + hoop) / 3.0
    modes = (
        (2.0 * normal - along - hoop) / np.sqrt(6.0),
        (along - hoop) / np.sqrt(2.0),
        np.sqrt(2.0) * shear,
    )
    return modes, -mean


@pytest.mark.parametrize(
    ("stress", "tension", "mean"),
    [
        ((100.0, 0.0, 0.0), 1.0, 1.0 / 3.0),
        ((0.0, 0.0, 100.0), 1.0, 1.0 / 3.0),
        ((100.0, 0.0, 50.0), 2.0 / np.sqrt(3.0), 1.0 / np.sqrt(3.0)),
        ((100.0, 0.0, 100.0), 1.0, 2.0 / 3.0),
        ((0.0, 0.0, 0.0, 100.0), 1.0 / np.sqrt(3.0), 0.0),
        ((0.0, 0.0, -100.0), 0.0, -1.0 / 3.0),
    ],
)
def test_stress_states_of_mises_metal(stress, tension, mean):
    """Von Mises: tension 1, plane strain 2/sqrt3, balanced 1, shear 1/sqrt3 of the flow stress."""
    found = brought(*modes_of(*stress))
    assert found[TENSION] == pytest.approx(tension, abs=1e-6)
    assert found[MEAN] == pytest.approx(mean, abs=1e-4)
    assert found[SQUEEZED] == 0.0


def test_plane_strain_of_hill_metal():
    """Hill 1948, normal anisotropy: (1 + r)/sqrt(1 + 2 r) of the stress in tension (memory)."""
    r = 2.0
    found = brought(*modes_of(100.0, 0.0, 100.0 * r / (1.0 + r)), r_bar=r)
    assert found[TENSION] == pytest.approx((1.0 + r) / np.sqrt(1.0 + 2.0 * r), rel=1e-6)


def test_a_wall_under_a_ring_counts_as_squeezed():
    """Pressure across the sheet in plane strain, little tension along it."""
    found = brought(*modes_of(20.0, -100.0, -40.0))
    assert found[SQUEEZED] == pytest.approx(1.0)
    assert found[TENSION] == pytest.approx(20.0 / (120.0 * np.sqrt(3.0) / 2.0), rel=1e-3)


def test_without_plastic_strain_or_when_not_followed_nothing_grows():
    body = blank(columns=6, layers=1, thickness=1.0)
    state = fresh_state(body)
    metal = Material("m", 7.0e4, 0.3, 2700.0, Swift(500.0, 0.01, 0.2))
    constants = material_data(metal).constants
    assert not grown(body, constants, state, state).any()
    bare = State(0.0, state.u, state.plastic, state.positions, state.grip)
    assert grown(body, constants, bare, bare).size == 0
