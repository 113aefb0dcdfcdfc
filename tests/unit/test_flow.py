"""Flow curves, their tables and the material library."""

import numpy as np
import pytest

from formsim.case.card import MaterialCard
from formsim.case.library import library, missing
from formsim.case.rules import yield_stress
from formsim.material.flow import HockettSherby, Hollomon, Ludwik, Swift, SwiftVoce, Table, Voce
from formsim.material.model import Material
from formsim.material.table import flow_table

WHOLE = [name for name, raw in library().items() if not missing(raw)]
SMOOTH = [
    Voce(405.0, 105.0, 18.0),
    Voce(404.16, 107.17, 18.416, linear=30.0),
    Swift(478.2, 0.0068, 0.2895),
    Swift(589.0, 1e-4, 0.216),
    Hollomon(530.0, 0.23, 206_000.0),
    Ludwik(200.0, 300.0, 1.0),
    HockettSherby(400.0, 150.0, 6.0, 1.0),
    SwiftVoce(Swift(500.0, 0.01, 0.2), Voce(405.0, 105.0, 18.0), 0.4),
]
STEEP = [
    Ludwik(200.0, 300.0, 0.5),
    Ludwik(200.0, 300.0, 0.25),
    HockettSherby(400.0, 150.0, 6.0, 0.7),
    HockettSherby(400.0, 150.0, 6.0, 0.3),
]
POINTS = Table((0.0, 0.01, 0.05, 0.2, 0.5), (250.0, 290.0, 330.0, 380.0, 410.0))


def hermite(table: np.ndarray, top: float, strain: np.ndarray) -> np.ndarray:
    """Read the table as a kernel does."""
    step = np.sqrt(top) / (len(table) - 1)
    x = np.sqrt(strain) / step
    i = np.minimum(x.astype(int), len(table) - 2)
    w = x - i
    f, m = table[:, 0], table[:, 1] * step
    return (
        (1 + 2 * w) * (1 - w) ** 2 * f[i]
        + w * (1 - w) ** 2 * m[i]
        + w**2 * (3 - 2 * w) * f[i + 1]
        + w**2 * (w - 1) * m[i + 1]
    )


@pytest.mark.parametrize("curve", [*SMOOTH, *STEEP, POINTS])
def test_slope_is_the_derivative_of_the_stress(curve):
    strain = np.array([1e-3, 0.013, 0.11, 0.4, 2.0])
    half = 1e-6 * strain
    difference = (curve.stress(strain + half) - curve.stress(strain - half)) / (2 * half)
    np.testing.assert_allclose(curve.slope(strain), difference, rtol=2e-6, atol=1e-6)


@pytest.mark.parametrize("curve", SMOOTH)
def test_hermite_table_reproduces_smooth_curves(curve):
    strain = np.concatenate([np.geomspace(1e-9, 1e-2, 3000), np.linspace(1e-2, 9.99, 20_000)])
    read = hermite(flow_table(curve), 10.0, strain)
    np.testing.assert_allclose(read, curve.stress(strain), rtol=1e-6)


@pytest.mark.parametrize("curve", STEEP)
def test_hermite_table_of_steep_curves_is_fine_beyond_the_first_rows(curve):
    table = flow_table(curve)
    strain = np.linspace(1e-4, 9.99, 20_000)
    np.testing.assert_allclose(hermite(table, 10.0, strain), curve.stress(strain), rtol=1e-6)
    first = np.geomspace(1e-12, 1e-4, 2000)
    read = hermite(table, 10.0, first)
    assert np.all(np.diff(read) > 0.0)
    np.testing.assert_allclose(read, curve.stress(first), rtol=0.01)


def test_hermite_table_of_measured_points():
    strain = np.linspace(0.0, 9.99, 20_000)
    read = hermite(flow_table(POINTS), 10.0, strain)
    np.testing.assert_allclose(read, POINTS.stress(strain), rtol=1e-5)


def test_flow_table_shape_and_ends():
    curve = Voce(405.0, 105.0, 18.0)
    table = flow_table(curve, top=4.0, points=101)
    assert table.shape == (101, 2)
    assert table[0, 0] == 300.0
    np.testing.assert_allclose(table[0, 1], 0.0, atol=1e-2)
    np.testing.assert_allclose(table[-1], [curve.stress(4.0), 4.0 * curve.slope(4.0)])


def test_hollomon_starts_on_the_elastic_line():
    curve = Hollomon(530.0, 0.23, 206_000.0)
    first = float(curve.stress(0.0))
    assert first == pytest.approx(530.0 * (first / 206_000.0) ** 0.23, rel=1e-12)


def test_table_passes_its_points_and_goes_on_straight():
    np.testing.assert_allclose(POINTS.stress(POINTS.strains), POINTS.stresses, rtol=1e-12)
    far = POINTS.stress(np.array([0.5, 1.5, 2.5]))
    assert far[2] - far[1] == pytest.approx(far[1] - far[0])
    assert far[1] - far[0] == pytest.approx(float(POINTS.slope(0.5)))


@pytest.mark.parametrize(
    ("strains", "stresses"),
    [
        ((0.0,), (250.0,)),
        ((0.01, 0.1), (250.0, 300.0)),
        ((0.0, 0.0), (250.0, 300.0)),
        ((0.0, 0.1), (250.0, 240.0)),
        ((0.0, 0.1), (0.0, 240.0)),
    ],
)
def test_table_refuses_what_is_no_flow_curve(strains, stresses):
    with pytest.raises(ValueError, match="flow table"):
        Table(strains, stresses)


def test_moduli_of_a_material():
    material = Material("m", 210_000.0, 0.3, 7850.0, Voce(405.0, 105.0, 18.0))
    assert material.bulk == pytest.approx(175_000.0)
    assert material.shear == pytest.approx(80_769.2308)
    assert material.yield_stress == 300.0


FLOWS = {
    "voce": ({"saturation": 405.0, "drop": 105.0, "rate": 18.0}, Voce(405.0, 105.0, 18.0)),
    "swift": (
        {"strength": 500.0, "prestrain": 0.01, "exponent": 0.2},
        Swift(500.0, 0.01, 0.2),
    ),
    "hollomon": ({"strength": 500.0, "exponent": 0.2}, Hollomon(500.0, 0.2, 70_000.0)),
    "ludwik": (
        {"yield_stress": 150.0, "strength": 300.0, "exponent": 0.4},
        Ludwik(150.0, 300.0, 0.4),
    ),
    "hockett_sherby": (
        {"saturation": 400.0, "drop": 150.0, "rate": 6.0, "exponent": 0.7},
        HockettSherby(400.0, 150.0, 6.0, 0.7),
    ),
    "swift_voce": (
        {
            "share": 0.4,
            "strength": 500.0,
            "prestrain": 0.01,
            "exponent": 0.2,
            "saturation": 405.0,
            "drop": 105.0,
            "rate": 18.0,
        },
        SwiftVoce(Swift(500.0, 0.01, 0.2), Voce(405.0, 105.0, 18.0), 0.4),
    ),
    "table": (
        {"strain": [0.0, 0.1], "stress": [200.0, 300.0]},
        Table((0.0, 0.1), (200.0, 300.0)),
    ),
}


@pytest.mark.parametrize("kind", FLOWS)
def test_every_flow_kind_of_a_card_becomes_its_curve(kind):
    constants, expected = FLOWS[kind]
    card = MaterialCard.model_validate(
        {
            "name": "sheet",
            "source": "invented",
            "young": 70_000.0,
            "poisson": 0.33,
            "density": 2700.0,
            "flow": {"kind": kind} | constants,
            "r_values": {"r_bar": 0.6},
        }
    )
    material = Material.from_card(card)
    assert material == Material("sheet", 70_000.0, 0.33, 2700.0, expected, 0.6)
    assert yield_stress(card) == pytest.approx(material.yield_stress)


@pytest.mark.parametrize("name", WHOLE)
def test_every_library_material_loads_and_names_its_sources(name):
    card = MaterialCard.model_validate(library()[name])
    material = Material.from_card(card)
    assert material.yield_stress > 0.0
    assert card.invented or {"young", "poisson", "density", "flow"} <= set(card.sources)


def test_library_values_of_the_published_sheets():
    """Habraken et al. 2022 (mean r 0.41); Yoon, Dick and Barlat 2011."""
    cup = Material.from_card(MaterialCard.model_validate(library()["aa6016-t4"]))
    assert cup.r_bar == pytest.approx(0.41, abs=0.005)
    assert cup.flow == Swift(478.2, 0.0068, 0.2895)
    can = Material.from_card(MaterialCard.model_validate(library()["aa5042-h2"]))
    assert can.flow == Voce(404.16, 107.17, 18.416)
