"""Redraw, necking and flanging: closed forms against marched equilibrium and their limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from formsim.errors import TheoryRangeError
from formsim.results.theory import drawing, flanging, necking, redrawing, volume

REDRAW = {
    "sleeve_radius": 2.0,
    "die_radius": 2.0,
    "sleeve_force": 3000.0,
    "sleeve_friction": 0.05,
    "die_friction": 0.05,
}


def redraw(**changes):
    return redrawing.extended_redrawing_force(350.0, 74.0, 56.0, 0.28, **(REDRAW | changes))


def test_ideal_redraw():
    force = redrawing.ideal_redrawing_force(350.0, 74.0, 56.0, 0.28)
    assert force == pytest.approx(np.pi * 56.0 * 0.28 * 350.0 * np.log(74.0 / 56.0))


def test_bare_redraw_is_drawing_and_two_bends():
    bare = redraw(sleeve_force=0.0, sleeve_friction=0.0, die_friction=0.0)
    bends = 2 * drawing.bend_unbend_tension(350.0, 0.28, 2.14) * np.pi * 56.0
    ideal = redrawing.ideal_redrawing_force(350.0, 74.0, 56.0, 0.28)
    assert bare == pytest.approx(1.1 * ideal + bends)


def test_redraw_trends():
    base = redraw()
    for key in ("sleeve_force", "sleeve_friction", "die_friction"):
        assert redraw(**{key: 2 * REDRAW[key]}) > base
    assert redraw(die_radius=3.0) < base > redraw(sleeve_radius=3.0)
    assert base < redrawing.wall_strength(400.0, 56.0, 0.28)


@pytest.mark.parametrize("radius", [5.0, 8.0, 20.0])
def test_bend_and_unbend_against_its_strains(radius):
    """Plastic work of the fibres, ``2 Yp |ln((rho + y)/rho)|``, within 10 % from 5 t on."""
    yp = 2.0 / np.sqrt(3.0) * 300.0
    work = 2.0 * quad(lambda y: yp * abs(np.log1p(y / radius)), -0.5, 0.5, points=[0.0])[0]
    assert drawing.bend_unbend_tension(300.0, 1.0, radius) == pytest.approx(work, rel=0.10)
    assert drawing.bend_unbend_tension(300.0, 1.0, radius) == pytest.approx(yp / (2.0 * radius))


def test_capstan_against_the_march():
    march = solve_ivp(lambda _, tension: 0.1 * tension, (0.0, np.pi / 2), [7.0], rtol=1e-10)
    turned = drawing.capstan_tension(7.0, 0.1, np.pi / 2)
    assert turned == pytest.approx(march.y[0, -1], rel=1e-8)


def test_shop_redraw_and_ratios():
    shop = redrawing.shop_redrawing_force(400.0, 74.0, 56.0, 0.28)
    assert shop == pytest.approx(np.pi * 56.0 * 0.28 * 400.0 * (74 / 56 - 0.7))
    assert redrawing.largest_usual_ratio(1) == pytest.approx(1.4286, abs=1e-4)
    assert redrawing.largest_usual_ratio(2) == pytest.approx(1.1905, abs=1e-4)
    assert redrawing.total_ratio(1.5, 1.2) == pytest.approx(1.8)


def test_redrawn_height_keeps_the_area():
    """A sharp cup redrawn is the sharp cup drawn at once: (D^2 - d^2)/(4 d)."""
    first = volume.sharp_cup_height(118.0, 74.0)
    once = volume.sharp_cup_height(118.0, 56.0)
    assert redrawing.redrawn_height(first, 74.0, 56.0) == pytest.approx(once)


def test_nosing_against_the_sum_of_pressure_and_friction():
    """Axial parts of hoop pressure ``Y t cos/r`` and friction, summed over the cone."""
    y, d0, d1, t, mu, a = 300.0, 56.0, 50.0, 0.5, 0.1, np.radians(30.0)

    def ring(r):
        pressure = y * t * np.cos(a) / r
        return 2 * np.pi * r * pressure * (np.sin(a) + mu * np.cos(a)) / np.sin(a)

    total = quad(ring, d1 / 2, d0 / 2)[0]
    assert necking.nosing_load(y, d0, d1, t, 30.0, mu) == pytest.approx(total, rel=1e-10)


def test_flaring_against_marched_equilibrium():
    """``d(s r)/dr = -(1 + m)(Y - s)`` from the free rim inwards."""
    y, d0, d1, mu, a = 300.0, 48.0, 56.0, 0.1, np.radians(30.0)
    m = mu / np.tan(a)
    march = solve_ivp(
        lambda r, s: -(1 + m) * (y - s) / r - s / r, (d1 / 2, d0 / 2), [0.0], rtol=1e-10, atol=1e-10
    )
    assert flanging.flaring_stress(y, d0, d1, 30.0, mu) == pytest.approx(march.y[0, -1], rel=1e-7)
    load = flanging.flaring_load(y, d0, d1, 0.5, 30.0, mu)
    assert load == pytest.approx(np.pi * d0 * 0.5 * np.cos(a) * march.y[0, -1], rel=1e-7)
    smooth = flanging.flaring_stress(y, d0, d1, 30.0, 0.0)
    assert smooth == pytest.approx(y * np.log(d1 / d0))
    assert flanging.flaring_stress(y, d0, d1, 30.0, 1e-7) == pytest.approx(smooth, rel=1e-5)


def test_extended_nosing_adds_its_terms():
    sizes = (300.0, 56.0, 50.0, 0.2, 30.0)
    bend = drawing.bend_unbend_tension(300.0, 0.2, 4.0) * np.pi
    plain = necking.nosing_load(*sizes, 0.0)
    entry = necking.extended_nosing_load(*sizes, 0.0, entry_radius=4.0)
    assert entry - plain == pytest.approx(56.0 * bend)
    both = necking.extended_nosing_load(*sizes, 0.0, entry_radius=4.0, throat_radius=4.0)
    assert both - entry == pytest.approx(50.0 * bend)
    rough = necking.extended_nosing_load(*sizes, 0.1, entry_radius=4.0)
    turned = necking.nosing_load(*sizes, 0.1) * np.exp(0.1 * np.pi / 6)
    assert rough == pytest.approx(turned + 56.0 * bend)


def test_rim_thickness():
    """Isotropic: constant volume with equal strain along and across, t sqrt(d0/d1)."""
    assert necking.rim_thickness_ratio(56.0, 48.0) == pytest.approx(np.sqrt(56 / 48))
    assert necking.rim_thickness_ratio(48.0, 56.0, 0.5) == pytest.approx((48 / 56) ** (1 / 1.5))
    assert necking.hoop_strain(56.0, 48.0) == pytest.approx(np.log(56 / 48))


def test_what_the_wall_carries():
    """Buckling stress 0.605 E t/R at nu = 0.3 (classical); knock-down 0.32 at R/t = 500."""
    stress = necking.buckling_load(70e3, 0.3, 0.115) / (2 * np.pi * 28.0 * 0.115)
    assert stress == pytest.approx(0.605 * 70e3 * 0.115 / 28.0, rel=1e-3)
    assert necking.crush_load(400.0, 56.0, 0.115) == pytest.approx(np.pi * 56 * 0.115 * 400)
    assert necking.buckling_knock_down(1000.0, 1.0) == pytest.approx(0.322, abs=1e-3)


def test_wrinkling_of_a_free_strip_lies_far_below_what_a_die_allows():
    elastic = necking.free_rim_wrinkling_stress(10.0, 1.0, 70e3, 70e3)
    assert elastic == pytest.approx(0.425 * np.pi**2 * 70e3 / (12 * 0.91) / 100)
    worked = necking.free_rim_wrinkling_stress(10.0, 1.0, 70e3, 500.0)
    assert worked < 0.1 * elastic


@given(st.floats(20.0, 80.0), st.floats(0.5, 6.0), st.floats(0.3, 2.5))
def test_flange_length_and_edge_are_inverse(neck, length, r_bar):
    edge = flanging.flange_edge_diameter(neck, length, r_bar)
    assert flanging.flange_length(neck, edge, r_bar) == pytest.approx(length)
    assert edge < neck + 2 * length


def test_flange_keeps_its_volume():
    """Thickness (r/r0)^(-1/(1+R)) over the flange holds the metal of the wall it came from."""
    neck, length, r_bar = 50.0, 3.0, 0.7
    edge = flanging.flange_edge_diameter(neck, length, r_bar)

    def ring(r):
        return 2 * np.pi * r * necking.rim_thickness_ratio(neck, 2 * r, r_bar)

    assert quad(ring, neck / 2, edge / 2)[0] == pytest.approx(np.pi * neck * length)
    strain = flanging.edge_hoop_strain(neck, edge)
    assert flanging.edge_stretch_percent(neck, edge) == pytest.approx(100 * np.expm1(strain))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: redrawing.redraw_ratio(56.0, 74.0),
        lambda: redrawing.ideal_redrawing_force(300.0, 100.0, 40.0, 0.3),
        lambda: redrawing.shop_redrawing_force(300.0, 100.0, 55.0, 0.3),
        lambda: redrawing.largest_usual_ratio(3),
        lambda: redrawing.redrawn_height(-1.0, 74.0, 56.0),
        lambda: redrawing.total_ratio(1.5, 0.9),
        lambda: redraw(sleeve_force=-1.0),
        lambda: redraw(sleeve_radius=0.5),
        lambda: necking.nosing_stress(300.0, 50.0, 56.0, 30.0, 0.1),
        lambda: necking.nosing_stress(300.0, 56.0, 50.0, 3.0, 0.1),
        lambda: necking.nosing_stress(300.0, 56.0, 50.0, 30.0, -0.1),
        lambda: necking.nosing_stress(300.0, 56.0, 5.0, 10.0, 0.2),
        lambda: necking.nosing_load(300.0, 56.0, 50.0, 5.0, 30.0, 0.1),
        lambda: necking.buckling_load(70e3, 0.6, 0.1),
        lambda: necking.buckling_knock_down(10.0, 1.0),
        lambda: necking.free_rim_wrinkling_stress(1.0, 1.0, 70e3, 500.0),
        lambda: flanging.edge_hoop_strain(56.0, 50.0),
        lambda: flanging.flange_edge_diameter(50.0, 60.0),
        lambda: flanging.flange_length(50.0, 160.0),
        lambda: flanging.flaring_stress(300.0, 50.0, 200.0, 30.0, 0.1),
        lambda: flanging.flaring_load(300.0, 50.0, 56.0, 5.0, 30.0, 0.1),
    ],
)
def test_ranges(wrong):
    with pytest.raises(TheoryRangeError):
        wrong()
