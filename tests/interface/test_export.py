"""A result in other forms, read back by the libraries that other programs use."""

import math
import shutil

import numpy as np
import pytest

from formsim.cli import main
from formsim.pipeline.export import export_result
from formsim.report.markdown import markdown_text
from formsim.results import store

DONE, BAD_INPUT = 0, 1
NASTY = "<script>alert(1)</script> | `a` *b* [c](http://x.example) _d_ # & \U0001f600 שלום"


@pytest.fixture(scope="module")
def result(small_run):
    return small_run.folder


@pytest.fixture(scope="module")
def all_of_it(result, tmp_path_factory):
    """Every kind, of every stage."""
    into = tmp_path_factory.mktemp("written")
    return {path.name: path for path in export_result(result, into, stages=["all"])}


def test_every_kind_is_written(all_of_it):
    stages = ("1-draw", "2-dome")
    assert set(all_of_it) == {
        "section.gif",
        "summary.md",
        *(f"mesh-{stage}.vtu" for stage in stages),
        *(f"outline-{stage}.dxf" for stage in stages),
    }


def test_the_animation_has_every_state(all_of_it, result):
    image = pytest.importorskip("PIL.Image")
    with image.open(all_of_it["section.gif"]) as film:
        assert film.n_frames == len(store.load_stops(result))
        assert film.format == "GIF" and film.size == (630, 504)


def swept(mesh):
    """Volume of revolution of 8-node cells, second theorem of Pappus and Guldinus (memory)."""
    around = np.array([0, 4, 1, 5, 2, 6, 3, 7])
    r, z = np.moveaxis(mesh.points[mesh.cells[0].data[:, around]][..., :2], 2, 0)
    r2, z2 = np.roll(r, -1, axis=1), np.roll(z, -1, axis=1)
    cross = r * z2 - r2 * z
    return 2 * math.pi * float(((r + r2) * cross).sum()) / 6.0


def test_the_metal_of_a_mesh_is_that_of_the_blank(all_of_it, result):
    """A disc of 118 mm and 0.28 mm; plastic flow keeps the volume, what is elastic is small."""
    meshio = pytest.importorskip("meshio")
    table = store.load_thickness(result).columns
    for k, stage in enumerate(("draw", "dome"), start=1):
        mesh = meshio.read(all_of_it[f"mesh-{k}-{stage}.vtu"])
        assert swept(mesh) == pytest.approx(math.pi * 59.0**2 * 0.28, rel=1e-3)
        assert {"displacement", "thickness", "thinning_percent"} == set(mesh.point_data)
        assert {"equivalent_plastic_strain", "hoop_stress"} < set(mesh.cell_data)
        own = np.array(table["stage"]) == stage
        least = np.array(table["thickness_mm"], float)[own].min()
        assert mesh.point_data["thickness"].min() == pytest.approx(least, rel=1e-6)
        first = mesh.points - mesh.point_data["displacement"]
        assert first[:, 0].max() == pytest.approx(59.0, abs=1e-4)
        assert np.ptp(first[:, 1]) == pytest.approx(0.28, abs=1e-5)


def test_the_outline_has_the_length_of_the_sheet(all_of_it, result):
    """Both faces together are twice as long as the middle, which thickness.csv has."""
    ezdxf = pytest.importorskip("ezdxf")
    table = store.load_thickness(result).columns
    for k, stage in enumerate(("draw", "dome"), start=1):
        document = ezdxf.readfile(all_of_it[f"outline-{k}-{stage}.dxf"])
        assert document.units == ezdxf.units.MM
        lines = {
            e.dxf.layer: np.array(e.get_points("xy"))
            for e in document.modelspace().query("LWPOLYLINE")
        }
        assert set(lines) == {"bottom_face", "top_face", "rim"}
        length = {n: np.hypot(*np.diff(x, axis=0).T).sum() for n, x in lines.items()}
        own = np.array(table["stage"]) == stage
        middle = np.array(table["arc_length_mm"], float)[own][-1]
        assert 0.5 * (length["bottom_face"] + length["top_face"]) == pytest.approx(middle, rel=2e-3)
        rim = np.array(table["thickness_mm"], float)[own][-1]
        assert length["rim"] == pytest.approx(rim, rel=0.1)
        assert np.allclose(lines["rim"], [lines["bottom_face"][-1], lines["top_face"][-1]])


def test_markdown_is_read_as_it_is_meant(result):
    """Titles, verdict, tables and list by an independent reader; marks of the case do nothing."""
    markdown_it = pytest.importorskip("markdown_it")
    summary = {**store.load_summary(result), "case": NASTY}
    summary["stages"] = [{**stage, "name": NASTY} for stage in summary["stages"]]
    tokens = markdown_it.MarkdownIt("commonmark").enable("table").parse(markdown_text(summary))
    kinds = [token.type for token in tokens]
    assert kinds.count("table_open") > 5 and "html_block" not in kinds
    inline = [token for token in tokens if token.type == "inline"]
    assert not {c.type for t in inline for c in t.children} & {
        "html_inline",
        "link_open",
        "em_open",
        "code_inline",
    }
    texts = ["".join(c.content for c in token.children) for token in inline]
    assert texts[0] == NASTY
    assert sum(NASTY in text for text in texts) > 4
    assert any("licensed practice" in text for text in texts)


def test_only_what_is_asked_for(result, tmp_path, capsys):
    into = ["--into", str(tmp_path / "x")]
    assert main(["export", str(result), *into, "--outline", "--stage", "1"]) == DONE
    assert [path.name for path in (tmp_path / "x").iterdir()] == ["outline-1-draw.dxf"]
    assert main(["export", str(result), *into, "--outline", "--stage", "draw"]) == BAD_INPUT
    assert "already outline-1-draw.dxf" in capsys.readouterr().err
    assert main(["export", str(result), *into, "--outline", "--stage", "draw", "--replace"]) == DONE
    assert main(["export", str(result), *into, "--vtu"]) == DONE
    assert (tmp_path / "x" / "mesh-2-dome.vtu").is_file()


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--vtu", "--stage", "neck"], "1 draw, 2 dome"),
        (["--vtu", "--stage", "3"], "1 draw, 2 dome"),
        (["--markdown", "--stage", "1"], "--stage is for --vtu"),
    ],
)
def test_wrong_stages_are_told(result, tmp_path, capsys, options, word):
    assert main(["export", str(result), "--into", str(tmp_path / "x"), *options]) == BAD_INPUT
    told = capsys.readouterr().err
    assert word in told and "try: " in told and not (tmp_path / "x").exists()


def test_without_a_series_the_tables_can_still_be_had(result, tmp_path, capsys):
    folder = shutil.copytree(result, tmp_path / "cup")
    (folder / "sheet.vtkhdf").unlink()
    assert main(["export", str(folder), "--into", str(tmp_path / "x")]) == BAD_INPUT
    assert "sheet.vtkhdf is missing" in capsys.readouterr().err
    assert main(["export", str(folder), "--into", str(tmp_path / "x"), "--markdown"]) == DONE


def test_a_torn_run_can_be_exported(torn_run, tmp_path):
    assert main(["export", str(torn_run[1]), "--into", str(tmp_path / "x")]) == DONE
    assert "TORN" in (tmp_path / "x" / "summary.md").read_text()
    assert main(["export", str(tmp_path / "none")]) == BAD_INPUT
