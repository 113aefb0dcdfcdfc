"""Cases that load a finished body: what fits together and what is refused, with its reason."""

import math

import pytest

from formsim.case.load import parse_case
from formsim.errors import CaseError
from formsim.report.preflight import limits_text, stages_text
from formsim.results.foreseen import foreseen_limits
from tests.physics.support import named_case

CUP = """
title = "Cup under load"
source = "invented"
[sheet]
thickness = 0.28
blank_diameter = 118.0
[sheet.material]
name = "demo"
source = "invented"
invented = true
young = 69000.0
poisson = 0.33
density = 2720.0
flow = { kind = "voce", saturation = 405.0, drop = 105.0, rate = 18.0 }
r_values = { r_bar = 1.0 }
[[stage]]
kind = "draw"
punch = { diameter = 74.0, nose_radius = 3.0 }
die = { radius = 2.5, clearance = 0.31 }
holder = { force = "5 kN" }
"""


def test_a_body_that_is_tested_has_three_layers_unless_the_case_says_how_many():
    """Only the digest of such cases depends on it."""
    tested = with_stage('kind = "pressurise"')
    assert parse_case(CUP, "case").mesh.layers == 2
    assert parse_case(tested, "case").mesh.layers == 3
    given = parse_case(tested + "\n[mesh]\nlayers = 2\n", "case")
    assert (given.mesh.layers, given.mesh.columns) == (2, None)
    assert parse_case(tested + "\n[mesh]\ncolumns = 90\n", "case").mesh.layers == 3


def with_stage(*lines, cup=CUP):
    return cup + "\n[[stage]]\n" + "\n".join(lines) + "\n"


def test_the_plan_says_what_is_done():
    text = with_stage('kind = "pressurise"', 'service = "2 bar"')
    text += with_stage('kind = "top_load"', 'rim = "lid"', 'pressure = "30 psi"', cup="")
    said = stages_text(parse_case(text, "case"))
    assert "inside pressure up to the limit, rim clamped, base free" in said
    assert "until it folds, lid at the rim, base standing, 0.206843 MPa inside" in said


@pytest.mark.parametrize(
    ("lines", "key", "says"),
    [
        (
            ('kind = "pressurise"', 'service = "4 bar"', 'proof = "2 bar"'),
            "stage[1]",
            "service of at most the proof pressure",
        ),
        (
            ('kind = "pressurise"', 'until = "2 bar"', 'required = "4 bar"'),
            "stage[1]",
            "a pressure above the 0.2 MPa of until is never reached",
        ),
        (('kind = "pressurise"', 'until = "limits"'), "stage[1].until", 'did you mean "limit"?'),
        (('kind = "pressurise"', 'until = "-1 bar"'), "stage[1].until", "cannot be negative"),
        (('kind = "top_load"', 'pressure = "2 bar"'), "stage[1]", 'rim = "lid"'),
        (
            ('kind = "pressurise"', 'rim = "clampd"'),
            "stage[1].rim",
            'did you mean "clamped"? expected one of clamped, lid',
        ),
        (('kind = "top_load"', 'base = "free"'), "stage[1].base", "expected one of standing, held"),
        (
            ('kind = "top_load"', 'rim = "lid"', 'base = "held"'),
            "stage[1]",
            "a held wall is loaded by a plate",
        ),
        (
            ('kind = "top_load"', "plate_diameter = 60.0"),
            "stage[1].plate_diameter",
            "smaller than the rim, which is 74.56 mm wide",
        ),
    ],
)
def test_what_does_not_go_together_is_refused(lines, key, says):
    with pytest.raises(CaseError) as caught:
        parse_case(with_stage(*lines), "case")
    (fault,) = caught.value.faults
    assert fault.key == key and says in fault.expected, fault


@pytest.mark.parametrize("kind", ["pressurise", "top_load"])
def test_a_flat_sheet_holds_nothing(kind):
    cup = CUP[: CUP.index("[[stage]]")]
    with pytest.raises(CaseError, match="needs a body with a base and a wall"):
        parse_case(with_stage(f'kind = "{kind}"', cup=cup), "case")


def asked(measure, stage="", more=""):
    named = f'stage = "{stage}"\n' if stage else ""
    return f'\n[[expect]]\nmeasure = "{measure}"\n{named}low = 0.1\nsource = "x"\n{more}\n'


PROOF = with_stage('kind = "pressurise"', 'until = "3 bar"')
LIMIT = with_stage('kind = "pressurise"', 'service = "2 bar"')


@pytest.mark.parametrize(
    ("text", "key", "says"),
    [
        (
            PROOF + asked("limit_pressure"),
            "measure",
            'with until = "limit"; the last stage "pressur',
        ),
        (LIMIT + asked("permanent_nose_growth"), "measure", "whose until is a pressure"),
        (PROOF + asked("service_nose_growth"), "measure", "with a service pressure"),
        (
            LIMIT + asked("crush_load", "draw"),
            "measure",
            'a top_load stage; its stage "draw" is none',
        ),
        (LIMIT + asked("dome_force", "draw"), "measure", "needs a stage with a dome"),
        (LIMIT + asked("limit_pressure", more="at = 2.0"), "at", "one value for the whole stage"),
        (LIMIT + asked("height", "dome"), "stage", "its stages are draw, pressurise"),
        (LIMIT + asked("limit_presure"), "measure", 'did you mean "limit_pressure"'),
    ],
)
def test_an_expectation_needs_a_stage_that_has_its_measure(text, key, says):
    with pytest.raises(CaseError) as caught:
        parse_case(text, "case")
    (fault,) = caught.value.faults
    assert fault.key == f"expect[0].{key}" and says in fault.expected, fault


def limits(text):
    return {one.name: one.theory for one in foreseen_limits(parse_case(text, "case"))}


def test_limits_before_the_run_are_those_of_the_nominal_cup():
    """Thin tube and perfect cylinder: ``Y t / R``, ``2 pi R t Y``, Timoshenko and Gere 1961, eq.
    for the cylinder under axial load (memory), with the 300 MPa of the unworked sheet.
    """
    found = limits(LIMIT + with_stage('kind = "top_load"', 'rim = "lid"', "pressure = 0.2", cup=""))
    radius, pull = 37.14, 0.2 * math.pi * 37.14**2
    assert found["pressurise: wall yields by its hoop stress"] == pytest.approx(84.0 / radius)
    squash = 2.0 * math.pi * radius * 84.0
    assert found["top_load: wall yields"] == pytest.approx(squash + pull)
    rings = 2.0 * math.pi * 69e3 * 0.28**2 / math.sqrt(3.0 * (1.0 - 0.33**2))
    assert found["top_load: wall buckles in rings"] == pytest.approx(rings + pull)
    assert len(found) == 4


def test_limits_before_the_run_know_rings_oven_and_dome():
    """Zoelly's sphere and the bound of NASA SP-8032, 1969, eq. 4, by the sizes of the tools."""
    found = {one.name: one.theory for one in foreseen_limits(named_case("canister_line"))}
    sphere = 2.0 * 69e3 * (0.28 / 46.0) ** 2 / math.sqrt(3.0 * (1.0 - 0.33**2))
    assert found["pressurise: sphere of the dome buckles"] == pytest.approx(sphere)
    half = math.asin(18.8 / 46.0)
    slim = (12.0 * (1.0 - 0.33**2)) ** 0.25 * math.sqrt(46.0 / 0.28)
    size = slim * 2.0 * math.sin(0.5 * half)
    bound = sphere * (0.14 + 3.2 / size**2)
    assert found["pressurise: dome as a clamped cap"] == pytest.approx(bound)
    worked = 0.93 * 405.0 * 0.115 / 28.0575
    assert 0.98 * worked < found["pressurise: wall yields by its hoop stress"] <= worked


def test_what_the_limits_leave_out_is_said():
    text = limits_text(foreseen_limits(parse_case(LIMIT, "case")))
    assert "2.262  MPa" in text and "bending of the nose" in text


def test_nothing_is_foreseen_of_other_stages():
    assert limits(CUP) == {}
