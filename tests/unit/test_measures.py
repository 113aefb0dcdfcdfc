"""Measures of sheets whose shape is known exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest

from formsim.case.stage import Bulge, Dome, Draw
from formsim.errors import FormsimError, MeshError
from formsim.results import shape
from formsim.results.forces import force_mismatch, peak_forces, peak_pressure, tool_work
from formsim.results.kind_row import dome_row
from formsim.results.measures import measure
from formsim.results.strains import pole_strains, surface_strains
from formsim.results.thickness import thickness_profile
from formsim.results.zones import thinnest, zone_minima, zones
from tests.unit.shaped import along, blank, bulge_record, cap, draw_record, line_of, shaped

T = 0.5
DRAW = Draw.model_validate(
    {
        "kind": "draw",
        "name": "draw",
        "punch": {"diameter": 40.0, "nose_radius": 4.0},
        "die": {"radius": 3.0, "clearance": 0.6},
        "holder": {"gap": 0.55},
    }
)
# 16 mm flat, nose of middle radius 4.25, 10 mm wall.
CUP = [(16.0, 0.0), (4.25 * math.pi / 2, math.pi / 2), (40.0, 0.0)]


def tube(body, lean=0.0):
    """Ring blank stood up as a tube of inner radius 20 - T; ``lean`` shears its columns."""
    return shaped(body, lambda r, z: (20.0 - z, r - 10.0 + lean * z))


@pytest.fixture(scope="module")
def disc():
    return blank(thickness=T)


@pytest.fixture(scope="module")
def ring():
    return blank(inner=10.0, outer=30.0, thickness=T)


@pytest.mark.parametrize("layers", [1, 2, 3])
def test_uniform_stretch_is_exact(layers):
    body = blank(thickness=T, layers=layers)
    k = 1.2
    state = shaped(body, lambda r, z: (k * r, z / k**2), strain=0.3)
    profile, strains = thickness_profile(body, state), surface_strains(body, state)
    assert np.allclose(profile.thickness, T / k**2, rtol=1e-12)
    assert np.allclose(profile.volume_thickness, T / k**2, rtol=1e-12)
    assert np.allclose(profile.thinning_percent, 100 * (1 - k**-2))
    assert np.allclose(profile.arc_length, k * profile.original_radius)
    assert np.allclose(strains.major, math.log(k)) and np.allclose(strains.minor, math.log(k))
    assert np.allclose(strains.normal, -2 * math.log(k), atol=1e-12)
    assert np.allclose(strains.constant_volume_thickness, T / k**2)
    assert np.allclose(strains.equivalent, 0.3)
    assert np.allclose(pole_strains(body, state), (math.log(k), -2 * math.log(k)))
    assert shape.volume(body, state) == pytest.approx(math.pi * 900 * T)


def test_volume_change_shows_in_thickness_not_in_constant_volume(disc):
    state = shaped(disc, lambda r, z: (r, 1.01 * z))
    strains = surface_strains(disc, state)
    assert np.allclose(thickness_profile(disc, state).thickness, 1.01 * T)
    assert np.allclose(strains.constant_volume_thickness, T)
    assert np.allclose(strains.normal, math.log(1.01))


@pytest.mark.parametrize("lean", [0.0, 1.0, -2.5])
def test_tube_thickness_does_not_depend_on_sheared_columns(ring, lean):
    profile = thickness_profile(ring, tube(ring, lean))
    assert np.allclose(profile.thickness, T, rtol=1e-9)
    assert np.allclose(profile.volume_thickness, T * (1 + 0 * profile.column_radius), rtol=2e-2)
    assert np.allclose(profile.slope, math.pi / 2)


def test_tube_shape(ring):
    state = tube(ring)
    assert shape.height(ring, state) == pytest.approx(20.0)
    assert shape.volume(ring, state) == pytest.approx(math.pi * (20**2 - 19.5**2) * 20.0)
    assert shape.capacity(ring, state) == pytest.approx(1e-3 * math.pi * 19.5**2 * 20.0)
    rim = shape.rim(ring, state)
    assert (rim.inner_radius, rim.outer_radius) == pytest.approx((19.5, 20.0))
    assert (rim.lowest, rim.highest) == pytest.approx((20.0, 20.0))
    assert shape.flange_width(ring, state) == 0.0


def test_no_pole_with_a_hole(ring):
    with pytest.raises(FormsimError, match="hole"):
        pole_strains(ring, tube(ring))


def test_sphere_cap_against_geometry(disc):
    rho, phi = 40.0, 30.0 / 40.0
    state = shaped(disc, cap(rho, T))
    outer, inner = rho + T / 2, rho - T / 2
    profile = thickness_profile(disc, state)
    assert np.allclose(profile.thickness, T, rtol=1e-6)
    curved = 1 + (T / rho) ** 2 / 12
    assert np.allclose(profile.volume_thickness, T * curved, rtol=1e-6)
    assert profile.arc_length[-1] == pytest.approx(30.0, rel=1e-7)
    exact = 2 * math.pi / 3 * (1 - math.cos(phi)) * (outer**3 - inner**3)
    assert shape.volume(disc, state) == pytest.approx(exact, rel=1e-7)
    assert shape.base_radius(disc, state, within=15.0) == pytest.approx(rho, rel=1e-6)
    assert shape.dome_depth(disc, state) == pytest.approx(inner * (1 - math.cos(phi)), rel=1e-6)
    assert shape.stand_diameter(disc, state) == pytest.approx(2 * inner * math.sin(phi))
    assert shape.capacity(disc, state) == 0.0
    bottom, _, top = surface_strains(disc, state).meridional
    assert np.allclose(top - bottom, math.log(outer / inner), rtol=1e-4)


def test_a_dome_turned_inside_out_has_neither_depth_nor_stand(disc):
    """A cap with its pole below stands on the pole: a depth of -0.00 mm told nothing."""
    upright = shaped(disc, cap(40.0, T))
    turned = shaped(disc, along([(30.0, 0.75)], T))
    assert shape.stand_diameter(disc, turned) < 0.05 * 2.0 * 27.0
    assert set(dome_row(draw_record(disc, [upright, upright]))) == {"dome_depth", "stand_diameter"}
    assert dome_row(draw_record(disc, [turned, turned])) == {}


def test_hoop_strain_of_a_sphere_cap(disc):
    state = shaped(disc, cap(40.0, T))
    strains = surface_strains(disc, state)
    exact = np.log(40.0 * np.sin(strains.original_radius / 40.0) / strains.original_radius)
    assert np.allclose(strains.hoop[1], exact, atol=1e-7)


def test_cup_with_flange():
    body = blank(outer=60.0, thickness=T, columns=300)
    path = [*CUP[:2], (10.0, 0.0), (3.0 * math.pi / 2, -math.pi / 2), (60.0, 0.0)]
    state = shaped(body, along(path, T))
    left = 60.0 - 16.0 - 10.0 - (4.25 + 3.0) * math.pi / 2
    bend = 3.0 * math.sin(math.pi / 4)
    assert shape.flange_width(body, state) == pytest.approx(left + bend, abs=0.2)
    names = zones(thickness_profile(body, state), DRAW)
    order = list(dict.fromkeys(names))
    assert order == ["base", "nose", "wall", "flange", "rim"]
    cross_section = 10.0 + 4.25 + 3.0 + T
    assert shape.height(body, state) == pytest.approx(cross_section, abs=1e-3)


def test_a_kinked_column_is_measured_by_volume():
    """The middle of a flat sheet is folded at one line; its metal stays, so its volume knows."""
    body = blank(thickness=T, columns=60)
    line = 30
    lines = body.columns.lines
    middle = lines[line] + body.columns.layers
    state = shaped(body, lambda r, z: (r, z))
    places = state.u.reshape(-1, 2)
    assert not thickness_profile(body, state).kinked.any()
    # Half a column along and a thickness up: the knots beside it lie askew to each other.
    places[middle] += [0.35, T]
    profile = thickness_profile(body, state)
    assert profile.kinked[line]
    beside = profile.volume_thickness[line - 1 : line + 1]
    assert profile.thickness[line] == beside.min()
    assert not profile.kinked[: line - 3].any() and not profile.kinked[line + 4 :].any()
    least = thinnest(body, state, DRAW)
    assert least.kinked and least.thickness > 0.2 * T


def test_cup_zones_and_thinnest_place():
    body = blank(outer=35.0, thickness=T, columns=280)
    straight = along(CUP, T)

    def thinned(r, z):
        """Sheet pressed to 90 % around R = 20, in the nose."""
        return straight(r, T / 2 + (z - T / 2) * (1 - 0.1 * np.exp(-((r - 20.0) ** 2))))

    state = shaped(body, thinned)
    found = thinnest(body, state, DRAW)
    assert found.zone == "nose"
    assert found.thickness == pytest.approx(0.9 * T, rel=1e-3)
    assert found.original_radius == pytest.approx(20.0, abs=0.2)
    profile = thickness_profile(body, state)
    names = zones(profile, DRAW)
    assert list(dict.fromkeys(names)) == ["base", "nose", "wall", "rim"]
    begin = profile.original_radius[names.index("wall")]
    assert begin == pytest.approx(16.0 + 4.25 * math.pi / 2 * 85 / 90, abs=0.3)
    minima = zone_minima(profile, names)
    assert minima["nose"] == found.thickness
    assert minima["base"] == pytest.approx(T, rel=1e-3)


def test_dome_and_bulge_zones():
    dome = Dome.model_validate(
        {
            "kind": "dome",
            "name": "dome",
            "punch": {
                "diameter": 40.0,
                "nose_radius": 4.0,
                "cavity": {"diameter": 24.0, "radius": 1.5, "depth": 8.0},
            },
            "dome": {"crown_radius": 20.0, "shoulder_radius": 2.0, "diameter": 20.0},
            "depth": 2.0,
        }
    )
    body = blank(outer=35.0, thickness=T, columns=140)
    profile = thickness_profile(body, shaped(body, along(CUP, T)))
    names = zones(profile, dome)
    order = ["dome crown", "dome shoulder", "chime", "nose", "wall", "rim"]
    assert list(dict.fromkeys(names)) == order
    assert profile.radius[names.index("dome shoulder")] == pytest.approx(160.0 / 18.0, abs=0.3)
    assert profile.radius[names.index("chime")] == pytest.approx(13.5, abs=0.3)
    bulge = Bulge.model_validate(
        {"kind": "bulge", "name": "bulge", "diameter": 60.0, "height": 10.0}
    )
    disc = blank(thickness=T)
    profile = thickness_profile(disc, shaped(disc, cap(40.0, T)))
    assert set(zones(profile, bulge)) == {"dome crown", "dome shoulder", "rim"}


def test_flat_blank(disc):
    state = shaped(disc, lambda r, z: (r, z))
    assert shape.flange_width(disc, state) == 0.0
    assert shape.base_radius(disc, state) == math.inf
    assert shape.stand_diameter(disc, state) == pytest.approx(60.0)
    assert shape.centre_of_mass(disc, state) == pytest.approx(T / 2)
    assert shape.mass(disc, 2720.0) == pytest.approx(math.pi * 900 * T * 2720e-6)


def test_coil_share():
    assert shape.coil_share(10.0, web=0.0, edge=0.0) == pytest.approx(math.pi / 4)
    many = shape.coil_share(10.0, rows=10_000, web=0.0, edge=0.0)
    assert many == pytest.approx(math.pi / (2 * math.sqrt(3)), rel=1e-4)
    square = shape.coil_share(10.0, rows=50, web=0.0, edge=0.0, staggered=False)
    assert square == pytest.approx(math.pi / 4)


def test_work_and_peaks(disc):
    record = draw_record(disc, [shaped(disc, lambda r, z: (r, z))] * 3)
    assert peak_forces(record) == pytest.approx({"die": 1000.0, "punch": 1000.0})
    assert tool_work(record) == pytest.approx({"die": 0.0, "punch": 5.0})
    assert force_mismatch(record) == pytest.approx(1e-8)


def test_fluid_work_and_pressure(disc):
    record = bulge_record(disc, [shaped(disc, lambda r, z: (r, z))] * 2)
    assert peak_pressure(record) == 2.0
    assert tool_work(record) == pytest.approx({"fluid": 8.0})


def test_named_measures(disc):
    flat = shaped(disc, lambda r, z: (r, z))
    thin = shaped(disc, lambda r, z: (r / 0.9, 0.81 * z))
    line = line_of(disc, draw_record(disc, [flat, thin]), bulge_record(disc, [flat, thin]))
    assert measure(line, "draw", "min_thickness", None) == pytest.approx(0.81 * T)
    assert measure(line, None, "max_thinning_percent", None) == pytest.approx(19.0)
    assert measure(line, "draw", "max_thinning_strain", None) == pytest.approx(-math.log(0.81))
    assert measure(line, "draw", "pole_thickness_strain", 10.0) == pytest.approx(math.log(0.81))
    assert measure(line, "draw", "min_thickness", 5.0) == pytest.approx(T * (1 + 0.81) / 2)
    assert measure(line, "draw", "height", 0.0) == pytest.approx(T)
    assert measure(line, "draw", "punch_force", None) == pytest.approx(1000.0)
    assert measure(line, "draw", "punch_force", 4.25) == pytest.approx(425.0)
    assert measure(line, "bulge", "pressure", 2.5) == pytest.approx(1.25)


@pytest.mark.parametrize(
    ("stage", "name", "at", "word"),
    [
        ("neck", "height", None, "no stage"),
        ("draw", "weight", None, "no measure"),
        ("draw", "dome_force", None, "no tool"),
        ("draw", "pressure", None, "no fluid"),
        ("draw", "height", 11.0, "not at 11 mm"),
        ("draw", "punch_force", 11.0, "not at 11 mm"),
    ],
)
def test_measures_that_cannot_be_given(disc, stage, name, at, word):
    line = line_of(disc, draw_record(disc, [shaped(disc, lambda r, z: (r, z))] * 2))
    with pytest.raises(FormsimError, match=word) as caught:
        measure(line, stage, name, at)
    assert caught.value.hint


def test_mesh_without_columns_is_refused(disc):
    from dataclasses import replace

    loose = replace(disc, columns=None)
    with pytest.raises(MeshError, match="no columns"):
        thickness_profile(loose, shaped(disc, lambda r, z: (r, z)))
