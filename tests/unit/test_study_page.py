"""The page of a study, from tables made by hand: escaped, whole, nothing hidden."""

import re
from base64 import b64decode
from xml.etree.ElementTree import fromstring

import numpy as np
import pytest

from formsim.errors import StoreError
from formsim.study.folder import RULES, TABLE
from formsim.study.handbook import read_handbook
from formsim.study.kept import read_study, table_from
from formsim.study.page import numbers
from formsim.study.page.front import unbeaten
from formsim.study.page.numbers import MOST_GROUPS, Number, follows, points_of
from formsim.study.page.outcome import ranges
from formsim.study.page.page import study_page, write_page
from formsim.study.table import csv_text
from tests.interface.small import small_cup
from tests.pages import check_page
from tests.unit.made_study import made_study
from tests.unit.test_page import NASTY

THICKNESS = "sheet.thickness = [0.26, 0.27, 0.28, 0.29]"
RADIUS = "stage.draw.die.radius = [2.0, 2.5, 3.0]"
FORCE = "stage.draw.holder.force = [7000, 8000]"
SCATTER = 'sheet.thickness = { kind = "uniform", low = 0.27, high = 0.29 }'
MEASURES = [
    {"measure": "min_thickness", "stage": "draw"},
    {"measure": "max_thinning_percent", "stage": "draw", "high": 3.9},
    {"measure": "height", "stage": "draw"},
    {"measure": "punch_force", "stage": "draw"},
]


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "cup.toml"
    path.write_text(small_cup(), encoding="utf-8")
    return path


def law(_number, thickness, radius=2.5, *_others):
    """Thicker sheet and larger radii thin less; thicker sheet is heavier and has more margin."""
    return {
        "draw.min_thickness": 0.95 * thickness + 0.002 * (radius - 2.5),
        "draw.max_thinning_percent": 3.0 - 2.0 * (radius - 2.5),
        "draw.height": 30.0 + radius,
        "draw.punch_force": 4e4 * thickness - 100.0 * radius,
        "margin": 20.0 + 1e3 * (thickness - 0.28) + 5.0 * (radius - 2.5),
        "mass": 30.0 * thickness,
    }


def page_of(case, into, *vary, the_law=law, **more):
    """The page as it is read and what it shows, drawn once for both."""
    folder = made_study(case, into, the_law, *vary, **{"measure": MEASURES, **more})
    shown = []

    def seen(kept):
        shown.append(study_page(kept))
        return shown[0]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("formsim.study.page.page.study_page", seen)
        read = check_page(write_page(folder.path).file)
    return read, shown[0]


@pytest.fixture(scope="module")
def crossed(tmp_path_factory):
    """Page of four thicknesses by three radii."""
    folder = tmp_path_factory.mktemp("crossed")
    path = folder / "cup.toml"
    path.write_text(small_cup(), encoding="utf-8")
    return page_of(path, folder / "s", THICKNESS, RADIUS)


def pictures(page):
    return [*page.curves, *page.spread, *([page.front.picture] if page.front else [])]


def drawing(picture):
    return b64decode(picture.source.partition(",")[2]).decode()


def untrue(number):
    return [{"name": "draw: volume", "kind": "trust", "computed": number, "low": 0.0, "high": 0.1}]


def test_the_page_has_everything_in_its_order(crossed):
    read, page = crossed
    assert read.all_of("h1") == [page.title]
    assert read.all_of("h2") == [
        "What varies",
        "Response curves",
        "Two aims at once",
        "What matters",
        "Variants",
        "Inputs",
        "Origin and cautions",
    ]
    told = read.all_of("main")[0]
    for text in ("8 of 12 judged variants keep all limits", "axisymmetric", "licensed practice"):
        assert text in told, text
    assert "stage.draw.die.radius" in told and "12 variants: 12 done" in told
    assert len(page.curves) == 5, "four measures and the margin, each with its inputs"
    assert "script" not in read.tags and read.values("class").count("paper drawn") == 6


def test_the_finding_names_the_best_by_the_first_measure_asked(crossed):
    assert crossed[1].finding == (
        "8 of 12 judged variants keep all limits: variants 2 to 3, 5 to 6, 8 to 9 and 11 to 12."
        " Of these, variant 12 has the most draw.min_thickness, 0.2765 mm"
        " (thickness 0.29 mm, radius 3 mm)."
    )


def test_the_better_way_may_be_down_or_open(undrawn, case, tmp_path):
    down = [{"measure": "punch_force", "stage": "draw"}]
    _, page = page_of(case, tmp_path / "s", THICKNESS, measure=down)
    assert "variant 1 has the least draw.punch_force" in page.finding
    no_margin = [{"measure": "height", "stage": "draw"}]

    def only_height(_number, thickness):
        return {"draw.height": 100.0 * thickness}

    _, page = page_of(case, tmp_path / "t", THICKNESS, the_law=only_height, measure=no_margin)
    assert page.finding == (
        "No limit is given, so none of 4 judged variants is a reject."
        " Among them draw.height [mm] runs from 26 to 29."
    )
    assert page.front is None


def test_what_failed_or_is_not_trusted_stands_at_the_top(undrawn, case, tmp_path):
    def doubted(number, *inputs):
        return law(number, *inputs) | ({"checks": untrue(0.3)} if number == 3 else {})

    endings = {
        1: ("torn", 'stage "draw": the sheet has torn'),
        2: ("failed", "begun 2 times; its worker was killed"),
        4: "waiting",
    }
    vary = "sheet.thickness = [0.26, 0.27, 0.28, 0.29, 0.3, -1.0]"
    read, page = page_of(case, tmp_path / "s", vary, the_law=doubted, endings=endings)
    assert read.all_of("h2")[:2] == [
        "Variants without numbers, or with some that cannot be trusted",
        "Missing from this page",
    ]
    assert [text.split(":")[0] for text in page.troubles] == [
        "Variant 1 torn",
        "Variant 2 failed",
        "Variant 3 not trusted",
        "Variant 6 refused",
    ]
    assert "1 variant is not solved yet" in page.gaps[0]
    assert "verdict bad" in read.values("class")
    cells = read.values("class")
    assert sum("alarm" in (name or "") for name in cells) == 3, "torn, failed, not trusted"
    assert "variant 3" not in page.finding and page.finding.startswith("1 of 2 judged")


def test_a_study_in_which_nothing_worked_has_its_page(case, tmp_path):
    endings = {n: ("not converged", "no equilibrium at 3 mm") for n in (1, 2, 3, 4)}
    read, page = page_of(case, tmp_path / "s", THICKNESS, endings=endings)
    assert page.finding == "No variant has come to its end."
    assert page.troubles == ("Variants 1, 2, 3, 4 not converged: no equilibrium at 3 mm",)
    assert not pictures(page) and "img" not in read.tags


def test_variants_that_are_all_rejects_are_told(undrawn, case, tmp_path):
    measures = [{**MEASURES[1], "high": 1.0}, MEASURES[0]]
    _, page = page_of(case, tmp_path / "s", THICKNESS, measure=measures)
    assert page.finding == "None of 4 judged variants keeps all limits."
    assert "none keeps all" in page.front.told


def test_texts_that_would_do_harm(case, tmp_path):
    """As title of the case, name of a material, and reason of a failure."""
    text = small_cup().replace('title = "', "title = '''" + NASTY + "''' #", 1)
    case.write_text(text, encoding="utf-8")
    card = f"{{ base = \"can-body-demo\", name = '''{NASTY}''' }}"
    vary = (f'sheet.material = [{card}, "aa6016-t4"]', THICKNESS)

    def of(number, _material, thickness):
        return law(number, thickness)

    endings = {6: ("failed", NASTY)}
    read, page = page_of(case, tmp_path / "s", *vary, the_law=of, endings=endings)
    assert read.all_of("h1") == [NASTY] and "script" not in read.tags
    assert NASTY in " ".join(read.all_of("bdi"))
    assert any(NASTY in text for text in read.all_of("li"))
    assert "49" not in page.finding
    for one in pictures(page):
        assert "<script" not in drawing(one)
        assert fromstring(drawing(one)).tag.endswith("svg")


def test_every_shown_word_of_a_number_like_name_stays_a_group(case, tmp_path):
    cards = [f'{{ base = "can-body-demo", name = "{name}" }}' for name in ("3104", "5182")]

    def of(number, _material, thickness):
        return law(number, thickness)

    vary = (f"sheet.material = [{', '.join(cards)}]", THICKNESS)
    folder = made_study(case, tmp_path / "s", of, *vary, measure=MEASURES)
    points = points_of(read_study(folder.path))
    assert [one.label for one in points.groups] == ["3104", "5182"]
    assert [one.name for one in points.inputs] == ["sheet.thickness [mm]"]


def test_samples_have_a_matrix_ranks_bars_and_rejects(undrawn, case, tmp_path):
    vary = (SCATTER, 'stage.draw.die.radius = { kind = "uniform", low = 2.0, high = 3.0 }')
    design = {"kind": "latin_hypercube", "samples": 40}
    read, page = page_of(case, tmp_path / "s", *vary, design=design)
    assert "Scatter and rejects" in read.all_of("h2") and "Samples" in read.all_of("h2")
    ranks = {row[0]: row[1:] for row in page.ranks.rows}
    assert ranks["draw.max_thinning_percent [%]"][1] == "-1.00"
    assert ranks["draw.height [mm]"][1] == "+1.00"
    assert "of 40 judged samples" in page.rate and "Clopper and Pearson" in page.rate
    assert len(page.spread) == 1 and "draw.max_thinning_percent" in page.spread[0].caption
    assert page.scatter.rows[0][0] == "draw.min_thickness [mm]"


def test_pick_and_freeze_shows_sobol_indices(undrawn, case, tmp_path):
    vary = (SCATTER, 'stage.draw.die.radius = { kind = "uniform", low = 2.0, high = 3.0 }')
    design = {"kind": "pick_freeze", "samples": 16}

    def both(number, thickness, radius):
        return {"draw.height": 100.0 * thickness + radius + thickness * radius}

    measures = [{"measure": "height", "stage": "draw"}]
    read, page = page_of(case, tmp_path / "s", *vary, design=design, the_law=both, measure=measures)
    assert "What the variance comes from" in read.all_of("caption")
    assert not page.spread and not page.rate, "its samples come again and again"


def test_an_input_that_moves_nothing_has_no_interval(undrawn, case, tmp_path):
    vary = (SCATTER, 'stage.draw.die.radius = { kind = "uniform", low = 2.0, high = 3.0 }')

    def one(_number, _thickness, radius):
        return {"draw.height": radius}

    measures = [{"measure": "height", "stage": "draw"}]
    design = {"kind": "pick_freeze", "samples": 16}
    _, page = page_of(case, tmp_path / "s", *vary, design=design, the_law=one, measure=measures)
    assert page.sensitivity.rows[0][2:] == ("0.00", "-", "0.00", "-")


@pytest.mark.slow
def test_two_hundred_variants_of_three_inputs(case, tmp_path):
    vary = (
        "sheet.thickness = 0.26:0.30:0.005",
        RADIUS,
        "stage.draw.holder.force = 5000:12000:1000",
    )
    endings = {9: ("not converged", "no equilibrium"), 10: ("torn", "torn")}
    read, page = page_of(case, tmp_path / "s", *vary, endings=endings)
    assert len(page.variants.rows) == 216 and len(page.curves) == 5
    assert sum(len(one.source) for one in pictures(page)) < 3e6
    assert all(one.caption.count("[") >= 3 for one in page.curves), "all three inputs"
    assert not page.gaps
    assert len([one for one in read.values("tabindex") if one == "0"]) >= 10


def test_long_tables_name_the_file_with_the_rest(undrawn, case, tmp_path):
    vary = ("sheet.thickness = 0.260:0.29:0.0001", 'sheet.material = ["can-body-demo"]')

    def of(number, thickness, _material):
        return law(number, thickness)

    _, page = page_of(case, tmp_path / "s", *vary, the_law=of)
    assert len(page.variants.rows) == 300
    assert page.variants.notes[0][1] == "The first 300 of 301 variants; all are in table.csv."
    assert ("", "sheet.material: can-body-demo in every variant") in page.variants.notes


def test_what_is_not_drawn_is_told(undrawn, case, tmp_path):
    """Twelve materials, and nine inputs that are numbers."""
    cards = [f'{{ base = "can-body-demo", name = "m{k}" }}' for k in range(MOST_GROUPS + 2)]
    vary = (f"sheet.material = [{', '.join(cards)}]", "sheet.thickness = [0.27, 0.28]")

    def of(number, _material, thickness):
        return law(number, thickness)

    _, page = page_of(case, tmp_path / "s", *vary, the_law=of)
    assert "Of 12 combinations of inputs that are no numbers the first 9" in page.gaps[0]
    keys = ("punch", "die", "holder")
    many = [
        THICKNESS,
        RADIUS,
        FORCE,
        "mesh.columns = [80, 90]",
        "sheet.blank_diameter = [117, 118]",
    ]
    many += [f"stage.draw.friction.{key} = [0.05, 0.06]" for key in keys]
    _, page = page_of(case, tmp_path / "t", *many, design={"kind": "one_at_a_time"})
    assert page.gaps == (
        "The figures show the first 6 inputs; left out: stage.draw.friction.die,"
        " stage.draw.friction.holder.",
    )


def test_of_very_many_variants_some_have_marks(crossed, case, tmp_path, monkeypatch):
    whole = crossed[1]
    monkeypatch.setattr(numbers, "MOST_DRAWN", 5)
    _, page = page_of(case, tmp_path / "t", THICKNESS, RADIUS)
    assert page.gaps == ("Of 12 variants the first 5 have marks in the figures.",)
    assert page.front.rows == whole.front.rows and page.finding == whole.finding
    marks = [drawing(one.curves[0]).count("<use") for one in (page, whole)]
    assert marks[0] < marks[1]


def test_lines_are_broken_where_a_variant_came_to_no_number(case, tmp_path):
    endings = {2: ("not converged", "no equilibrium")}
    vary = "sheet.thickness = [0.26, 0.27, 0.28, 0.29, -1.0]"
    _, page = page_of(case, tmp_path / "s", vary, endings=endings)
    text = drawing(page.curves[0])
    mark = "stroke: #c8641b; "
    assert text.count(mark) > 1, "marks on the axis"
    assert mark not in drawing(page_of(case, tmp_path / "t", THICKNESS)[1].curves[0])
    assert "prefers-color-scheme: dark" in text


def test_the_front_is_mass_against_margin_and_says_so(crossed):
    page = crossed[1]
    numbers = [page.variants.rows[k][0] for k in page.front.rows]
    assert numbers == ["3", "6", "9", "12"], "of every thickness the largest radius"
    assert page.front.told.startswith("Here: mass [g], the less the better, and least_margin [%]")


def test_without_mass_the_front_says_which_two(undrawn, case, tmp_path):
    def no_mass(*given):
        return {**law(*given), "mass": None}

    _, page = page_of(case, tmp_path / "s", THICKNESS, RADIUS, the_law=no_mass)
    assert (
        "draw.min_thickness [mm], the more the better, and draw.punch_force [N]" in page.front.told
    )
    assert "there is no mass in the table" in page.front.told


@pytest.mark.parametrize("seed", range(5))
def test_a_front_is_what_its_definition_says(seed):
    """Every row against every other, after Deb 2001 (memory): as good in all, better in one."""
    values = np.random.default_rng(seed).integers(0, 6, (40, 2)).astype(float)
    values[3] = np.nan
    among = np.arange(40) % 7 > 0
    beaten = {
        i
        for i in range(40)
        for j in range(40)
        if among[i] and among[j] and all(values[j] <= values[i]) and any(values[j] < values[i])
    }
    expected = [i for i in range(40) if among[i] and i != 3 and i not in beaten]
    assert unbeaten(values, among).tolist() == expected


def test_numbers_of_variants_in_short():
    assert ranges([4]) == "variant 4"
    assert ranges([1, 2, 3, 7]) == "variants 1 to 3 and 7"
    assert ranges(list(range(1, 40, 2))) == "variants 1, 3, 5, 7, 9, 11, 13, 15 and 12 more"


def test_a_table_is_read_back_as_it_was_written(case, tmp_path):
    vary = ('sheet.material = ["can-body-demo", "aa6016-t4"]', FORCE, "mesh.columns = [80, 90]")

    def of(number, _material, force, _columns):
        return {**law(number, 0.28), "draw.height": None, "draw.punch_force": force}

    folder = made_study(case, tmp_path / "s", of, *vary, measure=MEASURES)
    kept = read_study(folder.path)
    text, broken = csv_text(kept.table.columns), read_handbook(folder.text(RULES))
    again = table_from(text, kept.study, len(MEASURES), broken)
    assert again == kept.table
    assert kept.table.columns["sheet.material"][0] == "can-body-demo"
    assert kept.table.columns["stage.draw.holder.force [N]"][:3] == [7000, 7000, 8000]
    assert kept.table.columns["draw.height [mm]"] == [None] * 8


def test_the_page_needs_neither_the_base_case_nor_its_place(case, tmp_path):
    folder = made_study(case, tmp_path / "s", law, THICKNESS, measure=MEASURES)
    case.unlink()
    (tmp_path / "elsewhere").mkdir()
    moved = folder.path.rename(tmp_path / "elsewhere" / "study")
    read = check_page(write_page(moved, tmp_path / "pages").file)
    assert (tmp_path / "pages" / "study.html").is_file()
    told = read.all_of("main")[0]
    assert "Every value of the case, as in variant 1" in told and "varies" in told


def test_missing_cases_are_told(case, tmp_path):
    folder = made_study(case, tmp_path / "s", law, THICKNESS, measure=MEASURES)
    for file in (folder.path / "variants").iterdir():
        file.unlink()
    page = study_page(read_study(folder.path))
    assert page.inputs is None and re.search(r"variants/\S+\.toml cannot be read", page.gaps[-1])


@pytest.mark.parametrize("spoilt", ["", "variant,status\n1,done\n", "variant\n\x00", "a,b\n1\n"])
def test_a_damaged_table_is_told(case, tmp_path, spoilt):
    folder = made_study(case, tmp_path / "s", law, THICKNESS, measure=MEASURES)
    (folder.path / TABLE).write_text(spoilt)
    with pytest.raises(StoreError, match="is damaged") as error:
        write_page(folder.path)
    assert "sweep again" in error.value.hint


def test_numbers_that_follow_from_each_other_are_no_pair():
    thick = np.array([0.20, 0.24, 0.26, np.nan, 0.21])
    rows = np.full(5, fill_value=True)
    thinning = Number("thinning", "", 100.0 * (1.0 - thick / 0.28))
    strain = Number("strain", "", -np.log(thick / 0.28))
    force = Number("force", "", np.array([1.0, 3.0, 2.0, 5.0, 4.0]))
    one = Number("thickness", "", thick)
    assert follows(one, thinning, rows) and follows(thinning, one, rows)
    assert follows(one, strain, rows) and follows(strain, one, rows)
    assert not follows(one, force, rows)
