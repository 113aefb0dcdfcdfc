"""The page of a run: structure, escaping, what is missing, which figures it takes."""

from __future__ import annotations

import base64
import json
import re

import numpy as np
import pytest

from formsim.errors import StoreError
from formsim.report.html import report_html
from formsim.report.page_pictures import chosen, figures
from formsim.report.page_strip import strip
from formsim.report.page_top import headlines, key_number
from formsim.report.style import DARK
from formsim.results import store
from tests.pages import check_page, read_page
from tests.unit.shaped import blank, draw_record, line_of, shaped
from tests.unit.test_store import DRAW
from tests.unit.test_table import SUMMARY

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><path id="a" d="M0 0"/></svg>'
NASTY = "<script>alert(1)</script> \"a\" 'b' & </title> \U0001f600 שלום {{ 7*7 }} http://x.example"
RISK = {
    "stage": "draw",
    "zone": "nose",
    "risk": "thinning",
    "value": 12.0,
    "limit": 10.0,
    "unit": "%",
    "margin": -0.2,
    "verdict": "over",
    "source": "limits of the case",
    "own": False,
    "reason": "nose: the sheet has lost 12 % of its thickness",
}


def stamp(title="Demo cup"):
    return store.Stamp(title, "0123456789ab", "0.1.0")


def made(tmp_path, summary=None, *, title="Demo cup", text='title = "Demo"\n'):
    """A result folder of one stage with its tables and small figures; the page of it."""
    folder = store.create_folder(tmp_path / "cup", text, stamp(title))
    base = {key: SUMMARY[key] for key in ("checks", "passed")}
    base |= {"stages": SUMMARY["stages"][:1], "finished": True, "limits": {}}
    store.write_summary(folder, {**base, **(summary or {})})
    disc = blank(columns=24)
    states = [shaped(disc, lambda r, z, k=k: (r, z + 0.01 * k * r**2)) for k in range(4)]
    store.write_thickness(folder, line_of(disc, draw_record(disc, states)), [DRAW])
    for name in ("thickness", "forces-1-draw", "section-1-draw", "springback-1-draw"):
        folder.figure(name).with_suffix(".svg").write_text(SVG)
        folder.figure(name).with_suffix(".png").write_bytes(b"x" * 200)
    folder.figure("part").with_suffix(".png").write_bytes(b"x")
    return folder.path


def page_of(folder):
    return check_page(store.write_report(folder, report_html(folder)))


def test_the_page_has_everything_in_its_order(tmp_path):
    read = page_of(made(tmp_path))
    titles = read.all_of("h2")
    assert titles[0] == "Failed checks"
    assert titles[-5:] == ["Stages", "Figures", "Tables", "Inputs", "Origin and cautions"]
    assert read.all_of("h1") == ["Demo cup"]
    assert "NOT PASSED: 1 of 2 checks failed" in read.all_of("strong")
    assert read.tags.count("img") == 5 and read.tags.count("svg") == 1
    assert read.all_of("summary") == ["1 draw"]
    told = read.all_of("main")[0]
    for text in ("0.2723 mm", "18.28 kN", "28.68", "licensed practice", "axisymmetric"):
        assert text in told, text


def test_made_again_it_is_the_same(tmp_path):
    folder = made(tmp_path)
    first = report_html(folder)
    store.write_report(folder, first)
    assert report_html(folder) == first
    assert str(tmp_path) not in first


@pytest.mark.parametrize("place", ["title", "material", "reason", "stage"])
def test_texts_do_no_harm(tmp_path, place):
    text = 'title = "Demo"\n'
    summary = {"risk": [RISK | ({"reason": NASTY} if place == "reason" else {})]}
    if place == "material":
        text = f"[sheet.material]\nname = '''{NASTY}'''\n"
    if place == "stage":
        summary["stages"] = [{**SUMMARY["stages"][0], "name": NASTY, "min_thickness_zone": NASTY}]
    title = NASTY if place == "title" else "Demo cup"
    folder = made(tmp_path, summary, title=title, text=text)
    read = page_of(folder)
    assert "script" not in read.tags and "49" not in read.all_of("h1")[0]
    shown = {"title": "h1", "material": "pre", "reason": "td", "stage": "td"}[place]
    assert any(NASTY in told for told in read.all_of(shown))


def test_texts_of_both_directions_keep_to_themselves(tmp_path):
    page = report_html(made(tmp_path, title="שלום"))
    assert '<h1 dir="auto">שלום</h1>' in page
    assert page.count("<td") == len(re.findall("<td[^>]*><bdi>", page))


def test_a_torn_run_says_so_at_the_top(tmp_path):
    summary = {
        "finished": False,
        "ended": "torn",
        "failure": 'stage "draw": the sheet has torn in the nose',
        "hint": "smaller blank",
        "checks": [],
    }
    read = page_of(made(tmp_path, summary))
    assert read.all_of("strong") == ['TORN: stage "draw": the sheet has torn in the nose']
    assert "last accepted state" in read.all_of("header")[0]
    assert "Try: smaller blank" in read.all_of("header")[0]


def test_failed_trust_checks_have_cause_consequence_and_remedy(tmp_path):
    check = {**SUMMARY["checks"][0], "name": "draw: out-of-balance force", "passed": False}
    told = page_of(made(tmp_path, {"checks": [check]})).all_of("dl")
    assert any("Cause" in t and "Consequence" in t and "Remedy" in t for t in told)


def test_places_over_a_limit_and_handbook_rules_are_in_plain_sight(tmp_path):
    finding = {
        "rule": "draw: clearance",
        "value": 1.4,
        "limit": "1.07 to 1.15",
        "source": "s",
        "verdict": "watch",
        "consequence": "it may pucker",
    }
    summary = {"risk": [RISK], "findings": [finding], "warnings": ["no picture: none"]}
    read = page_of(made(tmp_path, summary))
    assert {"Beyond a limit", "Handbook rules that warn", "Warnings of the run"} <= set(
        read.all_of("h2")
    )
    assert "20 %" in read.all_of("dl")[0] and "beyond the limit" in read.all_of("dl")[0]


def test_a_result_without_figures_tables_and_case_still_has_its_page(tmp_path):
    folder = made(tmp_path)
    for name in ("thickness.csv", "case.toml"):
        (folder / name).unlink()
    for file in (folder / "figures").iterdir():
        file.unlink()
    read = page_of(folder)
    told = next(t for t in read.all_of("section") if t.startswith("Missing from this page"))
    gaps = (
        "no figures",
        "thickness.csv is missing",
        "case.toml cannot be read",
        "in motion is missing",
    )
    for word in gaps:
        assert word in told, word
    assert "img" not in read.tags and "path" not in read.tags


def test_a_case_that_cannot_be_read_again_is_still_shown(tmp_path):
    read = page_of(made(tmp_path))
    assert 'title = "Demo"' in read.all_of("pre")[0]
    assert any("cannot be read again" in text for text in read.all_of("li"))


def test_a_run_that_was_killed_before_its_first_stage(tmp_path):
    folder = store.create_folder(tmp_path / "cup", "", stamp())
    gone = {"finished": False, "ended": "running", "failure": "ended from outside", "stages": []}
    store.write_summary(folder, gone)
    read = page_of(folder.path)
    assert read.all_of("strong") == ["NOT FINISHED: ended from outside"]
    assert "No stage was made." in read.all_of("p")


@pytest.mark.parametrize(
    "spoilt", [{"stages": [{"name": "draw"}]}, {"stages": [7]}, {"risk": 3}, {"stages": 1}]
)
def test_a_damaged_summary_is_named(tmp_path, spoilt):
    folder = made(tmp_path)
    summary = json.loads((folder / "summary.json").read_text())
    (folder / "summary.json").write_text(json.dumps({**summary, **spoilt}))
    with pytest.raises(StoreError, match="damaged"):
        report_html(folder)


def test_no_folder_and_no_result(tmp_path):
    with pytest.raises(StoreError, match="there is no folder"):
        report_html(tmp_path / "none")
    with pytest.raises(StoreError, match="there is no result"):
        report_html(tmp_path)


def test_figures_stay_within_their_room(tmp_path):
    files = {}
    for name, drawn, pixels in (("part", 0, 300), ("forces", 600, 200), ("section-1-a", 900, 100)):
        files[name] = {}
        for ending, size in ((".svg", drawn), (".png", pixels)):
            if size:
                files[name][ending] = tmp_path / (name + ending)
                files[name][ending].write_bytes(b"x" * size)

    def endings(*room):
        return {name: file.suffix for name, file in chosen(files, *room).items()}

    assert endings(9000, 9000) == {"part": ".png", "forces": ".svg", "section-1-a": ".svg"}
    assert endings(1500, 9000) == {"part": ".png", "forces": ".svg", "section-1-a": ".png"}
    assert endings(0, 9000) == {"part": ".png", "forces": ".png", "section-1-a": ".png"}
    files |= {f"{kind}-1-a": files["section-1-a"] for kind in ("springback", "strength")}
    assert list(chosen(files, 0, 1000)) == ["part", "strength-1-a", "section-1-a", "forces"]
    del files["springback-1-a"], files["strength-1-a"]
    files["empty"] = {".png": tmp_path / "empty.png"}
    files["empty"][".png"].touch()
    assert endings(0, 700) == {"part": ".png", "section-1-a": ".png"}


def test_drawn_figures_follow_the_colours_of_the_reader(tmp_path):
    """Ink, paper and lines have a dark twin in the figure itself; what is pixels stays."""
    folder = made(tmp_path)
    found = figures(store.load_summary(folder), store.figures(folder))
    picture = found.stages[0].pictures[0]
    text = base64.b64decode(picture.source.partition(",")[2]).decode()
    assert picture.drawn and not found.part.drawn
    assert text.startswith(SVG[:60]) and text.endswith("</style></svg>")
    for light, dark in DARK.items():
        assert f'[style*="fill: {light}"]{{fill:{dark}!important}}' in text
    page = report_html(folder)
    assert page.count('class="paper drawn"') == 4


def test_small_sections_share_one_scale_and_have_the_thickness_of_the_sheet():
    """A flat sheet 2 mm thick out to R 10 beside a tube of R 5: widths 20 and 11 mm by hand."""
    flat = {"radius_mm": np.linspace(0, 10, 11), "z_mm": np.zeros(11)}
    tube = {"radius_mm": np.full(11, 5.0), "z_mm": np.linspace(0, 30, 11)}
    columns = {key: [*flat[key], *tube[key]] for key in flat}
    columns |= {"stage": ["a"] * 11 + ["b"] * 11, "thickness_mm": [2.0] * 11 + [1.0] * 11}
    stages = [{**SUMMARY["stages"][0], "name": name} for name in "ab"]
    found = strip({"stages": stages}, store.Table({}, columns))
    assert found.widest == 20.0
    spans = []
    for stage in found.stages:
        pairs = re.findall(r"(-?[\d.]+) (-?[\d.]+)", stage.path)
        points = np.array([[float(r), float(z)] for r, z in pairs])
        spans.append(np.ptp(points, axis=0))
    assert np.allclose(spans, [[20.0, 2.0], [11.0, 30.0]])
    left, top, width, height = map(float, found.box.split())
    assert left < -10.0 and width > 20.0 and top < -30.0 and height > 30.0


def test_headlines_choose_what_the_case_has():
    part = {**SUMMARY["stages"][0]}
    held = {"limit": 0.82, "highest": 0.82, "permanent_centre_growth": None}
    burst = {**part, "name": "pressurise", "height": 99.0, "pressurise": held}
    safe = RISK | {"verdict": "safe", "margin": 0.3}
    index = RISK | {"risk": "wrinkle index", "margin": -7.0, "verdict": "watch"}

    def last(*risks):
        return list(headlines({"stages": [part, burst], "risk": risks}))[-1]

    assert last(safe, index)[1:3] == ("0.820", "MPa")
    assert last(RISK, index)[1:3] == ("20", "%")
    shown = list(headlines({"stages": [part, burst]}))
    assert len(shown) == 5 and shown[2].value == "28.68"
    assert key_number(burst) == ("gives way at", "0.820 MPa")
    spoilt = burst | {"gave_way": "proof", "pressurise": burst["pressurise"] | {"limit": None}}
    assert key_number(spoilt)[0] == "had given way, reached"
    assert list(headlines({"stages": []})) == []


def test_the_reader_of_these_tests_sees_what_is_not_closed():
    for bad in ("<p><b></p></b>", "<p>", "</p>"):
        with pytest.raises(AssertionError):
            read_page(f"<!DOCTYPE html>\n{bad}")


def test_a_part_that_tore_has_nothing_left_to_a_limit():
    stage = {
        "name": "draw",
        "complete": False,
        "min_thickness_zone": "nose",
        "min_thickness_radius": 12.0,
        "min_thickness": 0.2,
        "max_thinning_percent": 30.0,
        "height": 8.0,
    }
    row = {"risk": "limit curve", "zone": "wall", "stage": "draw", "margin": 0.6, "verdict": "safe"}
    whole = {"finished": True, "stages": [stage], "risk": [row]}
    assert "left to the nearest limit" in [one.label for one in headlines(whole)]
    assert "left to the nearest limit" not in [
        one.label for one in headlines({**whole, "finished": False})
    ]
