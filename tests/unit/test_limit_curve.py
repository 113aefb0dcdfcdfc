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
    strains = np.array([0.1, 0.2, 0.2, 0.15, 0.0]), np.array([0.0, -0.1, -0.05, 0.1, -0.1])
    share = VEE.straight(*strains)
    assert share[:2] == pytest.approx([0.5, 0.5])
    assert share[2] == pytest.approx(0.2 / (0.2 / 0.75))
    assert share[3] == pytest.approx(0.5)
    assert share[4] == 0.0


def test_share_at_equal_minor_strain():
    """By hand on the V of -0.2/0.4, 0/0.2, 0.2/0.3: a strain of -0.1 allows 0.3, 0.1 allows 0.25.

    On the left the reading at equal minor strain is the more severe, since the curve falls from the
    place on the straight way to that above the strain itself.
    """
    strains = np.array([0.1, 0.2, 0.15, 0.3]), np.array([0.0, -0.1, 0.1, 0.22])
    level = VEE.level(*strains)
    assert level[:3] == pytest.approx([0.5, 0.2 / 0.3, 0.15 / 0.25])
    assert np.isnan(level[3])
    assert VEE.share(*strains)[:3] == pytest.approx([0.5, 0.2 / 0.3, 0.6])


def test_points_of_the_curve_are_on_it():
    for reading in (VEE.straight, VEE.level, VEE.share):
        assert reading(VEE.major, VEE.minor) == pytest.approx(1.0)
    assert VEE.straight(0.3 * VEE.major, 0.3 * VEE.minor) == pytest.approx(0.3)


def test_left_of_the_curve_the_loss_of_thickness_counts():
    share = VEE.straight(np.array([0.5]), np.array([-0.4]))
    assert share == pytest.approx(0.5)
    assert VEE.level(np.array([0.5]), np.array([-0.4])) == pytest.approx(0.5 / 0.6)


def test_no_limit_applies_where_the_sheet_gets_no_thinner():
    """The straight way of such strains never meets a curve of constant thickness."""
    strains = np.array([0.5, 0.3, -0.1]), np.array([-0.6, -0.3, -0.2])
    assert VEE.share(*strains) == pytest.approx(0.0)
    slight = np.array([0.3]), np.array([-0.295])
    assert VEE.share(*slight) == pytest.approx(0.005 / 0.2)


def test_right_of_the_curve_a_place_is_judged_below_its_lowest_point_only():
    share = VEE.share(np.array([0.3, 0.1]), np.array([0.29, 0.09]))
    assert np.isnan(share[0])
    assert share[1] == pytest.approx(0.5)


def test_both_readings_agree_on_what_is_over():
    """Being beyond a curve does not hang on the way its reading takes."""
    minor, major = np.meshgrid(np.linspace(-0.35, 0.15, 41), np.linspace(0.02, 0.6, 50))
    keep = (major + minor > 1e-6) & (minor < 0.6 * major)
    one, other = (reading(major[keep], minor[keep]) for reading in (VEE.straight, VEE.level))
    known = ~np.isnan(other) & (other > 0.0) & (np.abs(one - 1.0) > 1e-9)
    assert np.array_equal(one[known] > 1.0, other[known] > 1.0)


def test_on_hills_line_the_margin_is_what_is_left_of_the_thickness_strain():
    """Hill 1952: a local neck at e1 + e2 = n, so that n - (e1 + e2) is left at equal minor strain,
    and (e1 + e2)/n of the straight way is used."""
    flow = '{ kind = "swift", strength = 500.0, prestrain = 1e-8, exponent = 0.2 }'
    text = BASE.format(
        limits='forming_limit = { kind = "swift_hill" }', material="x", thickness=1.0
    )
    curve = limit_curve(parse_case(with_card(text, flow=flow), "hill.toml")).curve
    major, minor = np.array([0.15, 0.3, 0.5]), np.array([-0.05, -0.2, -0.4])
    assert curve.straight(major, minor) == pytest.approx((major + minor) / 0.2, rel=1e-3)
    gap = major * (1.0 / curve.level(major, minor) - 1.0)
    assert gap == pytest.approx(0.2 - (major + minor), rel=1e-3)


def table(minor, major) -> str:
    points = f"minor = {minor}, major = {major}"
    return (
        'forming_limit = { kind = "table", strain = "true", unit = "fraction",'
        f' source = "invented", {points} }}'
    )


@pytest.mark.parametrize(
    ("minor", "major", "said"),
    [
        ([-0.4, -0.1, 0.0, 0.1], [0.35, 0.3, 0.2, 0.25], "the sheet gets no thinner"),
        ([0.05, 0.3], [0.22, 0.4], "all minor strains are above zero"),
        ([-0.3, -0.1], [0.5, 0.3], "all minor strains are below zero"),
        ([-0.3, 0.3], [0.5, 0.4], "on the unsafe side"),
    ],
)
def test_tables_that_would_judge_falsely_are_refused(minor, major, said):
    """Points where the sheet thickens gave a false OVER, tables without plane strain a false safe.

    That the lowest point of a curve lies near plane strain: Keeler and Backofen 1963 (memory).
    """
    assert said in refused(table(minor, major))


def test_a_table_short_of_tension_goes_on_level_and_says_so():
    given = limit_curve(case_of(table([0.0, 0.2], [0.2, 0.3])))
    r_bar = case_of("").sheet.material.r_bar
    tension = given.curve.minor[0] / given.curve.major[0]
    assert tension == pytest.approx(-r_bar / (1.0 + r_bar), abs=0.01)
    assert given.curve.major[0] == 0.2
    assert given.curve.level(np.array([0.1]), np.array([-0.02])) == pytest.approx(0.5)
    assert "short of simple tension" in given.warnings[0]
    whole = limit_curve(case_of(table([-0.2, 0.0, 0.2], [0.4, 0.2, 0.3])))
    assert (whole.warnings, whole.curve.added) == ((), 0)


def test_a_curve_that_peaks_in_plane_strain_is_doubted():
    given = limit_curve(case_of(table([-0.2, -0.1, 0.0, 0.1], [0.32, 0.18, 0.26, 0.2])))
    assert "look for an error in the points" in given.warnings[0]
    lines = 'forming_limit = { kind = "swift_hill" }'
    worked_out = limit_curve(case_of(lines, material="can-body-demo"))
    assert "limit curve worked out from the card is higher" in worked_out.warnings[0]
    assert "spread neck" in worked_out.warnings[0] and "points" not in worked_out.warnings[0]


@pytest.mark.parametrize(
    "text",
    [
        "minor;major\n-10,0;40,0\n0,0;30,0\n20,0;35,0\n",
        "coil 12\nMajor [%]\tMinor [%]\n40\t-10\n30\t0\n35\t20\n",
        "minor,major\n%,%\n-10,40\n0,30\n20,35\n",
    ],
)
def test_files_of_points_are_read_as_test_files_are(tmp_path, text):
    (tmp_path / "c.csv").write_text(text)
    table = 'kind = "table", file = "c.csv", strain = "true", unit = "percent", source = "s"'
    curve = limit_curve(case_of(f"forming_limit = {{ {table} }}", folder=tmp_path)).curve
    assert curve.minor == pytest.approx([-0.1, 0.0, 0.2])
    assert curve.major == pytest.approx([0.4, 0.3, 0.35])


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
        ("", "no row of at least two numbers"),
        ("a,b\n1,2\n", "expected a header line with minor and major above the points; it has a, b"),
        ("minor,major\n0,20\nx,30\n", 'line 3: column 1 "minor" = x: is no number'),
        ("minor,major\n0,20\n10\n", "line 3: row: has 1 fields"),
        ("minor,major\n0,20\n10,nan\n", 'line 3: column 2 "major" = nan: is no number'),
        ("minor;major\n0;20\n10;\n", "line 3: expected two numbers"),
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
    one = VEE.straight(*strains)
    more = VEE.straight(factor * strains[0], factor * strains[1])
    assert more == pytest.approx(factor * one, rel=1e-9)
    beside = VEE.straight(strains[0], strains[1] + 1e-7)
    assert beside == pytest.approx(one, abs=1e-4)
    assert np.fmax(VEE.share(*strains), 0.0) >= one


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
