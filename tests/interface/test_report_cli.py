"""The page a run ends with, and the command that makes it again."""

import builtins
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from formsim.case.load import load_case
from formsim.cli import main
from formsim.pipeline.run import run_case
from formsim.results.store import load_summary
from tests.interface.small import short_draw, small_cup
from tests.pages import check_page

CASES = Path(__file__).parents[2] / "cases"
DONE, BAD_INPUT = 0, 1


def run(tmp_path, text, name="result"):
    case = tmp_path / "cup.toml"
    case.write_text(text, encoding="utf-8")
    folder = tmp_path / name
    return main(["run", str(case), "--into", str(folder), "--quiet"]), folder


@pytest.fixture(scope="module")
def steel(tmp_path_factory):
    """Result of a shipped case with all its figures."""
    folder = tmp_path_factory.mktemp("page") / "steel"
    file = CASES / "small_cup_steel.toml"
    run_case(load_case(file), folder, text=file.read_text(encoding="utf-8"))
    return folder


@pytest.fixture(scope="module")
def full(told_run):
    return told_run[0]


@pytest.mark.slow
def test_a_shipped_case_ends_with_its_page(steel):
    read = check_page(steel / "report.html")
    assert read.all_of("strong") == ["Finished: all 15 checks ok; 1 to watch, see below"]
    assert read.all_of("h1") == ["Small industrial cup, steel"]
    told = read.all_of("main")[0]
    for text in ("22.421", "Siebel", "stage[0].die.land", "blank_diameter", "sheet.vtkhdf"):
        assert text in told, text
    assert "Missing from this page" not in told
    assert (steel / "report.html").stat().st_size < 2e6


def test_the_page_is_made_again(full, tmp_path, capsys):
    folder = shutil.copytree(full, tmp_path / "moved")
    before = (folder / "report.html").read_bytes()
    (folder / "report.html").unlink()
    assert main(["report", str(folder)]) == DONE
    assert "report.html written" in capsys.readouterr().out
    assert (folder / "report.html").read_bytes() == before


def test_a_page_that_would_be_the_same_is_left_alone(full, tmp_path, capsys):
    folder = shutil.copytree(full, tmp_path / "kept")
    page = folder / "report.html"
    before = page.stat().st_mtime_ns
    assert main(["report", str(folder)]) == DONE
    assert "was there and stays as it is" in capsys.readouterr().out
    assert page.stat().st_mtime_ns == before
    page.write_text("an older page", encoding="utf-8")
    assert main(["report", str(folder)]) == DONE
    told = capsys.readouterr().out
    assert "written over the one that was there" in told and "made by version" not in told
    check_page(page)


def test_a_result_of_another_version_says_whose_numbers_these_are(full, tmp_path, capsys):
    folder = shutil.copytree(full, tmp_path / "older")
    changed(folder, version="0.0.7")
    assert main(["report", str(folder)]) == DONE
    told = capsys.readouterr().out
    assert "the result was made by version 0.0.7: its numbers and figures are left" in told
    facts = check_page(folder / "report.html").all_of("dl")
    assert any("0.0.7; this page by version" in text for text in facts)


def test_a_start_that_did_not_pass_stands_on_top(full, tmp_path):
    folder = shutil.copytree(full, tmp_path / "goes-on")
    failed = ["draw: largest thinning"]
    changed(folder, start={"result": "../a", "digest": "d", "after": "draw", "failed": failed})
    assert main(["report", str(folder)]) == DONE
    read = check_page(folder / "report.html")
    assert read.all_of("h2")[0] == "It starts from a result that did not pass"
    assert "draw: largest thinning" in read.all_of("header")[0]
    assert 'class="verdict bad"' in (folder / "report.html").read_text(encoding="utf-8")


def changed(folder, **keys):
    """Put other values into the summary of a result."""
    file = folder / "summary.json"
    summary = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps(summary | keys), encoding="utf-8")


def test_the_page_goes_elsewhere(full, tmp_path, capsys):
    assert main(["report", str(full), "--into", str(tmp_path / "pages")]) == DONE
    assert (tmp_path / "pages" / "report.html").is_file()
    (tmp_path / "file").write_text("")
    assert main(["report", str(full), "--into", str(tmp_path / "file")]) == BAD_INPUT
    assert "cannot be written" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("spoilt", "word"),
    [(None, "no folder"), ("", "damaged"), ('{"format": 9}', "format 9"), ("gone", "no result")],
)
def test_what_is_no_result_is_told(tmp_path, capsys, spoilt, word):
    folder = tmp_path / "result"
    if spoilt is not None:
        folder.mkdir()
    if spoilt not in (None, "gone"):
        (folder / "summary.json").write_text(spoilt)
    assert main(["report", str(folder)]) == BAD_INPUT
    told = capsys.readouterr().err
    assert word in told and "try: " in told
    assert not (folder / "report.html").exists()


def test_a_torn_run_has_its_page(torn_run, capsys):
    folder = torn_run[1]
    read = check_page(folder / "report.html")
    assert read.all_of("strong")[0].startswith("TORN: ")
    assert "path" in read.tags and "img" not in read.tags
    assert main(["report", str(folder)]) == DONE
    assert "report.html" in capsys.readouterr().out


def test_a_title_that_would_do_harm(tmp_path):
    nasty = "<script>alert('x')</script> \U0001f600 שלום"
    title = next(line for line in small_cup().splitlines() if line.startswith("title"))
    code, folder = run(tmp_path, short_draw((title, f'title = "{nasty}"')))
    assert code == DONE
    assert check_page(folder / "report.html").all_of("h1") == [nasty]


def test_a_page_that_fails_loses_nothing(tmp_path, monkeypatch, capsys):
    real = builtins.__import__

    def missing(name, *rest, **more):
        if name.startswith("jinja2"):
            message = "No module named 'jinja2'"
            raise ModuleNotFoundError(message)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", missing)
    code, folder = run(tmp_path, short_draw())
    assert code == DONE
    assert "warning: no report.html: ModuleNotFoundError" in capsys.readouterr().out
    assert load_summary(folder)["passed"] and not (folder / "report.html").exists()


def test_the_page_can_be_left_out(tmp_path, capsys):
    off = "\n[output]\nframes = 4\nfigures = false\npicture = false\nreport = false\n"
    code, folder = run(tmp_path, short_draw(output=off))
    assert code == DONE and not (folder / "report.html").exists()
    assert "report.html" not in capsys.readouterr().out
    assert main(["report", str(folder)]) == DONE and (folder / "report.html").is_file()


def test_help_loads_no_template_library():
    code = "import sys, formsim.cli as c; c.main(['--help']); print('jinja2' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.endswith("False\n")
