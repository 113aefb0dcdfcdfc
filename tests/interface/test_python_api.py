"""What the README shows is run as it stands there, and the package gives arrays."""

import re
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

import formsim
from formsim.case.load import parse_case
from formsim.case.study import load_study
from formsim.geometry import blank
from formsim.pipeline.run import run_case
from formsim.report import render
from formsim.results.flanging import FlangeSize
from formsim.results.ironing import RingFigures
from formsim.results.necking import NeckSize
from formsim.results.press_times import PressFigures
from formsim.results.rate_and_heat import RateAndHeat
from formsim.results.strength import LoadFigures
from formsim.results.trimming import TrimLoss
from formsim.study.plan import plan_study
from tests.interface.small import PLAIN_OUTPUT, small_cup

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def _names(table) -> list[str]:
    return [field.name for field in fields(table)]


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def keys(table, prefix: str = "") -> set[str]:
    """Keys of a summary as the README writes them."""
    found = set()
    for key, value in table.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            found |= {name for entry in value for name in keys(entry, f"{key}[].")}
        else:
            found.add(prefix + key)
    return found


def snippet_with(word: str) -> str:
    """The one snippet of Python of the README that has a word in it."""
    (found,) = (text for text in blocks("python") if word in text)
    return found


def said(snippet: str, folder: Path) -> str:
    """What a snippet of the README prints when it is run in a folder."""
    done = subprocess.run(
        [sys.executable, "-c", snippet], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.slow
def test_the_snippet_that_runs_a_case_does():
    assert re.match(r"0\.2\d+ mm at", said(snippet_with("run_case"), ROOT))


@pytest.mark.slow
def test_the_reading_snippet_of_the_readme_runs(tmp_path):
    """Every stage takes one unit of time, also one that ends before its latest stroke."""
    text = small_cup(output="\n[output]\nframes = 2\nfigures = false\npicture = false\n")
    made = run_case(parse_case(text, "cup.toml"), tmp_path / "results" / "canister_cup", text=text)
    lines = said(snippet_with("pyvista"), tmp_path).splitlines()
    found = [re.fullmatch(r"time (\d\.\d+): thinnest (0\.\d+) mm", line) for line in lines]
    times = [float(match[1]) for match in found]
    assert times == sorted(set(times))
    assert {0.0, 0.9, 0.99, 1.0, 1.9, 1.99} <= set(times)
    least = made.summary["stages"][-1]["min_thickness"]
    assert float(found[-1][2]) == pytest.approx(least, rel=1e-3)


def starts_from_a_result(text: str) -> bool:
    return 'kind = "result"' in text


def is_a_study(text: str) -> bool:
    return "[[vary]]" in text


@pytest.mark.parametrize(
    "text",
    [text for text in blocks("toml") if not starts_from_a_result(text) and not is_a_study(text)],
)
def test_the_case_of_the_readme_is_sound(text):
    case = parse_case(text, "README.md")
    wanted = ["iron", "trim", "neck", "flange"] if case.start else ["draw", "dome"]
    assert [stage.kind for stage in case.stages] == wanted


def test_the_study_of_the_readme_can_be_planned(tmp_path):
    (text,) = filter(is_a_study, blocks("toml"))
    (tmp_path / "cases").symlink_to(ROOT / "cases")
    (tmp_path / "scatter.toml").write_text(text, encoding="utf-8")
    study, *_ = load_study(tmp_path / "scatter.toml")
    plan = plan_study(study, tmp_path / study.case, "README.md")
    assert len(plan.keys) == study.design.samples
    assert not [one for one in plan.variants if one.refused]


@pytest.mark.parametrize("path", sorted((ROOT / "cases" / "studies").glob("*.toml")))
def test_shipped_studies_can_be_planned(path):
    study, *_ = load_study(path)
    plan = plan_study(study, path.parent / study.case, path.name)
    assert plan.keys and not [one for one in plan.variants if one.refused]
    assert "invented" in study.source


@pytest.mark.slow
def test_the_case_of_the_readme_that_starts_from_a_result_runs(small_run, tmp_path):
    (text,) = filter(starts_from_a_result, blocks("toml"))
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "canister_cup").symlink_to(small_run.folder)
    made = run_case(parse_case(text + PLAIN_OUTPUT, "README.md", tmp_path))
    assert made.summary["passed"]
    assert made.summary["stages"][1]["pressurise"]["limit"] > 0.2


def test_the_readme_describes_every_key_of_the_summary(small_run):
    rows = re.findall(r"^\| `([a-z_\[\].]+)` \| [^|]*\| [^|]+\|$", README, re.MULTILINE)
    some = ("peak_pressure", "trim", "rings", "neck", "flange", "press", "pressurise", "top_load")
    elsewhere = {f"stages[].{key}" for key in (*some, "ears", "rate_and_heat")}
    stamp = {"format", "case", "digest", "version"}
    assert set(rows) - elsewhere == keys(small_run.summary) | stamp


@pytest.mark.parametrize(
    ("key", "made"),
    [
        ("trim", [*_names(TrimLoss), "clears"]),
        ("rings", _names(RingFigures)),
        ("neck", ["load", "crush_load", "buckling_load", "load_ratio", *_names(NeckSize)]),
        ("flange", ["edge_hoop_strain", "total_edge_hoop_strain", *_names(FlangeSize)]),
        ("press", _names(PressFigures)),
        ("rate_and_heat", _names(RateAndHeat)),
        (
            "pressurise",
            ["limit", "highest", "first_yield", "limit_centre_growth", "zone", "named"]
            + ["wall_radius", "first_wall_radius"],
        ),
        ("top_load", _names(LoadFigures)),
        ("ears", ["count", "height", "below_mean", "mass", "blank_percent", "heights", "angles"]),
    ],
)
def test_the_readme_describes_what_a_kind_of_stage_adds(key, made):
    row = next(line for line in README.splitlines() if line.startswith(f"| `stages[].{key}` |"))
    assert not [name for name in made if f"`{name}`" not in row]


def test_the_readme_names_every_case():
    named = {Path(name).stem for name in re.findall(r"`([a-z0-9_]+)` \|", README)}
    assert {path.stem for path in (ROOT / "cases").glob("*.toml")} <= named


def test_the_library_script_knows_what_the_messages_name():
    script = (ROOT / ".ci" / "libraries.sh").read_text(encoding="utf-8")
    packages = set(re.search(r'packages="([^"]+)"', script)[1].split())
    libraries = set(re.search(r'libraries="([^"]+)"', script)[1].split())
    assert packages == set(blank._APT.values()) | set(
        render.INSTALL.partition("recommends ")[2].split()
    )
    assert libraries == {*blank._APT, "libEGL.so.1"}


def test_arrays_come_out(small_run):
    run = small_run
    body, dome = run.line.body, run.line.stages[-1]
    sheet = formsim.thickness_profile(body, dome.final)
    strains = formsim.surface_strains(body, dome.final)
    assert sheet.thickness.shape == sheet.arc_length.shape == (run.case.mesh.columns + 1,)
    assert strains.meridional.shape == (3, run.case.mesh.columns)
    assert sheet.thickness.min() == pytest.approx(run.summary["stages"][-1]["min_thickness"])
    assert np.isfinite(dome.final.places(body)).all()


def test_a_watcher_hears_every_increment():
    told = []
    text = small_cup(output="\n[output]\nframes = 1\n")
    made = run_case(parse_case(text, "cup.toml"), watch=told.append)
    assert [progress.increment for progress in told] == [
        row for record in made.line.stages for row in record.increments
    ]
    assert all(0.0 <= progress.fraction <= 1.0 for progress in told)
    assert [told[0].stage, told[-1].stage] == ["draw", "dome"]
    assert made.folder is None


def test_public_names_are_there():
    assert all(hasattr(formsim, name) for name in formsim.__all__)
    with pytest.raises(AttributeError):
        formsim.no_such_name()


def test_the_import_is_light():
    heavy = ["numba", "gmsh", "pyvista", "vtkmodules", "matplotlib", "h5py", "scipy", "skfem"]
    code = f"import sys, formsim, formsim.cli; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
