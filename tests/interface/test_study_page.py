"""The page of a study by the commands, of the shipped study, and in a real browser."""

import builtins
import re
from pathlib import Path

import pytest

from formsim.cli import main
from formsim.study.page.page import write_page
from tests.browser import browser, needs_browser
from tests.pages import check_page
from tests.unit.made_study import made_study

STUDY = Path(__file__).parents[2] / "cases" / "studies" / "nose_radius.toml"
DONE, BAD_INPUT = 0, 1
WIDE = "document.documentElement.scrollWidth <= innerWidth"


def law(number, material, thickness, radius):
    stiff = 0.1 * (material == "aa6016-t4")
    return {
        "draw.min_thickness": 0.95 * thickness - 0.01 * stiff,
        "draw.height": 30.0 + radius + stiff,
        "margin": 20.0 - radius + stiff,
        "mass": 30.0 * thickness,
    }


@pytest.fixture
def study(case, tmp_path):
    vary = (
        'sheet.material = ["can-body-demo", "aa6016-t4"]',
        "sheet.thickness = [0.27, 0.28, 0.29]",
        "stage.draw.die.radius = [2.0, 2.5, 3.0]",
    )
    measures = [{"measure": name, "stage": "draw"} for name in ("min_thickness", "height")]
    endings = {5: ("torn", 'stage "draw": the sheet has torn')}
    return made_study(case, tmp_path / "study", law, *vary, measure=measures, endings=endings)


@pytest.mark.slow
def test_report_makes_the_page_again(study, tmp_path, capsys):
    assert main(["report", str(study.path)]) == DONE
    assert "study.html written" in capsys.readouterr().out
    first = (study.path / "study.html").read_bytes()
    assert main(["report", str(study.path), "--into", str(tmp_path / "pages")]) == DONE
    assert (tmp_path / "pages" / "study.html").read_bytes() == first


@pytest.mark.parametrize(
    ("spoil", "word"),
    [("job.json", "holds no study, or its job.json is damaged"), ("study.toml", "is damaged")],
)
def test_a_damaged_study_is_told(study, capsys, spoil, word):
    (study.path / spoil).write_text("{", encoding="utf-8")
    assert main(["report", str(study.path)]) == BAD_INPUT
    told = capsys.readouterr().err
    assert word in told and "try: " in told


@pytest.mark.slow
def test_the_shipped_study_ends_with_its_page(tmp_path, capsys):
    assert main(["sweep", str(STUDY), "--into", str(tmp_path / "s"), "--quiet"]) == DONE
    assert "study.html, table.csv" in capsys.readouterr().out
    read = check_page(tmp_path / "s" / "study.html")
    assert read.all_of("h1") == ["Nose radius of the demo cup, aluminium and steel"]
    finding = read.all_of("strong")[0]
    assert "of 18 judged variants keep all limits" in finding
    # Both differ by 0.05 %, less than the coarse mesh of the study can tell.
    assert re.search(r"material steel-demo, nose_radius (4\.5|5) mm", finding)
    told = read.all_of("main")[0]
    for text in ("invented demo", "mass [g], the less the better", "mesh.columns: 100 in every"):
        assert text in told, text
    assert read.tags.count("img") == 2
    assert (tmp_path / "s" / "study.html").stat().st_size < 1e6


@pytest.mark.slow
def test_a_page_that_fails_loses_nothing(case, tmp_path, monkeypatch, capsys):
    real = builtins.__import__

    def missing(name, *rest, **more):
        if name.startswith("jinja2"):
            message = "No module named 'jinja2'"
            raise ModuleNotFoundError(message)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", missing)
    vary = ["--vary", "sheet.thickness = [0.28]"]
    assert main(["sweep", str(case), *vary, "--into", str(tmp_path / "s"), "--quiet"]) == DONE
    told = capsys.readouterr()
    assert "warning: no study.html: ModuleNotFoundError" in told.err
    assert "1 done" in told.out and not (tmp_path / "s" / "study.html").exists()


@pytest.mark.slow
@needs_browser
def test_the_page_in_a_browser(study, tmp_path):
    """Nothing is asked of the network, nothing goes wrong, wide and narrow, light and dark."""
    page = write_page(study.path).file
    with browser() as one:
        grounds = []
        for look in ({}, {"dark": True}, {"width": 390, "height": 800}):
            one.look(**look)
            one.open(page)
            grounds.append(one.run("getComputedStyle(document.body).backgroundColor"))
            assert one.run(WIDE), look
            loaded = "[...document.images].every(i => i.complete && i.naturalWidth > 0)"
            assert one.run(loaded) and one.run("document.images.length") == 4
        assert grounds[0] == grounds[2] != grounds[1]
        one.key("Tab")
        assert one.run("document.activeElement.className") == "skip"
        one.look(scripts=False)
        one.open(page)
        one.paper(tmp_path / "study.pdf")
        assert one.errors == [] and one.requests == []
    paper = (tmp_path / "study.pdf").read_bytes()
    assert paper.startswith(b"%PDF") and 2 <= paper.count(b"/Type /Page\n") <= 14
