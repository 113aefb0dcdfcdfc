"""A time series over a trim: every step is read back with the mesh it was written with."""

import numpy as np
import pytest

from formsim.results import series
from formsim.stages.cut import cut_square
from formsim.stages.turn import turned_over
from tests.unit.test_cut import cup
from tests.unit.test_store import read_steps


@pytest.fixture(scope="module")
def line():
    """A cup, cut twice, then turned over; the last one has the mesh of the one before."""
    first = cup(0.6)
    second = cut_square(first, 11.2)
    third = cut_square(second, 8.4)
    return [first, first, second, third, third, turned_over(third)]


@pytest.mark.parametrize("at_once", [1, 4, 6])
def test_every_step_has_its_own_mesh(line, tmp_path, at_once):
    path = tmp_path / "sheet.vtkhdf"
    series.create_series(path, line[0].body, {"format": 1})
    steps = [series.Step(float(k), one.body, one.state, k, 1) for k, one in enumerate(line)]
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
        fields = series.cell_fields(body, state, k, 1)
        for name, values in fields.items():
            assert np.allclose(grid.cell_data[name], values)
        area = grid.compute_cell_sizes(length=False, volume=False)["Area"]
        assert area.min() > 0


def test_a_mesh_is_stored_once(line, tmp_path):
    h5py = pytest.importorskip("h5py")
    path = tmp_path / "sheet.vtkhdf"
    series.create_series(path, line[0].body, {})
    for k, sheet in enumerate(line):
        series.append_steps(path, [series.Step(float(k), sheet.body, sheet.state, 0, 1)])
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
        series.append_steps(path, [series.Step(float(k), sheet.body, sheet.state, 0, 0)])
    _, grids = read_steps(path)
    assert [grid.n_cells for grid in grids] == [len(s.body.elements) for s in line[2:4]]
    assert np.allclose(grids[0].points[:, :2], line[2].state.places(line[2].body))


def test_both_copies_hold_the_same_when_the_run_ends(line, tmp_path):
    """The one without the last step, and each with the times it was given late."""
    path, one = tmp_path / "sheet.vtkhdf", tmp_path / "one.vtkhdf"
    series.create_series(path, line[0].body, {})
    for k, sheet in enumerate(line):
        series.append_steps(path, [series.Step(float(k), sheet.body, sheet.state, 0, 1)])
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
