"""Rate and heat of increments: stress, temperature, work and tangent of small bodies."""

from dataclasses import replace

import numpy as np
import pytest

from formsim.material.anisotropy import hill_weights
from formsim.material.flow import Voce
from formsim.material.heat import Heating, LinearSoftening, temperature_rise
from formsim.material.rate import CowperSymonds, PowerLaw
from formsim.solver.balance import internal_force
from formsim.solver.march import march
from formsim.solver.newton import System
from formsim.solver.problem import Support, Tempo
from formsim.solver.stepping import Steps
from formsim.solver.strain import strain_modes
from formsim.solver.tempo import FACTOR, FASTEST, TEMPERATURE, cold, cooled, pace_of, temperatures
from tests.unit.solid import SHEET, at_rest, block, dense, problem, rough, slopes

CURVE = Voce(405.0, 105.0, 18.0)
COWPER, POWER = CowperSymonds(40.4, 5.0), PowerLaw(1e-3, 0.02)
PER_MPA = temperature_rise(1.0, 2720.0, 900.0)


def stretched(metal, tempo, *, strain=0.1, step=0.004, **sizes):
    """States of a disc stretched evenly in its plane, its strain as the stroke; and its problem."""
    body = block(**({"inner": 0.0, "columns": 2, "layers": 1} | sizes))
    rim, bottom = body.edge_nodes("rim"), body.edge_nodes("bottom")
    radius = body.nodes[rim, 0]
    moved = Support(2 * rim, lambda s: radius * np.expm1(s))
    system = System(problem(body, metal, supports=(moved, Support(2 * bottom + 1)), tempo=tempo))
    start = at_rest(system)
    if tempo is not None:
        ambient = tempo.heating.ambient if tempo.heating else np.nan
        start = replace(
            start, heat=cold(body.volume.shape, ambient), reached=np.zeros(len(body.elements))
        )
    steps = Steps(step, step, 1e-3 * step)
    made = [(start, None)]
    made += [(state, rows[-1]) for state, rows in march(system, start, strain, steps)]
    return system.problem, made


def equivalent_stress(task, metal, state):
    """Hill's equivalent stress from elastic strains and Hooke's law, (n_el, n_q) [MPa]."""
    elastic = strain_modes(task.body, state.places(task.body)) - state.plastic[..., :3]
    weights = np.array(hill_weights(metal.r_bar))
    return 2.0 * metal.shear * np.sqrt((weights * elastic**2).sum(axis=-1))


@pytest.mark.parametrize("law", [COWPER, POWER])
@pytest.mark.parametrize("speed", [1e-3, 1.0, 300.0])
def test_stress_is_the_factor_times_the_static_flow_stress(law, speed):
    """At a constant strain rate, to the tolerance of the return mapping; 1e-6 asked."""
    metal = replace(SHEET, rate_law=law)
    task, made = stretched(metal, Tempo(speed))
    for (old, _), (new, _) in list(zip(made, made[1:], strict=False))[2:]:
        rate = (new.strain - old.strain) * speed / (new.stroke - old.stroke)
        wanted = law.factor(rate) * metal.flow.stress(new.strain)
        np.testing.assert_allclose(equivalent_stress(task, metal, new), wanted, rtol=1e-6)
        np.testing.assert_allclose(new.heat[..., FACTOR], law.factor(rate), rtol=1e-12)
        assert (new.heat[..., FASTEST] >= rate * (1.0 - 1e-12)).all()
    even = 2.0 * np.sqrt(0.5 * (1.0 + metal.r_bar))
    assert rate == pytest.approx(even * speed, rel=0.01)


def test_a_fast_stage_without_time_is_the_slow_one():
    """Where no speed is known rates are too low to count."""
    _, fast = stretched(replace(SHEET, rate_law=COWPER), Tempo(0.0))
    _, plain = stretched(SHEET, None)
    np.testing.assert_array_equal(fast[-1][0].u, plain[-1][0].u)


def test_temperature_of_adiabatic_stretching():
    """Closed form: share over rho c times the area under the curve, by hand for Voce's law."""
    metal = replace(SHEET, flow=CURVE)
    heating = Heating(PER_MPA, 20.0)
    _, made = stretched(metal, Tempo(0.0, heating), strain=0.15)
    ep = made[-1][0].strain
    area = 405.0 * ep - 105.0 / 18.0 * (1.0 - np.exp(-18.0 * ep))
    assert ep.min() > 0.25
    np.testing.assert_allclose(temperatures(made[-1][0]) - 20.0, PER_MPA * area, rtol=2e-6)


def test_softening_by_heat_follows_its_closed_form_and_halves_its_error():
    """``dT = b s(ep) (1 - a T) dep`` gives ``T = (1 - exp(-a b A(ep)))/a`` with the area A."""
    loss, errors = 4e-3, []
    heating = Heating(PER_MPA, 20.0, LinearSoftening(loss, 20.0))
    for step in (0.01, 0.005, 0.0025):
        _, made = stretched(SHEET, Tempo(0.0, heating), strain=0.15, step=step)
        ep = made[-1][0].strain
        area = 405.0 * ep - 105.0 / 18.0 * (1.0 - np.exp(-18.0 * ep))
        wanted = (1.0 - np.exp(-loss * PER_MPA * area)) / loss
        errors.append(float(np.abs(temperatures(made[-1][0]) - 20.0 - wanted).max() / wanted.max()))
    assert errors[0] < 0.01
    assert errors[0] / errors[1] == pytest.approx(2.0, abs=0.2)
    assert errors[1] / errors[2] == pytest.approx(2.0, abs=0.2)


@pytest.mark.parametrize("law", [COWPER, POWER])
def test_work_is_found_again_with_rate_and_heat(law):
    heating = Heating(PER_MPA, 20.0, LinearSoftening(1e-3, 20.0))
    metal, tempo = replace(SHEET, rate_law=law), Tempo(10.0, heating)
    task, made = stretched(metal, tempo, step=0.002, wobble=0.1, columns=4)
    energy = made[-1][1].energy
    spent = energy.elastic + energy.plastic
    assert spent == pytest.approx(energy.external, rel=3e-3)
    rise = made[-1][0].heat[..., TEMPERATURE] - 20.0
    warmed = float((task.body.volume * rise).sum())
    assert warmed == pytest.approx(PER_MPA * energy.plastic, rel=1e-9)


def test_metal_without_rate_and_heat_is_the_plain_one_bit_for_bit():
    """With all on: a rate sensitivity of 0, and no share of the work that turns into heat."""
    idle = Tempo(10.0, Heating(0.0, 20.0, LinearSoftening(1e-3, 20.0)))
    _, paced = stretched(replace(SHEET, rate_law=PowerLaw(1e-3, 0.0)), idle, wobble=0.1, columns=4)
    _, plain = stretched(SHEET, None, wobble=0.1, columns=4)
    assert len(paced) == len(plain)
    for (one, _), (other, _) in zip(paced, plain, strict=True):
        np.testing.assert_array_equal(one.u, other.u)
        np.testing.assert_array_equal(one.plastic, other.plastic)


def test_an_endless_doubling_rate_is_the_plain_metal():
    _, paced = stretched(replace(SHEET, rate_law=CowperSymonds(1e15, 1.0)), Tempo(10.0))
    _, plain = stretched(SHEET, None)
    np.testing.assert_allclose(paced[-1][0].u, plain[-1][0].u, atol=1e-10)


def test_no_time_changes_no_stress():
    """An accepted state keeps its forces although its factors belong to its last increment."""
    heating = Heating(PER_MPA, 20.0, LinearSoftening(2e-3, 20.0))
    task, made = stretched(replace(SHEET, rate_law=COWPER), Tempo(10.0, heating))
    (before, _), (state, _) = made[-2:]
    system = System(task)
    forces = []
    for begin in (before, state):
        pace = pace_of(task.tempo, begin, state.stroke)
        forces.append(internal_force(task, state.u, begin.plastic, system.scratch, pace))
    np.testing.assert_allclose(*forces, atol=1e-7 * np.abs(forces[0]).max())
    later = replace(state, heat=cooled(state.heat, 20.0))
    pace = pace_of(task.tempo, later, state.stroke)
    cold_force = internal_force(task, state.u, state.plastic, system.scratch, pace)
    np.testing.assert_allclose(cold_force, forces[1], atol=1e-7 * np.abs(forces[0]).max())


@pytest.mark.parametrize("law", [COWPER, POWER])
def test_tangent_is_the_slope_of_the_forces_at_speed(law):
    body = block(columns=2, layers=1)
    task = problem(body, replace(SHEET, rate_law=law), tempo=Tempo(50.0))
    system = System(task)
    start = replace(
        at_rest(system), heat=cold(body.volume.shape), reached=np.zeros(len(body.elements))
    )
    start.heat[..., 1] = 0.93
    u = rough(body, 0.04)
    pace = pace_of(task.tempo, start, 0.02)
    system.evaluate(start, 0.02, u, start.positions, True)
    found = dense(body, system.scratch.block)

    def force(x):
        return internal_force(task, x, start.plastic, system.scratch, pace)

    wanted = slopes(force, u, 1e-6)
    np.testing.assert_allclose(found, wanted, atol=2e-6 * np.abs(wanted).max())


def test_halved_increments_bring_an_uneven_flow_to_its_limit():
    """A ring pulled open with everything on, its mean heat: 0.4 % at 2 % of strain a step."""
    heating = Heating(PER_MPA, 20.0, LinearSoftening(2e-3, 20.0))
    metal, heat = replace(SHEET, rate_law=COWPER), []
    for step in (0.02, 0.01, 0.005, 0.00125):
        _, made = stretched(metal, Tempo(10.0, heating), step=step, inner=3.0, columns=4)
        heat.append(float(temperatures(made[-1][0]).mean()) - 20.0)
    errors = np.abs(np.array(heat[:-1]) / heat[-1] - 1.0)
    assert errors[0] < 5e-3
    assert (np.diff(errors) < 0.0).all()
    assert errors[-1] < 1.5e-3
