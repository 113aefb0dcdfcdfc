"""A drawn cup is trimmed and baked: whole runs, result folder and messages."""

import json
from dataclasses import replace

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.cli import main
from formsim.errors import CaseError, GeometryError
from formsim.pipeline.run import run_case
from formsim.report.figures import save_figures
from formsim.report.preflight import stages_text
from formsim.report.table import result_text
from formsim.results import store
from formsim.results.earing import expected_ears, valley
from formsim.results.measures import measure
from formsim.results.residual_stress import face_stresses
from formsim.results.summary import stage_row
from formsim.results.thickness import thickness_profile, volume_ratio
from formsim.results.trimming import trim_loss
from formsim.solver.balance import internal_force
from formsim.solver.contact import tuning
from formsim.solver.newton import System
from formsim.solver.problem import Problem, Scales, material_data
from tests.interface.small import PLAIN_OUTPUT, small_cup
from tests.unit.test_store import read_steps

HEIGHT, FACTOR = 27.0, 0.85


def body_line(*stages: str, output: str = PLAIN_OUTPUT) -> str:
    """The small cup with other stages behind its draw."""
    text = small_cup(output=output)
    begin = text.index("[[stage]]", text.index("[[stage]]") + 1)
    end = text.index("\n[mesh]")
    tables = "".join(f"\n[[stage]]\n{stage}\n" for stage in stages)
    return text[:begin] + tables + text[end:]


TRIM, BAKE = f'kind = "trim"\nheight = {HEIGHT}', f'kind = "bake"\nfactor = {FACTOR}'


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("results") / "line"


@pytest.fixture(scope="module")
def run(folder):
    output = "\n[output]\nframes = 3\nfigures = false\npicture = false\n"
    text = body_line(TRIM, BAKE, output=output)
    return run_case(parse_case(text, "cup.toml"), folder, text=text)


def test_every_check_of_the_run_is_kept(run):
    assert [record.kind for record in run.line.stages] == ["draw", "trim", "bake"]
    assert run.summary["passed"]
    assert not [check for check in run.summary["checks"] if not check["passed"]]


def test_the_rim_is_square_before_the_release(run):
    draw, trim, _ = run.line.stages
    rim = trim.formed.places(trim.body)[trim.body.edge_nodes("rim"), 1]
    bottom = draw.final.places(draw.body)[:, 1].min()
    np.testing.assert_allclose(rim - bottom, HEIGHT, atol=1e-6)
    assert trim.frames[0].phase == "start"
    assert np.array_equal(trim.frames[0].state.u, trim.formed.u)
    assert not trim.increments and trim.release


def test_volume_is_kept_by_the_springback(run):
    for record in run.line.stages:
        ratio = volume_ratio(record.body, record.final)
        volume = (ratio * record.body.volume).sum()
        assert volume == pytest.approx(record.body.volume.sum(), rel=1e-4)
        assert ratio.min() > 0.99


def test_the_cut_is_free_of_stress(run):
    """No node of the free part carries a force; the stress along the wall fades at the cut."""
    trim = run.line.stages[1]
    scales = Scales(0.28, trim.material.yield_stress)
    contact = tuning(scales.length, scales.stress)
    task = Problem(trim.body, material_data(trim.material), scales, contact)
    force = internal_force(task, trim.final.u, trim.final.plastic, System(task).scratch)
    rim = trim.body.edge_nodes("rim")
    assert np.abs(force.reshape(-1, 2)[rim]).max() < 1e-4
    _, along, _ = face_stresses(trim.body, trim.material, trim.final)
    assert np.abs(along[:, -1]).max() < 0.15 * np.abs(along).max()


def test_the_rest_of_the_cup_hardly_moves(run):
    """What lies far below the cut keeps its shape; the sheet is no thicker or thinner anywhere."""
    draw, trim, _ = run.line.stages
    before, after = (thickness_profile(r.body, r.final) for r in (draw, trim))
    n = len(after.radius) - 2
    np.testing.assert_allclose(after.thickness[: n - 1], before.thickness[: n - 1], rtol=1e-3)
    np.testing.assert_allclose(after.volume_thickness[:n], before.volume_thickness[:n], rtol=1e-3)
    np.testing.assert_allclose(after.radius[: n // 2], before.radius[: n // 2], atol=1e-3)
    cut = np.interp(after.original_radius[-1], before.original_radius, before.thickness)
    assert after.thickness[-1] == pytest.approx(cut, rel=5e-3)
    assert after.original_thickness[-1] == pytest.approx(0.28, rel=1e-9)


def test_the_loss_is_the_metal_above_the_cut(run):
    """Mass of the ring from the wall of the drawn cup, by its radius, thickness and height."""
    draw, trim, _ = run.line.stages
    loss = trim_loss(run.line, trim)
    profile = thickness_profile(draw.body, draw.final)
    bottom = draw.final.places(draw.body)[:, 1].min()
    above = np.linspace(bottom + HEIGHT, profile.z[-1], 200)
    section = np.interp(above, profile.z, profile.radius * profile.thickness)
    ring = 2.0 * np.pi * np.trapezoid(section, above)
    assert loss.mass == pytest.approx(ring * trim.material.density * 1e-6, rel=5e-3)
    assert loss.height == pytest.approx(HEIGHT, abs=1e-6)
    assert loss.most > loss.least > 0.0 and loss.clears()
    told = next(row["trim"] for row in run.summary["stages"] if row["kind"] == "trim")
    assert told["blank_percent"] == loss.blank_percent
    assert run.summary["mass_g"] == pytest.approx(
        (1.0 - 0.01 * loss.blank_percent) * np.pi * 59.0**2 * 0.28 * trim.material.density * 1e-6,
        rel=1e-3,
    )


def test_the_valleys_of_ears_reach_the_trim_with_the_metal_of_the_rim(run):
    """The rim of the drawn cup is the one the trim gets: its ears are as high there as drawn."""
    base = '{ base = "can-body-demo", r_values = { r0 = 0.5, r45 = 1.2, r90 = 0.6 } }'
    text = body_line(TRIM, BAKE).replace('"can-body-demo" ', base)
    case = parse_case(text, "cup.toml")
    below = expected_ears(case, case.stages[0]).below_mean
    assert below > 0.5
    assert valley(case, run.line, 1) == pytest.approx(below, rel=1e-9)
    assert stage_row(run.line, run.line.stages[1], case.stages[1], (), below)["trim"]["clears"]
    deep = run.line.stages[1], case.stages[1], (), below + 10.0
    assert not stage_row(run.line, *deep)["trim"]["clears"]


def test_the_baked_cup_yields_lower_and_its_stresses_relax(run):
    trim, bake = run.line.stages[1:]
    strain = np.linspace(0.0, 1.0, 9)
    np.testing.assert_allclose(
        bake.material.flow.stress(strain), FACTOR * trim.material.flow.stress(strain)
    )
    before, after = (
        np.abs(face_stresses(r.body, r.material, r.final)[1]).max() for r in (trim, bake)
    )
    assert 0.5 * before < after < before
    assert (bake.final.strain >= trim.final.strain - 1e-12).all()
    assert bake.body is trim.body


def test_tables_and_text_do_without_tools(run, folder):
    text = result_text(run.summary)
    assert "trim" in text and "bake" in text
    row = next(row for row in run.summary["stages"] if row["kind"] == "trim")
    assert row["stroke"] == 0.0 and row["peak_force"] == {} and row["work"] == {}
    assert row["height"] == pytest.approx(HEIGHT, abs=0.05)
    assert set(row["energy"].values()) == {0.0}
    assert json.loads((folder / "summary.json").read_text())["finished"]
    assert set(store.load_forces(folder).columns["stage"]) == {"draw"}
    thickness = store.load_thickness(folder).columns["stage"]
    counts = [thickness.count(r.name) for r in run.line.stages]
    assert counts == [r.body.columns.count + 1 for r in run.line.stages]
    assert counts[0] > counts[1] == counts[2]
    assert measure(run.line, "trim", "height", None) == pytest.approx(HEIGHT, abs=0.05)


@pytest.mark.slow
def test_figures_are_there(run, tmp_path):
    made = save_figures(run.line, lambda name: tmp_path / name, ())
    drawn = {path.stem for path in made}
    assert {"section-1-draw", "section-2-trim", "section-3-bake", "thickness"} <= drawn
    assert {name for name in drawn if name.startswith("forces")} == {"forces-1-draw"}
    assert [r.loaded for r in run.line.stages][1:] == [
        "as cut, held in shape",
        "as baked, held in shape",
    ]


def test_the_series_shows_each_stage_on_its_own_mesh(run, folder):
    times, grids = read_steps(folder / "sheet.vtkhdf")
    assert times == sorted(set(times))
    frames = [(r, frame) for r in run.line.stages for frame in r.frames]
    assert len(grids) == len(frames)
    for (record, frame), grid in zip(frames, grids, strict=True):
        assert grid.n_cells == len(record.body.elements)
        places = frame.state.places(record.body)
        np.testing.assert_allclose(grid.points[:, :2], places, atol=1e-12)


def test_a_trim_that_was_stopped_says_where(run):
    trim = run.line.stages[1]
    begun = replace(trim, complete=False, release=trim.release[:1])
    assert begun.condition == "trim, stopped during springback (aborted), partly sprung back"
    assert begun.stroke == 0.0


@pytest.mark.slow
def test_a_cut_held_in_shape_when_no_springback_is_asked_for():
    made = run_case(parse_case(body_line(TRIM + "\nspringback = false"), "cup.toml"))
    trim = made.line.stages[1]
    assert not trim.increments and not trim.release and trim.complete
    assert trim.condition == "trim, as cut, held in shape"
    assert trim.final.places(trim.body)[:, 1].max() == pytest.approx(
        trim.final.places(trim.body)[:, 1].min() + HEIGHT
    )


def test_a_trim_above_the_rim_is_refused_with_what_would_do():
    with pytest.raises(
        GeometryError, match=r"stage .trim.: .*above the lowest point of the rim.*from .* to "
    ):
        run_case(parse_case(body_line('kind = "trim"\nheight = 29.5'), "cup.toml"))


@pytest.mark.slow
def test_a_dome_can_follow_a_trim():
    text = small_cup()
    begin = text.index("[[stage]]", text.index("[[stage]]") + 1)
    text = f"{text[:begin]}[[stage]]\n{TRIM}\n\n{text[begin:]}"
    made = run_case(parse_case(text, "cup.toml"))
    assert [record.kind for record in made.line.stages] == ["draw", "trim", "dome"]
    assert not [check.name for check in made.checks if not check.passed]


REVERSE = """kind = "redraw"
direction = "reverse"
punch = { diameter = 56.0, nose_radius = 3.0 }
die = { radius = 2.5, clearance = 0.33, outer_diameter = 73.0, outer_radius = 3.0 }
friction = 0.05
stroke = 50.0"""


@pytest.mark.slow
def test_a_cup_drawn_in_reverse_is_turned_over_and_trimmed():
    trim = 'kind = "trim"\nheight = 40.0'
    text = body_line(REVERSE, trim).replace("columns = 90", "columns = 150")
    made = run_case(parse_case(text, "cup.toml"))
    assert not [check.name for check in made.checks if not check.passed]
    redraw, cut = made.line.stages[1:]
    before, after = (r.final.places(r.body)[:, 1] for r in (redraw, cut))
    assert before[redraw.body.edge_nodes("rim")].max() < before[0] - 40.0
    assert after[cut.body.edge_nodes("rim")].min() > after[0] + 38.0
    places, n = (
        cut.final.places(cut.body),
        cut.body.columns.stride * (cut.body.columns.count // 4 * 3),
    )
    inner, outer = (places[n + k, 0] for k in (cut.body.columns.line_nodes - 1, 0))
    assert 27.9 < inner < outer < 28.6
    assert trim_loss(made.line, cut).least == pytest.approx(5.0, abs=0.1)


def only(stage: str) -> str:
    text = body_line()
    return text[: text.index("[[stage]]")] + f"[[stage]]\n{stage}\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (only(TRIM), "a trim needs a wall"),
        (only(BAKE), "has not been worked"),
        (body_line('kind = "bake"'), "either factor, or temperature and time"),
        (body_line('kind = "bake"\ntemperature = 200'), "belong together"),
        (body_line(BAKE + "\ntime = 60"), "either factor, or temperature and time"),
        (body_line('kind = "bake"\ntemperature = 200\ntime = 600'), "no recovery constants"),
        (body_line('kind = "bake"\nfactor = 1.2'), "factor"),
        (body_line(TRIM, TRIM), "repeats the trim stage"),
    ],
)
def test_what_cannot_work_is_refused_before_the_run(text, words):
    with pytest.raises(CaseError, match=words):
        parse_case(text, "cup.toml")


def test_the_plan_names_cut_and_cure():
    text = stages_text(parse_case(body_line(TRIM, BAKE), "cup.toml"))
    assert "cut square 27 mm" in text and "flow stress times 0.85" in text


def test_check_reads_such_a_case(tmp_path, capsys):
    file = tmp_path / "line.toml"
    file.write_text(body_line(TRIM, BAKE))
    assert main(["check", str(file)]) == 0
    assert "trim (trim)" in capsys.readouterr().out
