"""Every shipped case and the template run to their end and keep what they promise."""

from pathlib import Path

import numpy as np
import pytest

from formsim.case.load import load_case
from formsim.case.template import write_template
from formsim.pipeline.run import run_case
from formsim.results import store

CASES = sorted((Path(__file__).parents[2] / "cases").glob("*.toml"))
POINT_FIELDS = {"displacement", "thickness", "thinning_percent"}
CELL_FIELDS = {
    "equivalent_plastic_strain",
    "meridional_log_strain",
    "hoop_log_strain",
    "stage",
    "phase",
}

pytestmark = pytest.mark.slow


@pytest.fixture(
    scope="module", params=[*CASES, None], ids=lambda path: path.stem if path else "template"
)
def run(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("case")
    path = request.param or write_template("cup", folder)
    text = path.read_text(encoding="utf-8")
    return run_case(load_case(path), folder / "result", text=text)


def test_all_checks_pass(run):
    failed = [check for check in run.checks if not check.passed]
    assert not failed
    assert run.summary["finished"]
    assert run.summary["passed"]


def test_no_increment_is_loose(run):
    assert [stage["loose_increments"] for stage in run.summary["stages"]] == [0] * len(
        run.case.stages
    )


def test_the_case_names_its_source(run):
    card = run.case.sheet.material
    assert run.case.source
    assert card.invented or card.source
    assert all(wanted.source for wanted in run.case.expect)


def test_tables_agree_with_the_summary(run):
    table = store.load_thickness(run.folder).columns
    for stage in run.summary["stages"]:
        own = np.array(table["stage"]) == stage["name"]
        thickness = np.array(table["thickness_mm"])[own]
        assert thickness.min() == pytest.approx(stage["min_thickness"], rel=1e-6)
    forces = store.load_forces(run.folder).columns
    stages, tools = np.array(forces["stage"]), np.array(forces["tool"])
    for stage in run.summary["stages"]:
        for tool, peak in stage["peak_force"].items():
            own = (stages == stage["name"]) & (tools == tool)
            found = np.abs(np.array(forces["force_n"], dtype=float)[own]).max()
            assert found == pytest.approx(peak, rel=1e-6)


def test_the_time_series_reads_back(run):
    import pyvista
    from vtkmodules.vtkCommonExecutionModel import vtkStreamingDemandDrivenPipeline as Pipeline

    reader = pyvista.get_reader(str(run.folder / "sheet.vtkhdf")).reader
    reader.UpdateInformation()
    times = reader.GetOutputInformation(0).Get(Pipeline.TIME_STEPS())
    frames = [(record.body, frame) for record in run.line.stages for frame in record.frames]
    assert len(times) == len(frames)
    assert np.all(np.diff(times) > 0)
    for moment, (body, frame) in zip(times, frames, strict=True):
        reader.UpdateTimeStep(moment)
        grid = pyvista.wrap(reader.GetOutput())
        places = frame.state.places(body)
        assert np.allclose(grid.points[:, :2], places, atol=1e-9)
        assert set(grid.point_data.keys()) >= POINT_FIELDS
        assert set(grid.cell_data.keys()) >= CELL_FIELDS
    assert grid.point_data["thickness"].min() == pytest.approx(
        run.summary["stages"][-1]["min_thickness"], rel=1e-3
    )


def test_pictures_are_there(run):
    figures = list((run.folder / "figures").iterdir())
    assert {file.suffix for file in figures} == {".svg", ".png"}
    assert all(file.stat().st_size > 5_000 for file in figures)


def test_the_dome_is_about_as_deep_as_it_was_pressed(run):
    """Springback takes a few tenths of a millimetre; a tool beside its place takes much more."""
    for stage, row in zip(run.case.stages, run.summary["stages"], strict=True):
        if stage.kind == "dome":
            assert 0.85 * stage.depth < row["dome_depth"] < 1.02 * stage.depth
