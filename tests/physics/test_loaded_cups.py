"""Cups with a flat base under pressure and top load: thin and thick, held and free, too much.

The cups are given, not formed; their metal is invented. What is compared are limits of the membrane
and of equilibrium.
"""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.errors import ConvergenceError
from formsim.pipeline.run import Run, run_case
from formsim.report.section import column_shapes, section_figure
from formsim.report.table import result_text
from formsim.results.forces import force_curves, lid_force
from formsim.results.tables import force_columns
from formsim.results.theory import necking

CUP = """
title = "Cup with a flat base"
source = "invented"
start = {{ kind = "cup", diameter = 56.0, height = {height}, corner_radius = 4.0 }}
[sheet]
thickness = {thickness}
[sheet.material]
name = "demo"
source = "invented"
invented = true
young = 69000.0
poisson = 0.33
density = 2720.0
flow = {{ kind = "voce", saturation = 405.0, drop = 105.0, rate = 18.0 }}
r_values = {{ r_bar = 1.0 }}
[output]
figures = false
picture = false
"""


def loaded(*stages: str, thickness: float = 0.28, height: float = 60.0) -> Run:
    text = CUP.format(thickness=thickness, height=height) + "".join(
        f"\n[[stage]]\n{one}\n" for one in stages
    )
    return run_case(parse_case(text, "cup"))


def figures(run: Run, kind: str, number: int = 0) -> dict[str, Any]:
    return run.summary["stages"][number][kind]


@pytest.mark.slow
@pytest.mark.parametrize("thickness", [0.1, 0.28, 2.0])
def test_wall_bursts_at_the_limit_of_a_long_closed_tube(thickness: float) -> None:
    """A long closed tube is in plane strain, ``p = 2 / sqrt(3) sigma t / r`` by its sizes then.

    W. Johnson and P. B. Mellor, Engineering Plasticity, 1973 (memory): the pressure peaks where
    ``d sigma / d ep = sqrt(3) sigma``. Base and rim hold a short wall back, this one is long.
    """
    run = loaded('kind = "pressurise"', thickness=thickness, height=250.0)
    strain = np.linspace(0.0, 0.5, 50_001)
    stress = 405.0 - 105.0 * np.exp(-18.0 * strain)
    hoop = 0.5 * math.sqrt(3.0) * strain
    middle = 28.0 - 0.5 * thickness
    pressure = 2.0 / math.sqrt(3.0) * stress * thickness / middle * np.exp(-2.0 * hoop)
    assert figures(run, "pressurise")["limit"] == pytest.approx(pressure.max(), rel=0.03)
    assert figures(run, "pressurise")["zone"] == "wall"
    assert run.summary["passed"], [c.name for c in run.checks if not c.passed]


@pytest.mark.slow
def test_proof_leaves_growth_and_raises_the_yield() -> None:
    run = loaded('kind = "pressurise"\nuntil = "30 bar"', 'kind = "pressurise"\nname = "again"')
    proof, again = figures(run, "pressurise"), figures(run, "pressurise", 1)
    assert proof["limit"] is None and proof["highest"] == pytest.approx(3.0, rel=1e-6)
    assert 0.0 < proof["permanent_centre_growth"] < proof["limit_centre_growth"]
    assert again["first_yield"] > 10.0 * proof["first_yield"]
    assert again["limit"] > proof["highest"]


@pytest.mark.slow
def test_elastic_pressure_leaves_nothing() -> None:
    proof = figures(loaded('kind = "pressurise"\nuntil = "1 bar"'), "pressurise")
    assert proof["first_yield"] is None
    assert abs(proof["permanent_centre_growth"]) < 1e-6 * proof["limit_centre_growth"]


@pytest.mark.slow
def test_a_stand_keeps_the_base_from_growing() -> None:
    free, held = (
        figures(loaded(f'kind = "pressurise"\nbase = "{base}"'), "pressurise")
        for base in ("free", "held")
    )
    assert abs(held["limit_centre_growth"]) < 0.01 * free["limit_centre_growth"]
    assert held["limit"] > free["limit"]


@pytest.mark.slow
def test_top_loads_lie_below_squash_and_buckling() -> None:
    """A thin cup folds at its base; a thick one bears what the plate has and more, no fold."""
    thin = figures(loaded('kind = "top_load"', thickness=0.1), "top_load")
    assert thin["zone"] == "base"
    assert 0.1 < thin["crush_load"] / necking.buckling_load(69e3, 0.33, 0.1) < 1.0
    thick = figures(loaded('kind = "top_load"', thickness=2.0), "top_load")
    assert thick["crush_load"] is None
    assert thick["highest"] > 2.0 * math.pi * 27.0 * 2.0 * 300.0 * 0.7


@pytest.mark.slow
def test_the_limit_does_not_hang_on_the_pressure_that_is_asked_for() -> None:
    """A thin base is pushed out through a limit point; a wall bulges and bursts."""
    for thickness in (0.1, 0.28):
        limit = figures(loaded('kind = "pressurise"', thickness=thickness), "pressurise")["limit"]
        for share in (1.02, 7.0):
            with pytest.raises(ConvergenceError, match="it gives way at") as it:
                loaded(f'kind = "pressurise"\nuntil = {share * limit}', thickness=thickness)
            assert it.value.reason == "burst"
            assert it.value.facts["pressure"] == pytest.approx(limit, rel=1e-12)
        held = loaded(f'kind = "pressurise"\nuntil = {0.99 * limit}', thickness=thickness)
        assert figures(held, "pressurise")["limit"] is None
        assert figures(held, "pressurise")["highest"] == pytest.approx(0.99 * limit, rel=1e-9)
        assert held.summary["passed"], [c.name for c in held.checks if not c.passed]


@pytest.mark.slow
def test_more_pressure_than_it_holds_is_said() -> None:
    with pytest.raises(ConvergenceError, match=r"does not hold 20 MPa: the last .* at 4\.") as it:
        loaded('kind = "top_load"\nrim = "lid"\npressure = "200 bar"')
    assert it.value.reason == "burst"
    assert 'until = "limit"' in it.value.hint


@pytest.mark.slow
def test_a_body_that_holds_less_than_required_fails_the_run() -> None:
    """The limit of a specimen counts, and neither its thinning nor the force that crushed it."""
    limits = "\n[limits]\nmax_thinning_percent = 5.0\n"
    pressed = 'kind = "pressurise"\nrequired = "60 bar"'
    run = loaded(pressed, 'kind = "top_load"\nrequired = "1 kN"' + limits)
    found = {check["name"]: check["passed"] for check in run.summary["checks"]}
    assert not found["pressurise: inside pressure held"]
    assert found["top_load: top load held"]
    assert not [name for name in found if "largest thinning" in name]
    assert not run.summary["passed"]


@pytest.mark.slow
@pytest.mark.parametrize("rim", ["clamped", "lid"])
def test_the_lid_is_pulled_down_by_the_pressure_over_the_inside(rim: str) -> None:
    """Equilibrium: ``p pi r^2`` with the inner radius of the rim, which grows under a free lid."""
    made = loaded(f'kind = "pressurise"\nrim = "{rim}"\nuntil = "3 bar"').line.stages[0]
    pull = lid_force(made)
    assert pull is not None and pull[0] == 0.0
    assert pull[-1] == pytest.approx(-0.3 * math.pi * 27.72**2, rel=1e-3)
    table = force_columns(made)
    assert [table["force_n"][k] for k, tool in enumerate(table["tool"]) if tool == "lid"] == list(
        pull
    )


@pytest.mark.slow
def test_a_lid_bears_the_top_load_less_its_pull() -> None:
    made = loaded('kind = "top_load"\nrim = "lid"\npressure = "2 bar"').line.stages[0]
    pull, curves = lid_force(made), force_curves(made)
    assert pull is not None
    stand = -curves.force[:, curves.tools.index("stand")]
    inside = curves.pressure[:, 0] * math.pi * 27.72**2
    np.testing.assert_allclose(pull, stand - inside, atol=1e-3 * stand.max())


@pytest.mark.slow
def test_the_wall_grows_as_a_closed_tube_far_from_its_ends_and_most_beside_the_base() -> None:
    """Radius grows by ``p r^2 (1 - nu / 2) / (E t)``, S. Timoshenko, Strength of Materials II, 1956
    (memory), to 1 %. Bending beside the base adds to it: the largest radius lies there.
    """
    made = loaded('kind = "pressurise"\nuntil = "1 bar"', height=250.0).line.stages[0]
    membrane = 0.1 * 27.86**2 * (1.0 - 0.5 * 0.33) / (69e3 * 0.28)
    outside = made.formed.places(made.body)[made.body.edge_nodes("bottom")]
    middle = outside[np.abs(outside[:, 1] - 125.0) < 50.0, 0] - 28.0
    np.testing.assert_allclose(middle, membrane, rtol=1e-2)
    widest = int(outside[:, 0].argmax())
    assert made.gauges["wall_radius"][-1] == outside[widest, 0] > 28.0 + 1.02 * membrane
    assert 4.0 < outside[widest, 1] < 20.0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("stage", "thickness", "says"),
    [
        (
            'kind = "pressurise"',
            0.28,
            r"at its largest pressure, 4\.\d{3} MPa; dashed: after it gave",
        ),
        ('kind = "pressurise"\nuntil = "3 bar"', 0.28, r"at its largest pressure, 0\.300 MPa$"),
        ('kind = "top_load"', 0.28, r"at its largest load, 4\.\d{3} kN; dashed: after it gave way"),
        ('kind = "top_load"', 2.0, r"at its largest load, \d+\.\d{3} kN$"),
    ],
)
def test_the_section_shows_the_body_at_its_largest_load(
    stage: str, thickness: float, says: str
) -> None:
    made = loaded(stage, thickness=thickness)
    record = made.line.stages[0]
    whole, detail, *_ = section_figure(made.line, 0).axes
    assert re.search(says, whole.get_title().replace("\n", " "))
    assert ("most metal flows" in detail.get_title()) == ("dashed" in says)
    assert record.worst is not None
    drawn = whole.collections[0].get_paths()[0].vertices[0]
    np.testing.assert_allclose(drawn, column_shapes(record.body, record.worst)[0][0])


@pytest.mark.slow
def test_a_body_that_yields_below_its_service_pressure_is_told() -> None:
    flat = loaded('kind = "pressurise"\nuntil = "3 bar"\nservice = "3 bar"')
    (said,) = flat.summary["warnings"]
    assert "metal first flows at 0.203 MPa" in said and "service pressure of 0.3 MPa" in said
    assert flat.summary["passed"]
    assert "pressurise: inside pressure held, until" in [check.name for check in flat.checks]
    assert not loaded('kind = "pressurise"\nuntil = "3 bar"\nservice = "1 bar"').summary["warnings"]


@pytest.mark.slow
def test_a_pressure_that_is_named_and_not_held_fails_the_run() -> None:
    weak = loaded('kind = "pressurise"\nservice = "2 bar"\nproof = "50 bar"')
    held = {c.name: c.passed for c in weak.checks if "pressure held" in c.name}
    assert held == {
        "pressurise: inside pressure held, service": True,
        "pressurise: inside pressure held, proof": False,
    }
    assert not weak.summary["passed"]


@pytest.mark.slow
def test_a_base_that_leaps_on_the_way_is_told() -> None:
    """A thin flat base, bulged by the pressure inside, is pushed in before the body folds.

    Increments of 1, 0.97 and 0.5 times the usual ones find it between 0.375 and 0.382 kN.
    """
    run = loaded('kind = "top_load"\nrim = "lid"\npressure = "1 bar"', thickness=0.1, height=30.0)
    (said,) = run.summary["warnings"]
    assert re.search(r"no longer stable beyond 0\.3[78]\d+ kN and leaps .* bears 0\.8\d+ kN", said)
    assert figures(run, "top_load")["crush_load"] == pytest.approx(867.0, rel=0.01)
    rows = run.line.stages[0].increments
    assert 0 < sum(row.unstable > 0 for row in rows) < 0.2 * len(rows)


def expectation(measure: str, low: str, stage: str) -> str:
    asked = f'measure = "{measure}"\nlow = {low}\nstage = "{stage}"\nsource = "invented"'
    return f"\n[[expect]]\n{asked}\n"


@pytest.mark.slow
def test_expectations_look_at_what_a_test_has_found() -> None:
    proof = 'kind = "pressurise"\nname = "proof"\nuntil = "3 bar"\nservice = "2 bar"'
    limit = 'kind = "pressurise"\nname = "limit"\nservice = "50 bar"'
    asked = [
        expectation("permanent_centre_growth", "0.05", "proof"),
        expectation("permanent_nose_growth", "0.05", "proof"),
        expectation("service_centre_growth", "1.0", "proof"),
        expectation("service_nose_growth", "1.0", "proof"),
        expectation("limit_pressure", '"40 bar"', "limit"),
        expectation("crush_load", '"5 kN"', "top_load"),
        expectation("service_nose_growth", "1.0", "limit"),
    ]
    run = loaded(proof, limit, 'kind = "top_load"' + "".join(asked))
    held = [figures(run, "pressurise", k) for k in (0, 1)]
    found = [check for check in run.summary["checks"] if check["kind"] == "expectation"]
    assert [check["computed"] for check in found] == [
        held[0]["permanent_centre_growth"],
        held[0]["permanent_nose_growth"],
        held[0]["named"][0]["centre_growth"],
        held[0]["named"][0]["nose_growth"],
        held[1]["limit"],
        figures(run, "top_load", 2)["crush_load"],
        None,
    ]
    assert [check["unit"] for check in found] == ["mm"] * 4 + ["MPa", "N", "mm"]
    assert [check["passed"] for check in found] == [True] * 5 + [False] * 2
    assert "came to no service nose growth" in found[-1]["place"]
    assert "no number, stage" in result_text(run.summary)
