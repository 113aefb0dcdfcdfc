"""Whatever the r-value and the law: yielding is convex, and a pulled bar gives r back."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formsim.case.card import MaterialCard
from formsim.material.anisotropy import hill_weights
from formsim.tensile.evaluate import r_value
from tests.unit.bars import pulled
from tests.unit.test_anisotropy import mode_stress

R_VALUES = st.floats(0.3, 3.0)
STRESSES = st.tuples(*[st.floats(-500.0, 500.0)] * 4)

LAWS = {
    "voce": {"saturation": 350.0, "drop": 150.0, "rate": 12.0},
    "swift": {"strength": 480.0, "prestrain": 0.007, "exponent": 0.25},
    "hollomon": {"strength": 480.0, "exponent": 0.2},
    "ludwik": {"yield_stress": 120.0, "strength": 350.0, "exponent": 0.5},
    "hockett_sherby": {"saturation": 350.0, "drop": 150.0, "rate": 8.0, "exponent": 0.8},
    "swift_voce": {
        "share": 0.5,
        **{"strength": 480.0, "prestrain": 0.007, "exponent": 0.25},
        **{"saturation": 350.0, "drop": 150.0, "rate": 12.0},
    },
    "table": {"strain": [0.0, 0.02, 0.1, 1.0], "stress": [150.0, 210.0, 290.0, 380.0]},
}
YOUNG, POISSON = 70e3, 0.3


@given(R_VALUES, STRESSES, STRESSES, st.floats(0.0, 1.0))
def test_the_yield_surface_is_convex(r, one, other, share):
    """A chord between two states of stress lies within what both allow: equivalent stress is a
    norm (R. Hill, 1948, a positive quadratic form; memory)."""
    weights = hill_weights(r)
    assert min(weights) > 0.0
    between = share * np.array(one) + (1.0 - share) * np.array(other)
    most = share * mode_stress(weights, *one) + (1.0 - share) * mode_stress(weights, *other)
    assert mode_stress(weights, *between) <= most + 1e-9 * (1.0 + most)


@given(R_VALUES, STRESSES, st.floats(-300.0, 300.0))
def test_pressure_alike_all_round_changes_nothing(r, stress, pressure):
    weights = hill_weights(r)
    s_rr, s_tt, s_nn, s_rn = stress
    moved = mode_stress(weights, s_rr + pressure, s_tt + pressure, s_nn + pressure, s_rn)
    assert moved == pytest.approx(mode_stress(weights, *stress), abs=1e-6)


@pytest.mark.slow
@settings(max_examples=21)
@given(R_VALUES, st.sampled_from(sorted(LAWS)))
def test_a_bar_of_the_solvers_own_metal_gives_r_back(r, law):
    """ISO 10113: r is the width over the thickness strain, both plastic."""
    card = MaterialCard.model_validate(
        {
            **{"name": "sheet", "source": "invented", "young": YOUNG, "poisson": POISSON},
            **{"density": 2700.0, "flow": {"kind": law, **LAWS[law]}, "r_values": {"r_bar": r}},
        }
    )
    strain, stress, width = pulled(card, end=0.08, rows=40)
    elastic = stress * (1.0 + strain) / YOUNG
    length, across = np.log1p(strain) - elastic, np.log1p(width) + POISSON * elastic
    assert r_value(length, across, (0.02, 0.07)) == pytest.approx(r, rel=1e-3)
