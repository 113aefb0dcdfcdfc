"""Results side by side as a user calls them: small real runs, wrong input, a browser."""

import csv
import json
import shutil
from pathlib import Path

import pytest

from formsim.cli import main
from tests.browser import browser, needs_browser
from tests.pages import check_page

CUP = Path(__file__).parents[2] / "cases" / "canister_cup.toml"
COARSE = "\n[mesh]\ncolumns = 90\n\n[output]\nframes = 4\nfigures = false\npicture = false\n"
DONE, BAD_INPUT = 0, 1
NASTY = "<script>alert('x')</script> \U0001f600 שלום \"q\""


def run(root, name, text):
    case = root / f"{name}.toml"
    case.write_text(text, encoding="utf-8")
    main(["run", str(case), "--into", str(root / name), "--quiet"])
    return root / name


@pytest.fixture(scope="module")
def results(tmp_path_factory, torn_run):
    """Two nose radii, the same cup without its dome, and one that tears."""
    root = tmp_path_factory.mktemp("compared")
    cup = CUP.read_text(encoding="utf-8")
    short = cup[: cup.index('[[stage]]\nkind = "dome"')]
    run(root, "nose-3", cup + COARSE)
    run(root, "nose-5", cup.replace("nose_radius = 3.0", "nose_radius = 5.0") + COARSE)
    run(root, "short", short + COARSE)
    (root / "torn").symlink_to(torn_run[1])
    return root


@pytest.fixture
def compare(results, tmp_path, capsys):
    """Call the command on results by name; code, printed text and errors."""

    def call(*names, into=tmp_path / "out", more=()):
        capsys.readouterr()
        paths = [str(results / name) if isinstance(name, str) else str(name) for name in names]
        code = main(["compare", *paths, "--into", str(into), *more])
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


def test_two_nose_radii_side_by_side(undrawn, compare, results, tmp_path):
    code, out, _ = compare("nose-3", "nose-5")
    assert code == DONE and "All 2 results passed all their checks." in out
    lines = out.splitlines()
    differing = [line.split() for line in lines if line.startswith(("stage[", "sheet.", "mesh."))]
    keys = [f"stage[{k}].punch.nose_radius" for k in (0, 1)]
    assert differing == [[key, "mm", "3", "5", "given"] for key in keys]
    assert "better:" in out and "at the price of:" in out and "--error-bars" in out
    assert max(len(line) for line in lines if "written: " not in line) <= 100
    read = check_page(tmp_path / "out" / "compare.html")
    assert read.all_of("h3")[-2:] == ["draw", "dome"]
    check_numbers(results, tmp_path / "out" / "compare.csv")


def check_numbers(results, file):
    """The file has the numbers of the summaries."""
    first, second = (
        json.loads((results / name / "summary.json").read_text()) for name in ("nose-3", "nose-5")
    )
    text = file.read_text(encoding="utf-8").partition("\n")[2]
    rows = list(csv.DictReader(text.splitlines()))
    found = {(r["group"], r["stage"], r["quantity"], r["result"]): r for r in rows}
    thin = found["headline", "dome", "smallest thickness", "B"]
    values = [summary["stages"][1]["min_thickness"] for summary in (first, second)]
    assert float(thin["value"]) == pytest.approx(values[1], rel=1e-8)
    assert float(thin["difference"]) == pytest.approx(values[1] - values[0], rel=1e-4)
    force = found["stage", "draw", "peak force, punch", "A"]
    punch = first["stages"][0]["peak_force"]["punch"]
    assert float(force["value"]) == pytest.approx(1e-3 * punch, rel=1e-8)
    assert found["input", "", "stage[0].punch.nose_radius", "B"]["value"] == "5"


def test_a_longer_line_against_a_shorter_one(undrawn, compare, tmp_path):
    code, out, _ = compare("nose-3", "short")
    assert code == DONE
    assert 'note: B has no finished stage "dome".' in out
    assert 'compared after "draw", their last common stage' in out
    assert "dome depth" not in out and "mass of the sheet" not in out
    assert [f.name for f in sorted((tmp_path / "out" / "figures").glob("thickness*.svg"))] == [
        "thickness.svg"
    ]


def test_changes_are_taken_against_any_result(undrawn, compare, results, tmp_path):
    against = ["--against", str(results / "short")]
    code, out, _ = compare("nose-3", more=against)
    assert code == DONE and "Changes are those against A short." in out
    _, out, _ = compare("nose-3", "short", into=tmp_path / "2", more=against)
    assert "Changes are those against B short." in out
    code, out, err = compare("nose-3", "short", more=["--against", str(results / "nowhere")])
    assert code == BAD_INPUT and out == "" and "no folder" in err


def test_a_torn_run_is_shown_and_never_best(undrawn, compare):
    code, out, _ = compare("nose-3", "torn", "short")
    assert code == DONE
    assert "1 of 3 results did not pass: B." in out and "TORN" in out
    assert "no such number" in out and "it has none of these numbers" in out


def test_of_two_one_that_tore_is_shown_as_it_ended(compare, tmp_path):
    code, out, _ = compare("nose-3", "torn")
    assert code == DONE and "as it ended, and its numbers are left out" in " ".join(out.split())
    page = (tmp_path / "out" / "compare.html").read_text()
    assert "draw</bdi> (B as it ended)" in page
    figure = tmp_path / "out" / "figures" / "forces-1-draw.svg"
    assert "as it ended" in figure.read_text()


def test_a_file_of_a_result_stands_for_its_folder(undrawn, compare):
    code, out, _ = compare("nose-3/case.toml", "short/summary.json")
    assert code == DONE and "A       nose-3" in out
    code, out, err = compare("nose-3/none.html", "short")
    assert code == BAD_INPUT and out == "" and "there is no folder" in err


def test_one_that_came_to_no_stage_is_no_run_to_wait_for(compare, results, tmp_path):
    for name, ended, hint in (("a", "refused", "mend its case"), ("b", "running", "wait until")):
        empty = shutil.copytree(results / "short", tmp_path / name)
        told = json.loads((empty / "summary.json").read_text())
        told |= {"stages": [], "checks": [], "finished": False, "ended": ended, "failure": ended}
        (empty / "summary.json").write_text(json.dumps(told))
        code, _, err = compare("nose-3", str(empty))
        assert code == BAD_INPUT and "has no stage" in err and hint in err


def test_all_that_is_wrong_is_told_at_once(compare, results, tmp_path):
    damaged = shutil.copytree(results / "short", tmp_path / "damaged")
    (damaged / "summary.json").write_text('{"format": 1, "stages": [3]}')
    old = shutil.copytree(results / "short", tmp_path / "old")
    (old / "summary.json").write_text('{"format": 0}')
    code, _, err = compare("nose-3", "nose-3", "nowhere", damaged, old)
    assert code == BAD_INPUT
    for text in ("given twice", "no folder", "damaged", "format 0", "try: "):
        assert text in err, text
    # The folder for the comparison is looked at with the others, not after all was read.
    code, _, err = compare("nose-3", "nowhere", into=results / "short")
    assert code == BAD_INPUT and "no folder" in err and "holds the result of a run" in err


@pytest.mark.parametrize("count", [1, 21])
def test_too_few_and_too_many(compare, count):
    code, _, err = compare(*[f"r{k}" for k in range(count)])
    assert code == BAD_INPUT and "2 to 20 results" in err


def test_other_folders_are_not_touched(compare, results, tmp_path):
    code, _, err = compare("nose-3", "nose-5", into=results / "nose-3")
    assert code == BAD_INPUT and "holds the result of a run" in err
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("mine")
    code, _, err = compare("nose-3", "nose-5", into=tmp_path / "mine", more=["--replace"])
    assert code == BAD_INPUT and "holds no comparison" in err
    code, _, err = compare("nose-3", "nose-5", into=tmp_path / "mine" / "notes.txt")
    assert code == BAD_INPUT and "is a file" in err


def test_an_earlier_comparison_is_only_replaced_when_asked(undrawn, compare, tmp_path):
    compare("nose-3", "short")
    for name in ("mine.png", "forces-2-dome.svg"):
        (tmp_path / "out" / "figures" / name).write_bytes(b"mine or of an earlier one")
    code, _, err = compare("nose-3", "short")
    assert code == BAD_INPUT and "already compare.html" in err and "--replace" in err
    assert compare("nose-3", "short", more=["--replace"])[0] == DONE
    names = {file.name for file in (tmp_path / "out" / "figures").iterdir()}
    assert "mine.png" in names and "forces-2-dome.svg" not in names


def test_a_comparison_that_was_stopped_can_be_made_again(undrawn, compare, tmp_path, monkeypatch):
    def stopped(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("formsim.report.style.save_figure", stopped)
        code, out, err = compare("nose-3", "short")
    assert code == 130 and "stopped by Ctrl-C" in err and "largest thinning" in out
    assert compare("nose-3", "short", more=["--replace"])[0] == DONE


def test_a_result_without_case_and_tables_is_compared_by_its_summary(
    undrawn, compare, results, tmp_path
):
    bare = shutil.copytree(results / "short", tmp_path / "bare")
    for name in ("case.toml", "thickness.csv", "forces.csv", "strain_paths.csv"):
        (bare / name).unlink()
    code, out, _ = compare("nose-3", bare)
    assert code == DONE and "inputs of B are unknown" in out and "no thickness table" in out
    assert "largest thinning" in out


@pytest.mark.slow
@needs_browser
def test_a_browser_shows_and_prints_it_without_a_word(compare, results, tmp_path):
    nasty = shutil.copytree(results / "nose-5", tmp_path / 'a"b$x_1$ <i> \U0001f600')
    summary = json.loads((nasty / "summary.json").read_text(encoding="utf-8"))
    (nasty / "summary.json").write_text(json.dumps(summary | {"case": NASTY}), encoding="utf-8")
    assert compare("nose-3", nasty, "short")[0] == DONE
    page = tmp_path / "out" / "compare.html"
    with browser() as shown:
        for width, dark in ((1200, False), (1200, True), (390, False)):
            shown.look(width=width, dark=dark)
            shown.open(page)
            wide = shown.run("document.documentElement.scrollWidth - window.innerWidth")
            assert wide <= 0, f"{width} px wide: the page is {wide} px wider"
            colour = shown.run("getComputedStyle(document.body).backgroundColor")
            assert (colour == "rgb(255, 255, 255)") is not dark
        assert NASTY in shown.run("document.body.innerText")
        shown.key("Tab")
        assert shown.run("document.activeElement.className") == "skip"
        shown.paper(tmp_path / "page.pdf")
        assert (tmp_path / "page.pdf").stat().st_size > 20_000
        assert shown.errors == [] and shown.requests == []
