"""Result folder: what is written comes back, nothing is lost silently."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace

import numpy as np
import pytest

from formsim.case.stage import Draw
from formsim.errors import StoreError
from formsim.results import series, store
from formsim.stages.sheet import Sheet
from tests.unit.shaped import METAL, blank, bulge_record, draw_record, line_of, shaped

STAMP = store.Stamp("Demo; cup\nof ours", "0123456789ab", "0.1.0")
DRAW = Draw.model_validate(
    {
        "kind": "draw",
        "name": "draw",
        "punch": {"diameter": 40.0, "nose_radius": 4.0},
        "die": {"radius": 3.0, "clearance": 0.6},
        "holder": {"gap": 0.55},
    }
)


@pytest.fixture(scope="module")
def disc():
    return blank(columns=24)


@pytest.fixture(scope="module")
def states(disc):
    """Flat, then a bowl that gets deeper and thinner."""

    def bowl(k):
        return shaped(disc, lambda r, z: (r, (1 - 0.05 * k) * z + 0.01 * k * r**2), strain=0.1 * k)

    return [bowl(k) for k in range(4)]


@pytest.fixture
def folder(tmp_path):
    return store.create_folder(tmp_path / "new" / "cup", 'title = "Demo"\n', STAMP)


def test_folder_holds_the_case(folder):
    assert (folder.path / "case.toml").read_text() == 'title = "Demo"\n'


def test_existing_result_is_not_overwritten(folder):
    with pytest.raises(StoreError, match="not empty") as caught:
        store.create_folder(folder.path, "other", STAMP)
    assert "--into" in caught.value.hint and "--replace" in caught.value.hint
    assert (folder.path / "case.toml").read_text() == 'title = "Demo"\n'


def test_replace_removes_only_own_files(folder):
    store.write_summary(folder, {"passed": True})
    folder.figure("thickness").with_suffix(".png").write_bytes(b"x")
    (folder.path / "notes.txt").write_text("mine")
    store.create_folder(folder.path, "other", STAMP, replace=True)
    left = sorted(str(p.relative_to(folder.path)) for p in folder.path.rglob("*"))
    assert left == ["case.toml", "figures", "notes.txt"]
    assert (folder.path / "case.toml").read_text() == "other"


def test_replace_leaves_strange_folders_alone(tmp_path):
    (tmp_path / "letters.txt").write_text("mine")
    with pytest.raises(StoreError, match="no result of this program"):
        store.create_folder(tmp_path, "case", STAMP, replace=True)
    assert (tmp_path / "letters.txt").exists()


def test_file_in_the_way(tmp_path):
    (tmp_path / "cup").write_text("a file")
    with pytest.raises(StoreError, match="is a file"):
        store.create_folder(tmp_path / "cup", "case", STAMP)
    with pytest.raises(StoreError, match="cannot be written") as caught:
        store.create_folder(tmp_path / "cup" / "below", "case", STAMP)
    assert "--into" in caught.value.hint


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may write anywhere")
def test_read_only_folder(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(StoreError, match="cannot be written"):
        store.create_folder(tmp_path / "cup", "case", STAMP)


def test_folder_that_refuses_writing(folder, monkeypatch):
    def refuse(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.write_text", refuse)
    with pytest.raises(StoreError, match=r"summary.json cannot be written: Permission denied"):
        store.write_summary(folder, {})


def test_summary_round_trip(folder):
    store.write_summary(folder, {"stages": [], "passed": True})
    summary = store.load_summary(folder.path)
    assert summary == {**STAMP.notes(), "stages": [], "passed": True}
    assert list(summary)[0] == "format"


@pytest.mark.parametrize(
    ("text", "word"),
    [("{", "damaged"), ("[1]", "damaged"), ('{"format": 99}', "format 99"), ("{}", "format None")],
)
def test_bad_summary(folder, text, word):
    (folder.path / "summary.json").write_text(text)
    with pytest.raises(StoreError, match=word):
        store.load_summary(folder.path)


def test_missing_result(tmp_path):
    with pytest.raises(StoreError, match="no result"):
        store.load_summary(tmp_path)


def test_thickness_table_round_trip(folder, disc, states):
    line = line_of(disc, draw_record(disc, states))
    store.write_thickness(folder, line, [DRAW])
    table = store.load_thickness(folder.path)
    assert table.notes["case"] == "Demo, cup of ours"
    assert table.notes["format"] == "1" and table.notes["digest"] == STAMP.digest
    assert table.columns["stage"] == ["draw"] * 25
    radius = np.array(table.columns["original_radius_mm"])
    assert np.allclose(radius, np.linspace(0, 30, 25))
    assert np.all(np.array(table.columns["thickness_mm"]) < 0.5)
    assert np.allclose(table.columns["equivalent_plastic_strain"], 0.3)


def test_force_table_round_trip(folder, disc, states):
    line = line_of(disc, draw_record(disc, states), bulge_record(disc, states))
    store.write_forces(folder, line)
    columns = store.load_forces(folder.path).columns
    assert len(columns["stage"]) == 2 * 21 + 5
    rows = [k for k, tool in enumerate(columns["tool"]) if tool == "punch"]
    assert columns["force_n"][rows[-1]] == 1000.0
    assert columns["travel_mm"][rows[-1]] == -10.0
    assert columns["pressure_mpa"][-1] == 2.0 and np.isnan(columns["force_n"][-1])


def test_damaged_table(folder, disc, states):
    store.write_forces(folder, line_of(disc, draw_record(disc, states)))
    path = folder.path / "forces.csv"
    path.write_text(path.read_text()[:-20])
    with pytest.raises(StoreError, match="damaged"):
        store.load_forces(folder.path)
    path.write_text("# format: 7\na,b\n1,2\n")
    with pytest.raises(StoreError, match="format 7"):
        store.load_forces(folder.path)


def test_last_state_round_trip(folder, states):
    state = replace(states[2], stroke=3.25, positions=np.array([1.0, 2.0]))
    store.save_last_state(folder, 1, "dome", states[1])
    store.save_last_state(folder, 1, "dome", state)
    last = store.load_last_state(folder.path)
    assert (last.stage, last.name, last.state.stroke) == (1, "dome", 3.25)
    assert np.array_equal(last.state.u, state.u)
    assert np.array_equal(last.state.plastic, state.plastic)
    assert np.array_equal(last.state.positions, state.positions)
    assert np.array_equal(last.state.grip.gap, state.grip.gap)
    assert last.notes["digest"] == STAMP.digest
    path = folder.path / "last_state.npz"
    path.write_bytes(path.read_bytes()[:300])
    with pytest.raises(StoreError, match="cannot be read"):
        store.load_last_state(folder.path)


def read_steps(path):
    """All steps of a time series as an open viewer reads them."""
    pyvista = pytest.importorskip("pyvista")
    from vtkmodules.vtkCommonExecutionModel import vtkStreamingDemandDrivenPipeline as Pipeline

    reader = pyvista.get_reader(str(path)).reader
    reader.UpdateInformation()
    times = reader.GetOutputInformation(0).Get(Pipeline.TIME_STEPS()) or ()
    grids = []
    for moment in times:
        reader.UpdateTimeStep(moment)
        grids.append(pyvista.wrap(reader.GetOutput()).copy())
    return list(times), grids


def test_series_reads_back_step_by_step(folder, disc, states):
    record = draw_record(disc, states)
    path = store.start_series(folder, disc)
    for k, frame in enumerate(record.frames):
        store.append_frames(folder, Sheet(disc, METAL, frame.state), [frame], 3, [2.5 * k])
        if k:  # of a single step the reader tells no time
            times, grids = read_steps(path)
            assert times == [2.5 * j for j in range(k + 1)]
    for frame, grid in zip(record.frames, grids, strict=True):
        assert set(grid.celltypes) == {23}
        assert grid.n_cells == 48
        assert np.allclose(grid.points[:, :2], frame.state.places(disc), atol=1e-12)
        assert np.allclose(grid.point_data["displacement"][:, :2].ravel(), frame.state.u)
        assert set(grid.cell_data["stage"]) == {3}
        strain = grid.cell_data["equivalent_plastic_strain"]
        assert np.allclose(strain, frame.state.strain.mean(axis=1))
    area = grids[0].compute_cell_sizes(length=False, volume=False)["Area"]
    assert area.sum() == pytest.approx(30.0 * 0.5)
    assert area.min() > 0
    assert [set(grid.cell_data["phase"]).pop() for grid in grids] == [0, 1, 1, 1, 2]
    assert np.allclose(grids[0].point_data["thickness"], 0.5)
    thinning = grids[-1].point_data["thinning_percent"]
    assert thinning[0] == pytest.approx(15.0, abs=0.1)
    assert np.allclose(grids[-1].cell_data["hoop_log_strain"], 0.0, atol=1e-12)


def test_last_frames_get_their_times(folder, disc, states):
    path = store.start_series(folder, disc)
    for k, frame in enumerate(draw_record(disc, states).frames):
        store.append_frames(folder, Sheet(disc, METAL, frame.state), [frame], 0, [float(k)])
    store.set_frame_times(folder, [2.5, 3.5, 9.0])
    assert read_steps(path)[0] == [0.0, 1.0, 2.5, 3.5, 9.0]


@pytest.mark.parametrize("error", [KeyboardInterrupt, ValueError])
def test_nothing_half_written_is_left(folder, disc, states, monkeypatch, error):
    def stopped(*_args, **_kwargs):
        raise error

    path = store.start_series(folder, disc)
    before = path.read_bytes()
    monkeypatch.setattr(series, "point_fields", stopped)
    monkeypatch.setattr(np, "savez", stopped)
    with pytest.raises(error):
        series.append_steps(path, [series.Step(0.0, disc, states[0], 0, 0, METAL)])
    with pytest.raises(error):
        store.save_last_state(folder, 0, "draw", states[0])
    assert path.read_bytes() == before
    assert not list(folder.path.glob("*.part"))


def test_kept_files_are_named(folder):
    store.write_summary(folder, {})
    folder.figure("thickness").with_suffix(".png").write_bytes(b"x")
    assert store.kept_files(folder.path) == ["summary.json", "case.toml", "figures/ (1 files)"]


def test_series_carries_the_stamp(folder, disc):
    h5py = pytest.importorskip("h5py")
    with h5py.File(store.start_series(folder, disc)) as file:
        assert file.attrs["format"] == 1
        assert file.attrs["digest"] == STAMP.digest


def test_series_errors(tmp_path, disc, states):
    with pytest.raises(StoreError, match="cannot be written"):
        series.create_series(tmp_path / "none" / "x.vtkhdf", disc, {})
    path = tmp_path / "x.vtkhdf"
    path.write_bytes(b"rubbish")
    with pytest.raises(StoreError, match="cannot be written"):
        series.append_steps(path, [series.Step(0.0, disc, states[0], 0, 0, METAL)])


WRITER = """
import sys
from pathlib import Path
from formsim.results import series
from tests.unit.shaped import METAL, blank, shaped
body = blank(columns=24)
path = Path(sys.argv[1])
series.create_series(path, body, {})
for k in range(100000):
    state = shaped(body, lambda r, z: (r, z + 0.001 * k * r))
    series.append_steps(path, [series.Step(float(k), body, state, 0, 1, METAL)])
    print(k, flush=True)
"""


def test_killed_run_leaves_a_readable_series(tmp_path):
    path = tmp_path / "x.vtkhdf"
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
    )
    try:
        written = [int(writer.stdout.readline()) for _ in range(5)]
        time.sleep(0.013)
    finally:
        writer.send_signal(signal.SIGKILL)
        writer.wait()
        writer.stdout.close()
    times, grids = read_steps(path)
    assert len(times) >= len(written)
    slope = [grid.points[:, 1].max() - 0.5 for grid in grids]
    assert np.allclose(slope, 0.03 * np.array(times), atol=1e-9)


def test_summary_is_plain_json(folder):
    path = store.write_summary(folder, {"stages": [{"min_thickness": 0.25}]})
    assert json.loads(path.read_text())["stages"][0]["min_thickness"] == 0.25
