"""Laws of rate and heat: their defining values, and that they never turn back."""

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given

from formsim.material.flow import Voce
from formsim.material.heat import JohnsonCookSoftening, LinearSoftening, temperature_rise
from formsim.material.model import Material
from formsim.material.rate import QUASI_STATIC, CowperSymonds, PowerLaw
from formsim.solver.problem import material_data
from formsim.solver.rates import rate_factor

RATES = np.concatenate([[0.0], np.logspace(-9, 6, 400)])
COWPER = st.builds(CowperSymonds, st.floats(0.1, 1e6), st.floats(1.0, 20.0))
POWER = st.builds(PowerLaw, st.floats(1e-6, 1e3), st.floats(0.0, 0.5))
LINEAR = st.builds(LinearSoftening, st.floats(0.0, 0.05), st.floats(-100.0, 500.0))
THERMAL = st.builds(
    JohnsonCookSoftening, st.floats(600.0, 4000.0), st.floats(0.1, 5.0), st.floats(-100.0, 500.0)
)


def test_mild_steel_doubles_its_flow_stress_at_the_rate_d():
    """D = 40.4 /s, q = 5: Cowper and Symonds 1957, as given in Jones, Structural Impact (memory).

    By definition 2 at D; at 1 /s the formula gives 1 + 40.4**-0.2 = 1.477.
    """
    law = CowperSymonds(40.4, 5.0)
    assert law.factor(40.4) == pytest.approx(2.0, rel=1e-15)
    assert law.factor(1.0) == pytest.approx(1.4772, abs=1e-4)
    assert law.factor(0.0) == 1.0


def test_a_decade_of_rate_is_ten_to_the_rate_sensitivity():
    law = PowerLaw(1e-3, 0.02)
    assert law.factor(1e-3 * 1e4) == pytest.approx(10.0**0.08, rel=1e-14)
    assert law.factor(100.0) / law.factor(10.0) == pytest.approx(10.0**0.02, rel=1e-14)


@given(st.one_of(COWPER, POWER))
def test_flow_stress_rises_with_the_rate_ever_slower(law):
    """From one at rest; a corner or a hollow would trap the return mapping."""
    factor = law.factor(RATES)
    between = law.factor(0.5 * (RATES[1:] + RATES[:-1]))
    assert factor[0] == 1.0
    assert (np.diff(factor) >= 0.0).all()
    assert (between >= 0.5 * (factor[1:] + factor[:-1]) * (1.0 - 1e-14)).all()


@given(st.one_of(COWPER, POWER))
def test_the_kernel_has_the_same_law(law):
    metal = Material("m", 7e4, 0.3, 2700.0, Voce(300.0, 100.0, 10.0), rate_law=law)
    constants = material_data(metal).constants
    found = np.array([rate_factor(constants, rate) for rate in RATES])
    np.testing.assert_allclose(found[:, 0], law.factor(RATES), rtol=1e-12)
    step = 1e-6 * RATES[1:]
    about = (law.factor(RATES[1:] + step) - law.factor(RATES[1:] - step)) / (2.0 * step)
    smooth = np.abs(RATES[1:] / law.constants[1] - 1.0) > 1e-5
    np.testing.assert_allclose(
        found[1:, 1][smooth] * RATES[1:][smooth], (about * RATES[1:])[smooth], rtol=1e-4, atol=1e-8
    )


@given(st.one_of(LINEAR, THERMAL))
def test_heat_never_hardens_and_never_takes_all(law):
    factor = law.factor(np.linspace(-150.0, 5000.0, 800))
    assert law.factor(law.reference) == 1.0
    assert (np.diff(factor) <= 0.0).all()
    assert factor.min() > 0.0


def test_the_thermal_term_falls_along_the_way_to_melting():
    """Johnson and Cook 1983 (memory): half the way with a power of 1 leaves half."""
    law = JohnsonCookSoftening(melting=660.0, exponent=1.0, reference=20.0)
    assert law.factor(340.0) == pytest.approx(0.5, rel=1e-14)


def test_rise_of_temperature_by_hand():
    """300 MPa of plastic work in steel: 0.9 * 3e8 J/m3 / (7850 * 460 J/(m3 K)) = 74.8 K."""
    assert temperature_rise(300.0, 7850.0, 460.0) == pytest.approx(74.77, abs=0.01)


def test_laws_are_slow_where_tests_are_slow():
    assert CowperSymonds(40.4, 5.0).factor(QUASI_STATIC) == pytest.approx(1.12, abs=0.01)
