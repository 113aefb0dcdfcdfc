"""Flow curves of any constants harden, are continuous and scale with the unit of stress."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from formsim.material.flow import HockettSherby, Hollomon, Ludwik, Swift, SwiftVoce, Table, Voce
from formsim.material.table import flow_table

LEVEL = st.floats(50.0, 1500.0)
SHARE = st.floats(0.01, 0.9)
RATE = st.floats(0.5, 60.0)
EXPONENT = st.floats(0.02, 0.6)
STRAINS = np.linspace(0.0, 3.0, 301)
ONE_BY_ONE = st.lists(st.floats(0.01, 1.0), min_size=1, max_size=8)


def build(kind, level, share, rate, exponent, unit=1.0):
    stress = unit * level
    return {
        "voce": lambda: Voce(stress, share * stress, rate, 0.1 * stress),
        "swift": lambda: Swift(stress, 0.01 * share, exponent),
        "hollomon": lambda: Hollomon(stress, exponent, 100.0 * unit * 1e3),
        "ludwik": lambda: Ludwik(stress, share * stress, exponent),
        "hockett_sherby": lambda: HockettSherby(stress, share * stress, rate, exponent),
        "swift_voce": lambda: SwiftVoce(
            Swift(stress, 0.01 * share, exponent), Voce(stress, share * stress, rate), share
        ),
    }[kind]()


KINDS = ["voce", "swift", "hollomon", "ludwik", "hockett_sherby", "swift_voce"]
KIND = st.sampled_from(KINDS)
CONSTANTS = st.tuples(LEVEL, SHARE, RATE, EXPONENT)


@given(KIND, CONSTANTS)
def test_stress_never_falls(kind, constants):
    curve = build(kind, *constants)
    stress = curve.stress(STRAINS)
    assert stress[0] > 0.0
    assert np.all(np.diff(stress) >= 0.0)
    assert np.all(curve.slope(STRAINS) >= 0.0)


@given(KIND, CONSTANTS)
def test_a_thousandfold_unit_gives_a_thousandfold_stress(kind, constants):
    plain, scaled = build(kind, *constants), build(kind, *constants, unit=1e3)
    np.testing.assert_allclose(scaled.stress(STRAINS), 1e3 * plain.stress(STRAINS), rtol=1e-12)
    np.testing.assert_allclose(scaled.slope(STRAINS), 1e3 * plain.slope(STRAINS), rtol=1e-12)


@given(KIND, CONSTANTS)
def test_table_rises_and_is_finite(kind, constants):
    table = flow_table(build(kind, *constants), points=256)
    assert np.all(np.isfinite(table))
    assert np.all(np.diff(table[:, 0]) >= 0.0)
    assert np.all(table[:, 1] >= 0.0)


@given(ONE_BY_ONE, LEVEL, st.data())
def test_measured_points_stay_monotone(steps, level, data):
    rises = data.draw(st.lists(st.floats(0.0, 100.0), min_size=len(steps), max_size=len(steps)))
    strains = tuple(np.cumsum([0.0, *steps]).tolist())
    curve = Table(strains, tuple((level + np.cumsum([0.0, *rises])).tolist()))
    stress = curve.stress(np.linspace(0.0, 2.0 * strains[-1], 500))
    assert np.all(np.diff(stress) >= -1e-9 * level)
