"""Response of one material point: tangent, spectral strain, objectivity, tension."""

import numpy as np
import pytest
from scipy.optimize import brentq

from formsim.material.anisotropy import hill_weights
from formsim.material.flow import Swift, Voce
from formsim.material.model import Material
from formsim.solver.curves import log_ratio
from formsim.solver.problem import material_data
from formsim.solver.stress import respond
from tests.unit.solid import slopes

YOUNG, POISSON = 70e3, 0.33
CURVES = {"voce": Voce(405.0, 105.0, 18.0), "swift": Swift(500.0, 0.01, 0.2)}
ROOT2, ROOT3, ROOT6 = np.sqrt([2.0, 3.0, 6.0])
FRESH = np.zeros(4)
WORKED = np.array([0.03, -0.05, 0.02, 0.08])
GRADIENTS = {
    "elastic": (1.0004, 0.0003, -0.0002, 0.9997, 1.0005),
    "shear": (1.05, 0.22, -0.1, 0.9, 1.08),
    "equal stretches": (0.93, 0.0, 0.0, 0.93, 1.12),
    "large": (1.7, -0.4, 0.5, 0.6, 0.85),
}


def data(curve="voce", r_bar=1.0):
    return material_data(Material("m", YOUNG, POISSON, 1.0, CURVES[curve], r_bar))


def answer(gradient, material, old=FRESH):
    """Energy, force, tangent and new plastic state of a point."""
    force, stiff, new = np.zeros(5), np.zeros((4, 4)), np.zeros(4)
    energy = respond(*gradient, material.constants, material.table, old, new, force, stiff, True)
    return energy, force[:4], stiff, new


def gradient_of(y):
    """A deformation gradient with the metric variables (m, p, s, c)."""
    m, p, s, c = y
    first = np.sqrt(m + p)
    return first, s / first, 0.0, np.sqrt(m - p - (s / first) ** 2), np.sqrt(c)


def metric(gradient):
    f11, f12, f21, f22, ft = gradient
    c11, c22 = f11**2 + f21**2, f12**2 + f22**2
    return np.array([0.5 * (c11 + c22), 0.5 * (c11 - c22), f11 * f12 + f21 * f22, ft**2])


def spectral(gradient, curve, r_bar, old):
    """Force, plastic state and stress from eigenvectors of C and a bracketed return mapping."""
    f = np.array(
        [[gradient[0], gradient[1], 0], [gradient[2], gradient[3], 0], [0, 0, gradient[4]]]
    )
    c = f.T @ f
    values, vectors = np.linalg.eigh(c)
    strain = vectors @ np.diag(0.5 * np.log(values)) @ vectors.T
    modes = np.array(
        [
            np.trace(strain) / ROOT3,
            (2 * strain[1, 1] - strain[0, 0] - strain[2, 2]) / ROOT6,
            (strain[0, 0] - strain[2, 2]) / ROOT2,
            ROOT2 * strain[0, 1],
        ]
    )
    bulk3, shear2 = YOUNG / (1 - 2 * POISSON), YOUNG / (1 + POISSON)
    weights = np.array(hill_weights(r_bar))
    trial = shear2 * (modes[1:] - old[:3])

    def stress(dep):
        return trial / (1 + shear2 * weights * dep / curve.stress(old[3] + dep))

    def beyond(dep):
        return np.sqrt(weights @ stress(dep) ** 2) - curve.stress(old[3] + dep)

    dep = brentq(beyond, 0.0, 5.0, xtol=1e-15, rtol=1e-14) if beyond(0.0) > 0 else 0.0
    x1, x2, x3 = stress(dep)
    flow = dep / curve.stress(old[3] + dep) * weights * stress(dep)
    x0 = bulk3 * modes[0]
    tau = np.diag([x0 / ROOT3 - x1 / ROOT6 + x2 / ROOT2, x0 / ROOT3 + 2 * x1 / ROOT6, 0.0])
    tau[2, 2] = x0 / ROOT3 - x1 / ROOT6 - x2 / ROOT2
    tau[0, 1] = tau[1, 0] = x3 / ROOT2
    logs, gap = np.log(values), values[:, None] - values
    ratio = np.where(np.abs(gap) > 1e-9, (logs[:, None] - logs) / (gap + (gap == 0)), 1 / values)
    second = vectors @ ((vectors.T @ tau @ vectors) * ratio) @ vectors.T
    force = [
        second[0, 0] + second[1, 1],
        second[0, 0] - second[1, 1],
        2 * second[0, 1],
        second[2, 2],
    ]
    return 0.5 * np.array(force), np.append(old[:3] + flow, old[3] + dep)


@pytest.mark.parametrize("old", [FRESH, WORKED], ids=["fresh", "worked"])
@pytest.mark.parametrize("r_bar", [1.0, 0.6])
@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize("name", GRADIENTS)
def test_tangent_is_the_derivative_of_the_force(name, curve, r_bar, old):
    material = data(curve, r_bar)
    y = metric(GRADIENTS[name])
    stiff = answer(gradient_of(y), material, old)[2]
    found = slopes(lambda x: answer(gradient_of(x), material, old)[1], y, 2e-5)
    assert np.abs(stiff - found).max() < 1e-6 * np.abs(stiff).max()


@pytest.mark.parametrize("old", [FRESH, WORKED], ids=["fresh", "worked"])
@pytest.mark.parametrize("r_bar", [1.0, 0.6])
@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize("name", GRADIENTS)
def test_response_equals_the_spectral_one(name, curve, r_bar, old):
    """The flow curve is exact here and a table there, which holds to 1e-6."""
    _, force, _, new = answer(GRADIENTS[name], data(curve, r_bar), old)
    expected, state = spectral(GRADIENTS[name], CURVES[curve], r_bar, old)
    np.testing.assert_allclose(force, expected, atol=1e-6 * np.abs(expected).max())
    np.testing.assert_allclose(new, state, atol=1e-8)


def test_elastic_response_equals_the_spectral_one_to_rounding():
    _, force, _, new = answer(GRADIENTS["elastic"], data())
    expected, _ = spectral(GRADIENTS["elastic"], CURVES["voce"], 1.0, FRESH)
    np.testing.assert_allclose(force, expected, atol=1e-11 * np.abs(expected).max())
    assert not new.any()


def piola(gradient, force):
    """First Piola stress of the plane, from the work conjugates of (m, p, s)."""
    second = np.array([[force[0] + force[1], force[2]], [force[2], force[0] - force[1]]])
    return np.array([[gradient[0], gradient[1]], [gradient[2], gradient[3]]]) @ second


@pytest.mark.parametrize("name", GRADIENTS)
def test_quarter_turn_turns_the_stress(name):
    f11, f12, f21, f22, ft = GRADIENTS[name]
    turned = (-f21, -f22, f11, f12, ft)
    here, there = answer(GRADIENTS[name], data()), answer(turned, data())
    assert there[0] == pytest.approx(here[0], rel=1e-12)
    quarter = np.array([[0.0, -1.0], [1.0, 0.0]])
    np.testing.assert_allclose(
        piola(turned, there[1]), quarter @ piola(GRADIENTS[name], here[1]), rtol=1e-11, atol=1e-9
    )
    np.testing.assert_allclose(there[3], here[3], atol=1e-14)


def test_first_piola_stress_is_the_slope_of_the_energy():
    gradient = np.array(GRADIENTS["elastic"])
    force = answer(gradient, data())[1]
    found = slopes(lambda f: np.array([answer(f, data())[0]]), gradient, 1e-5)[0]
    expected = np.append(piola(gradient, force).ravel(), 2 * gradient[4] * force[3])
    np.testing.assert_allclose(found, expected, rtol=1e-8, atol=1e-7)


@pytest.mark.parametrize("r_bar", [1.0, 0.6])
@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_tension_and_compression_to_a_strain_of_six_tenths(sign, curve, r_bar):
    """Uniaxial closed form: the path is straight, so one step from zero is exact."""
    stress = sign * float(CURVES[curve].stress(0.6))
    along = sign * 0.6 + stress / YOUNG
    width = -sign * 0.6 * r_bar / (1 + r_bar) - POISSON * stress / YOUNG
    normal = -sign * 0.6 / (1 + r_bar) - POISSON * stress / YOUNG
    gradient = (np.exp(along), 0.0, 0.0, np.exp(normal), np.exp(width))
    energy, force, _, new = answer(gradient, data(curve, r_bar))
    second = stress / np.exp(2 * along)
    np.testing.assert_allclose(force, [second / 2, second / 2, 0, 0], atol=1e-6 * abs(second))
    assert new[3] == pytest.approx(0.6, abs=1e-8)
    assert energy == pytest.approx(0.5 * stress**2 / YOUNG, rel=1e-6)


def test_unloading_is_elastic():
    loaded = answer(GRADIENTS["shear"], data())[3]
    back = answer(tuple(0.999 * np.array(GRADIENTS["shear"])), data(), loaded)[3]
    assert back.tolist() == loaded.tolist()


@pytest.mark.parametrize("gradient", [(1, 0, 0, -1, 1), (1, 0, 0, 1, -0.1), (0, 0, 0, 0, 1)])
def test_inverted_point_is_refused(gradient):
    assert answer(tuple(map(float, gradient)), data())[0] < 0


def test_log_ratio_is_smooth_across_its_series():
    """atanh(sqrt x)/sqrt x and its derivatives on both sides of the switch at 0.02."""
    assert log_ratio(0.0) == pytest.approx((1.0, 1.0 / 3.0, 2.0 / 5.0))
    for x in (1e-3, 0.019999, 0.020001, 0.3, 0.9):
        h, h1, h2 = log_ratio(x)
        assert h == pytest.approx(np.arctanh(np.sqrt(x)) / np.sqrt(x), rel=1e-13)
        step = 1e-4 * min(x, 1 - x)
        up, down = log_ratio(x + step), log_ratio(x - step)
        assert h1 == pytest.approx((up[0] - down[0]) / (2 * step), rel=1e-6)
        assert h2 == pytest.approx((up[1] - down[1]) / (2 * step), rel=1e-6)
