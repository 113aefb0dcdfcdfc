"""Radial drawing of an annular flange in plane stress.

In a rigid-plastic flange the rim decides all that happens inside of it, so any ring of material
[a0, 50] whose inner edge is pulled in to r = 25 carries there the drawing force of the whole
flange.
"""

from functools import cache

import numpy as np
import pytest

from formsim.material.flow import Swift, Voce
from formsim.solver.problem import Support
from formsim.solver.stepping import Steps
from tests.physics.support import axial, metal, problem, radial, run, strip
from tests.references import flange_draw

RIM, SECTION = 50.0, 25.0
YOUNG = 500e3


def draw_in(inner, r_value, columns=16):
    """Pull the inner edge of a ring to the section: rim [mm], force [kN], two thicknesses.

    The mesh is the upper half of the sheet, which is free on top.
    """
    body = strip(np.linspace(inner, RIM, columns + 1), np.array([0.0, 0.5]))
    edge = radial(body, "centre")
    supports = (Support(axial(body, "bottom")), Support(edge, lambda s: -s))
    sheet = metal(Swift(500.0, 0.01, 0.2), YOUNG, 0.3, r_value)
    task = problem(body, sheet, 0.5, supports=supports)
    travel = inner - SECTION
    last = run(task, [travel], Steps(0.01, min(0.5, travel / 4), 1e-5))[-1]
    places = last.state.places(body)
    lines = [body.edge_nodes(name) for name in ("centre", "rim")]
    thickness = [2.0 * np.ptp(places[line, 1]) for line in lines]
    return places[lines[1], 0].mean(), -2.0 * last.force(edge) / 1e3, *thickness


def starting_radius(rim, r_value, wrong=0.0):
    """Radius whose material reaches the section with the rim, by volume and tabulated thickness."""
    _, at_section, at_rim = flange_draw.TABLE[r_value][rim]
    mean = 0.5 * (at_section + at_rim)
    return float(np.sqrt(RIM**2 - mean * ((rim - wrong) ** 2 - SECTION**2)))


@cache
def drawn(r_value):
    """Rows of rim, force and both thicknesses at the tabulated rims; rims are met by one repeat."""
    rows = []
    for rim in flange_draw.TABLE[r_value]:
        first = draw_in(starting_radius(rim, r_value), r_value)
        rows.append(draw_in(starting_radius(rim, r_value, first[0] - rim), r_value))
    return np.array(rows)


@pytest.mark.parametrize("r_value", flange_draw.TABLE)
def test_drawing_force_and_thickness(r_value):
    """1 % in force and thickness (Hill 1950, Chiang and Kobayashi 1966; computed)."""
    rows = drawn(r_value)
    np.testing.assert_allclose(rows[:, 0], list(flange_draw.TABLE[r_value]), rtol=2e-3)
    np.testing.assert_allclose(rows[:, 1:], list(flange_draw.TABLE[r_value].values()), rtol=0.01)


@pytest.mark.parametrize("r_value", flange_draw.TABLE)
def test_rim_thickens_as_uniaxial_compression_asks(r_value):
    """Exact: h = h0 (b0/b)**(1/(1 + R)); the elastic part is below 0.1 %."""
    rows = drawn(r_value)
    exact = (RIM / rows[:, 0]) ** (1.0 / (1.0 + r_value))
    np.testing.assert_allclose(rows[:, 3], exact, rtol=1e-3)


@pytest.mark.parametrize("r_value", flange_draw.PEAK)
def test_peak_drawing_force(r_value):
    """1 % in the peak force and in where it comes (computed)."""
    force, place = flange_draw.PEAK[r_value]
    middle = starting_radius(45.0, r_value) + (45.0 - place) * 45.0 / 35.0
    rows = np.array([draw_in(a, r_value) for a in middle + np.array([-1.5, -0.5, 0.5, 1.5])])
    fit = np.polyfit(rows[:, 0] - place, rows[:, 1], 2)
    beside = -fit[1] / (2 * fit[0])
    assert np.polyval(fit, beside) == pytest.approx(force, rel=0.01)
    assert place + beside == pytest.approx(place, rel=0.01)


@pytest.mark.parametrize("ratio", flange_draw.INCIPIENT)
def test_incipient_drawing_stress(ratio):
    """Without hardening the stress at r = a is fixed by b/a; 1 % (computed)."""
    level = 100.0
    body = strip(np.linspace(SECTION, ratio * SECTION, 25), np.array([0.0, 0.5]))
    edge = radial(body, "centre")
    supports = (Support(axial(body, "bottom")), Support(edge, lambda s: -s))
    task = problem(body, metal(Voce(level, 0.0, 1.0), YOUNG, 0.3), 0.5, supports=supports)
    frame = run(task, [0.05], Steps(0.002, 0.005, 1e-6))[-1]
    area = 2 * np.pi * (SECTION - 0.05) * 0.5
    stress = -frame.force(edge) / area / level
    assert stress == pytest.approx(flange_draw.INCIPIENT[ratio], rel=0.01)
