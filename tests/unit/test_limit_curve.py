"""Limit curves of a case: measured, by formula, from the card; and how far a strain has come."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formsim.case.load import parse_case
from formsim.errors import CaseError, TheoryRangeError
from formsim.material.flow import Swift
from formsim.results.limit_curve import LimitCurve, limit_curve
from formsim.results.theory import keeler
from formsim.results.theory.instability import hill_localised_strain, swift_diffuse_strain

BASE = """title = "t"
source = "invented"
[sheet]
material = "{material}"
thickness = {thickness}
blank_diameter = 107.5
[[stage]]
kind = "draw"
punch = {{ diameter = 60.0, nose_radius = 5.0 }}
die = {{ radius = 10.0, clearance = 1.2 }}
holder = {{ force = "20 kN" }}
[limits]
{limits}
"""
STEEL = '{ kind = "swift", strength = 550.0, prestrain = 0.01, exponent = 0.2 }'
VEE = LimitCurve(np.array([-0.2, 0.0, 0.2]), np.array([0.4, 0.2, 0.3]), "invented")


def case_of(limits, material="aa6016-t4", thickness=1.0, folder=None):
    text = BASE.format(limits=limits, material=material, thickness=thickness)
    return parse_case(text, "limits.toml", *([folder] if folder else []))


def refused(limits, **more) -> str:
    with pytest.raises(CaseError) as error:
        case_of(limits, **more)
    return " ".join(f"{fault.key}: {fault.expected}" for fault in error.value.faults)


def test_share_of_the_way_on_straight_paths():
    share = VEE.share(np.array([0.1, 0.2, 0.2, 0.15, 0.0]), np.array([0.0, -0.1, -0.05, 0.1, -0.1]))
    assert share[:2] == pytest.approx([0.5, 0.5])
    assert share[2] == pytest.approx(0.2 / (0.2 / 0.75))
    assert share[3] == pytest.approx(0.5)
    assert share[4] == 0.0


def test_points_of_the_curve_are_on_it():
    assert VEE.share(VEE.major, VEE.minor) == pytest.approx(1.0)
    assert VEE.share(0.3 * VEE.major, 0.3 * VEE.minor) == pytest.approx(0.3)


def test_left_of_the_curve_the_loss_of_thickness_counts_and_right_of_it_nothing():
    share = VEE.share(np.array([0.5, 0.5, 0.3]), np.array([-0.4, -0.6, 0.29]))
    assert share[:2] == pytest.approx([0.5, 0.0])
    assert np.isnan(share[2])


def test_engineering_percent_in_a_file_becomes_true_strain(tmp_path):
    """True strain is ln(1 + e); the order of the rows does not matter."""
    (tmp_path / "c.csv").write_text("# ours\nmajor;minor\n30;0\n40;-10\n35;20\n")
    limit = (
        '{ kind = "table", file = "c.csv", strain = "engineering", unit = "percent", source = "s" }'
    )
    case = case_of(f"forming_limit = {limit}", folder=tmp_path)
    curve = limit_curve(case).curve
    assert curve.minor == pytest.approx(np.log([0.9, 1.0, 1.2]))
    assert curve.major == pytest.approx(np.log([1.4, 1.3, 1.35]))


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ('strain = "true", unit = "percent", minor = [-0.1, 0.0], major = [0.3, 0.2]', "fraction"),
        ('strain = "true", unit = "fraction", minor = [-10, 0], major = [30, 20]', "percent"),
        ('strain = "true", unit = "fraction", minor = [0.0], major = [0.2]', "2 to 2000 points"),
        ('strain = "true", unit = "fraction", minor = [0.0, 0.1], major = [0.2]', "as many"),
        ('strain = "true", unit = "fraction", minor = [0.0, 0.3], major = [0.2, 0.2]', "major"),
        ('strain = "true", unit = "fraction"', "expected the points"),
        ('strain = "true", unit = "fraction", file = "no.csv"', "there is no such file"),
        ('unit = "fraction", minor = [0.0, 0.1], major = [0.2, 0.3]', "strain: is missing"),
    ],
)
def test_tables_that_are_no_curve_are_refused(points, said):
    assert said in refused(f'forming_limit = {{ kind = "table", source = "s", {points} }}')


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        ("a,b\n1,2\n", "line 1: expected the header minor,major"),
        ("minor,major\n0,20\nx,30\n", "line 3: expected two numbers"),
        ("minor,major\n0,20\n10\n", "line 3: expected two numbers"),
        ("minor,major\n0,20\n10,nan\n", "line 3: strains must be finite"),
    ],
)
def test_files_that_are_no_curve_are_refused(tmp_path, text, said):
    (tmp_path / "c.csv").write_text(text)
    table = 'kind = "table", file = "c.csv", strain = "true", unit = "percent", source = "s"'
    assert said in refused(f"forming_limit = {{ {table} }}", folder=tmp_path)


def test_keeler_and_brazier():
    """Keeler and Brazier 1977 (memory): (23.3 + 14.13 t) n/0.21 per cent, n up to 0.21."""
    assert keeler.plane_strain_limit(1.0, 0.21) == pytest.approx(0.3743)
    assert keeler.plane_strain_limit(2.0, 0.105) == pytest.approx(0.2578)
    assert keeler.plane_strain_limit(1.0, 0.25) == keeler.plane_strain_limit(1.0, 0.21)
    assert keeler.major_limit(-0.1, 1.0, 0.21) == pytest.approx(np.log(1.3743) + 0.1)
    assert keeler.major_limit(0.1, 1.0, 0.21) > keeler.major_limit(0.0, 1.0, 0.21)
    with pytest.raises(TheoryRangeError):
        keeler.plane_strain_limit(3.5, 0.2)


def with_card(text: str, young: str = "206 GPa", flow: str = STEEL) -> str:
    """The case with a card of its own in place of a library material."""
    card = f"""[sheet.material]
name = "own"
source = "invented"
young = "{young}"
poisson = 0.3
density = 7850.0
flow = {flow}
"""
    line = next(line for line in text.splitlines() if line.startswith("material"))
    return text.replace(f"{line}\n", "").replace("[[stage]]", f"{card}[[stage]]")


def test_keeler_and_brazier_is_refused_for_aluminium_and_thick_sheet():
    limit = 'forming_limit = { kind = "keeler_brazier", exponent = 0.2, source = "s" }'
    assert "limits.forming_limit.kind: holds for steel sheet only" in refused(limit)
    text = with_card(BASE.format(limits=limit, material="x", thickness=1.0))
    curve = limit_curve(parse_case(text, "steel.toml")).curve
    assert np.interp(0.0, curve.minor, curve.major) == pytest.approx(np.log1p(0.3743 * 0.2 / 0.21))
    thick = text.replace("thickness = 1.0", "thickness = 3.2")
    thick = thick.replace("clearance = 1.2", "clearance = 3.6")
    with pytest.raises(CaseError, match="1 fault"):
        parse_case(thick, "steel.toml")


def test_a_curve_that_does_not_hold_is_told_with_the_other_faults():
    limit = 'forming_limit = { kind = "keeler_brazier", exponent = 0.2, source = "s" }'
    text = BASE.format(limits=limit, material="aa6016-t4", thickness=1.0)
    with pytest.raises(CaseError) as error:
        parse_case(text.replace("nose_radius = 5.0", "nose_radius = -5.0"), "two.toml")
    keys = {fault.key for fault in error.value.faults}
    assert keys == {"limits.forming_limit.kind", "stage[0].punch.nose_radius"}


@given(factor=st.floats(0.01, 5.0), path=st.floats(-2.0, 0.6), major=st.floats(0.01, 0.5))
def test_the_share_grows_with_the_strain(factor, path, major):
    """On a straight path twice the strain is twice the share, and it never jumps between paths."""
    strains = np.array([major]), np.array([path * major])
    one = VEE.share(*strains)
    more = VEE.share(factor * strains[0], factor * strains[1])
    assert more == pytest.approx(factor * one, rel=1e-9)
    beside = VEE.share(strains[0], strains[1] + 1e-7)
    assert beside == pytest.approx(one, abs=1e-4)


def test_instability_lines_meet_in_plane_strain_and_know_the_r_value():
    """Hill 1952 e1 + e2 = n at any r; Swift 1952 at balanced stretching e1 = n at any r."""
    curve = Swift(500.0, 1e-12, 0.2)
    for r in (0.5, 1.0, 2.0):
        for path in (-0.8 * r / (1 + r), -0.1, 0.0):
            assert hill_localised_strain(curve, path, r) * (1 + path) == pytest.approx(
                0.2, rel=1e-6
            )
        assert swift_diffuse_strain(curve, 1.0, r) == pytest.approx(0.2, rel=1e-6)
        assert swift_diffuse_strain(curve, 0.0, r) == pytest.approx(0.2, rel=1e-6)
        assert swift_diffuse_strain(curve, -r / (1 + r), r) == pytest.approx(0.2, rel=1e-6)


@pytest.mark.parametrize(
    "limit",
    [
        '{ kind = "swift_hill" }',
        '{ kind = "marciniak_kuczynski", imperfection = 0.99, source = "invented" }',
    ],
)
def test_curves_from_the_card(limit):
    curve = limit_curve(case_of(f"forming_limit = {limit}")).curve
    path = curve.minor / curve.major
    assert path[0] == pytest.approx(-0.41 / 1.41, rel=0.02)
    assert path[-1] == pytest.approx(1.0)
    assert np.all(np.diff(path) > 0.0)


def test_the_curve_of_the_case_goes_before_that_of_the_card_and_none_is_said_so():
    assert limit_curve(case_of("")).note == "no limit given"
    assert limit_curve(case_of("")).curve is None


def test_a_curve_that_cannot_be_worked_out_says_why():
    limit = '{ kind = "marciniak_kuczynski", imperfection = 0.9, source = "invented" }'
    flow = '{ kind = "voce", saturation = 300.0, drop = 20.0, rate = 30.0 }'
    text = BASE.format(limits=f"forming_limit = {limit}", material="x", thickness=1.0)
    found = limit_curve(parse_case(with_card(text, "69 GPa", flow), "flat.toml"))
    assert found.curve is None
    assert "imperfection too deep" in found.note
