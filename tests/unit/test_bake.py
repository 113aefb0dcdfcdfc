"""A cure softens the flow curve by a factor that is given or follows from the recovery law."""

import math

import numpy as np
import pytest

from formsim.case.card import MaterialCard, Recovery
from formsim.case.stage import Bake
from formsim.errors import FormsimError
from formsim.material.flow import Ludwik, Softened, Swift, Voce
from formsim.material.table import flow_table
from formsim.solver.problem import material_data
from formsim.stages.bake import baked, factor_of, remaining_share
from formsim.stages.prepare import prepare
from formsim.stages.sheet import Sheet
from tests.unit.shaped import METAL, blank, shaped

LAW = Recovery(activation_energy=150.0, rise=120.0, rate=1.0e14)
"""Invented constants."""

CARD = {
    "name": "invented",
    "source": "invented",
    "young": 69e3,
    "poisson": 0.33,
    "density": 2720.0,
    "flow": {"kind": "voce", "saturation": 405.0, "drop": 105.0, "rate": 18.0},
}


def card(**more) -> MaterialCard:
    return MaterialCard.model_validate(CARD | more)


def bake(**cure) -> Bake:
    return Bake.model_validate({"kind": "bake", "name": "oven", **cure})


@pytest.mark.parametrize(
    "curve", [Voce(405.0, 105.0, 18.0), Swift(500.0, 0.01, 0.2), Ludwik(120.0, 350.0, 0.4)]
)
def test_the_softened_curve_is_the_curve_times_its_factor(curve):
    soft, strain = Softened(curve, 0.85), np.linspace(0.0, 2.0, 50)
    np.testing.assert_allclose(soft.stress(strain), 0.85 * curve.stress(strain))
    near = strain[1:]
    slope = (soft.stress(near + 1e-6) - soft.stress(near - 1e-6)) / 2e-6
    np.testing.assert_allclose(soft.slope(near), slope, rtol=1e-5, atol=1e-6)
    np.testing.assert_allclose(flow_table(soft), 0.85 * flow_table(curve), rtol=1e-12)


def test_two_cures_soften_twice():
    once = baked(bake(factor=0.9), METAL, card())
    twice = baked(bake(factor=0.8), once, card())
    assert twice.yield_stress == pytest.approx(0.72 * METAL.yield_stress)
    assert material_data(twice).table[0, 0] == pytest.approx(0.72 * METAL.yield_stress)


def test_the_recovery_law_solves_its_rate_equation():
    """The share is integrated step by step, without the closed form."""
    temperature, end, steps = 200.0, 600.0, 20_000
    thermal = 8.314462618e-3 * (temperature + 273.15)

    def rate(x):
        return -LAW.rate * math.exp(-(LAW.activation_energy + LAW.rise * (1.0 - x)) / thermal)

    x, h = 1.0, end / steps
    for _ in range(steps):
        a = rate(x)
        b = rate(x + 0.5 * h * a)
        c = rate(x + 0.5 * h * b)
        x += h / 6.0 * (a + 2.0 * b + 2.0 * c + rate(x + h * c))
    assert 0.5 < x < 0.95
    assert remaining_share(LAW, temperature, end) == pytest.approx(x, rel=1e-6)


def test_longer_and_hotter_cures_soften_more():
    assert remaining_share(LAW, 200.0, 600.0) < remaining_share(LAW, 200.0, 60.0) < 1.0
    assert remaining_share(LAW, 220.0, 600.0) < remaining_share(LAW, 200.0, 600.0)
    assert remaining_share(LAW, 20.0, 1.0) > 0.99


def test_time_and_temperature_need_the_constants_of_the_card():
    cure = bake(temperature=200.0, time="10 min")
    with pytest.raises(FormsimError, match="does not say how the metal recovers") as caught:
        factor_of(cure, card())
    assert "factor" in caught.value.hint
    law = {"activation_energy": "150 kJ/mol", "rise": "120000 J/mol", "rate": "1e14 /s"}
    known = card(recovery=law)
    assert factor_of(cure, known) == remaining_share(LAW, 200.0, 600.0)


def test_a_cure_beyond_recovery_is_refused():
    quick = card(recovery={"activation_energy": 50.0, "rise": 20.0, "rate": 1.0e14})
    with pytest.raises(FormsimError, match="it holds down to"):
        factor_of(bake(temperature=300.0, time=3600.0), quick)


def test_a_bake_changes_the_metal_and_not_the_state():
    body = blank(columns=24)
    sheet = Sheet(body, METAL, shaped(body, lambda r, z: (r, z + 0.01 * r**2), strain=0.2))
    out = prepare(bake(factor=0.9), sheet, card())
    assert (out.body, out.state) == (sheet.body, sheet.state)
    np.testing.assert_allclose(out.material.flow.stress(0.2), 0.9 * METAL.flow.stress(0.2))


def test_the_example_of_the_readme():
    """Invented constants; the closed form by hand: R T = 3.934 kJ/mol, tau = 11.88 s."""
    law = Recovery(activation_energy=150.0, rise=120.0, rate=1.0e14)
    thermal = 8.314462618e-3 * 473.15
    tau = thermal / (120.0 * 1.0e14) * math.exp(150.0 / thermal)
    assert tau == pytest.approx(11.88, rel=1e-3)
    by_hand = 1.0 - thermal / 120.0 * math.log(1.0 + 600.0 / tau)
    assert remaining_share(law, 200.0, 600.0) == pytest.approx(by_hand, rel=1e-9)
    assert round(100.0 * by_hand) == 87
