"""A time series over a trim: every step is read back with the mesh it was written with."""

import numpy as np
import pytest

from formsim.errors import StoreError
from formsim.results import series
from formsim.results.curve import face_lines
from formsim.results.series_read import read_moments, read_stops
from formsim.results.thickness import thickness_profile
from formsim.stages.cut import cut_square
from formsim.stages.turn import turned_over
from tests.unit.shaped import METAL, blank, shaped
from tests.unit.test_cut import cup
from tests.unit.test_store import read_steps


@pytest.fixture(scope="module")
def line():
    """A cup, cut twice, then turned over; the last one has the mesh of the one before."""
    first = cup(0.6)
    second = cut_square(first, 11.2)
    third = cut_square(second, 8.4)
    return [first, first, second, third, third, turned_over(third)]


def step(k, sheet):
    return series.Step(float(k), sheet.body, sheet.state, 0, 1, sheet.material)


@pytest.mark.parametrize("at_once", [1, 4, 6])
def test_every_step_has_its_own_mesh(line, tmp_path, at_once):
    path = tmp_path / "sheet.vtkhdf"
    series.create_series(path, line[0].body, {"format": 1})
    steps = [
        series.Step(float(k), one.body, one.state, k, 1, one.material) for k, one in enumerate(line)
    ]
    for k in range(0, len(steps), at_once):
        series.append_steps(path, steps[k : k + at_once])
    times, grids = read_steps(path)
    assert times == [float(k) for k in range(len(line))]
    assert len({grid.n_cells for grid in grids}) == 3
    for k, (sheet, grid) in enumerate(zip(line, grids, strict=True)):
        body, state = sheet.body, sheet.state
        assert set(grid.celltypes) == {23}
        assert np.array_equal(grid.cells.reshape(-1, 9)[:, 1:], body.elements)
        assert np.allclose(grid.points[:, :2], state.places(body), atol=1e-12)
        assert np.allclose(grid.point_data["displacement"][:, :2].ravel(), state.u)
        fields = series.cell_fields(steps[k])
        for name, values in fields.items():
            assert np.allclose(grid.cell_data[name], values)
        area = grid.compute_cell_sizes(length=False, volume=False)["Area"]
        assert area.min() > 0


def test_a_mesh_is_stored_once(line, tmp_path):
    h5py = pytest.importorskip("h5py")
    path = tmp_path / "sheet.vtkhdf"
    series.create_series(path, line[0].body, {})
    for k, sheet in enumerate(line):
        series.append_steps(path, [step(k, sheet)])
    with h5py.File(path) as file:
        root, steps = file["VTKHDF"], file["VTKHDF"]["Steps"]
        cells = [len(line[k].body.elements) for k in (0, 2, 3)]
        assert list(root["NumberOfCells"]) == cells
        assert list(steps["PartOffsets"]) == [0, 0, 1, 2, 2, 2]
        assert list(steps["CellOffsets"][:, 0]) == [0, 0, cells[0], *[sum(cells[:2])] * 3]
        nodes = len(line[0].body.nodes)
        assert list(steps["PointOffsets"]) == [k * nodes for k in range(len(line))]
        assert len(root["Points"]) == (len(line) - 1) * nodes + len(line[-1].body.nodes)
        assert root["Points"].id.get_num_chunks() == len(line)


def test_a_series_that_begins_with_a_cut_needs_no_step_of_the_first_mesh(line, tmp_path):
    path = tmp_path / "sheet.vtkhdf"
    series.create_series(path, line[0].body, {})
    for k, sheet in enumerate(line[2:4]):
        series.append_steps(path, [step(k, sheet)])
    _, grids = read_steps(path)
    assert [grid.n_cells for grid in grids] == [len(s.body.elements) for s in line[2:4]]
    assert np.allclose(grids[0].points[:, :2], line[2].state.places(line[2].body))


def test_both_copies_hold_the_same_when_the_run_ends(line, tmp_path):
    """The one without the last step, and each with the times it was given late."""
    path, one = tmp_path / "sheet.vtkhdf", tmp_path / "one.vtkhdf"
    series.create_series(path, line[0].body, {})
    for k, sheet in enumerate(line):
        series.append_steps(path, [step(k, sheet)])
        series.set_times(path, np.array([k + 0.25]))
        if k == len(line) - 2:
            one.write_bytes(path.read_bytes())
    times, grids = read_steps(path)
    before, shorter = read_steps(one)
    assert times == [k + 0.25 for k in range(len(line))]
    assert before == times[:-1]
    for grid, same in zip(grids, shorter, strict=False):
        assert np.array_equal(grid.points, same.points)
        assert np.array_equal(grid.point_data["thickness"], same.point_data["thickness"])
    series.end_series(path)
    assert [file.name for file in tmp_path.iterdir() if file.suffix != ".vtkhdf"] == []


def test_states_are_read_back_without_a_viewer(line, tmp_path):
    """Thickness, way and structure as the run itself knows them, over both cuts."""
    path = tmp_path / "sheet.vtkhdf"
    series.create_series(path, line[0].body, {"format": 1})
    series.append_steps(path, [step(k, sheet) for k, sheet in enumerate(line)])
    stops = read_stops(path)
    assert [stop[:2] for stop in stops] == [(k, float(k)) for k in range(len(line))]
    for sheet, moment in zip(line, read_moments(path, range(len(line))), strict=True):
        profile = thickness_profile(sheet.body, sheet.state)
        assert moment.columns == sheet.body.columns
        assert np.array_equal(moment.cells, sheet.body.elements)
        assert np.allclose(moment.along("thickness"), profile.thickness, rtol=1e-6)
        assert np.allclose(moment.way(), profile.way, atol=1e-5)
        assert moment.along("temperature") is None
        strain = moment.along("equivalent_plastic_strain")
        assert strain.shape == profile.way.shape
        for face, whole in zip(
            moment.faces(), face_lines(sheet.body, sheet.state)[::2], strict=True
        ):
            assert np.array_equal(face.knots, whole.knots)


@pytest.mark.parametrize("spoilt", [None, b"rubbish", "format"])
def test_what_is_no_series_is_told(line, tmp_path, spoilt):
    path = tmp_path / "sheet.vtkhdf"
    if spoilt == "format":
        series.create_series(path, line[0].body, {"format": 9})
    elif spoilt:
        path.write_bytes(spoilt)
    with pytest.raises(StoreError) as caught:
        read_stops(path)
    assert "run the case again" in caught.value.hint


def test_stresses_are_those_of_hooke(tmp_path):
    """A disc stretched alike in both directions: E e / (1 - nu) along and around.

    Source: biaxial plane stress, S. P. Timoshenko and J. N. Goodier, Theory of Elasticity (memory).
    """
    e, nu = 1e-3, METAL.poisson
    across = -2.0 * nu / (1.0 - nu) * e
    disc = blank(columns=24)
    state = shaped(disc, lambda r, z: (r * np.exp(e), z * np.exp(across)))
    fields = series.cell_fields(series.Step(0.0, disc, state, 0, 1, METAL))
    wanted = METAL.young * e / (1.0 - nu)
    for name in ("meridional_stress", "hoop_stress"):
        assert np.allclose(fields[name], wanted, rtol=3e-3)
