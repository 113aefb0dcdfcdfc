"""Study files: ranges, distributions, designs, and what is refused with which words."""

import pytest

from formsim.case.study import build_study, load_study, short_of_last
from formsim.errors import CaseError, FormsimError
from formsim.study.asked import asked_study
from formsim.study.plan import plan_study
from tests.interface.small import small_cup

VARY = {"key": "sheet.thickness", "values": [0.28]}
SCATTER = {"key": "a", "scatter": {"kind": "normal", "mean": 1.0, "deviation": 0.1}}


def study(**more):
    return build_study({"title": "t", "case": "c.toml", "vary": [VARY], **more}, "s.toml")


def levels(text):
    return study(vary=[{"key": "a", "range": text}]).vary[0].levels


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("2:3:0.5", (2.0, 2.5, 3.0)),
        ("60:100:20", (60, 80, 100)),
        ("0.1:0.3:0.1", (0.1, 0.2, 0.3)),
        ("3:2:-0.5", (3.0, 2.5, 2.0)),
        ("2:3:0.6", (2.0, 2.6)),
        ("6:8:1 kN", ("6 kN", "7 kN", "8 kN")),
        ("5:5:1", (5,)),
    ],
)
def test_ranges_end_at_their_last_value(text, values):
    found = levels(text)
    assert found == values
    assert [type(one) for one in found] == [type(one) for one in values]


@pytest.mark.parametrize("text", ["2:3", "2:3:0", "2:3:-1", "a:b:c", "0:1e6:0.001", ""])
def test_a_range_that_is_none_says_what_one_looks_like(text):
    with pytest.raises(CaseError, match="expected first:last:step"):
        levels(text)


@pytest.mark.parametrize(
    ("more", "key", "word"),
    [
        ({"vary": []}, "study", "nothing varies"),
        ({"vary": [VARY, VARY]}, "study", "sheet.thickness is varied twice"),
        ({"vary": [{"key": "a"}]}, "vary[0]", "one of values, range and scatter"),
        ({"vary": [{"key": "a", "values": "2:5:1"}]}, "vary[0].values", 'write range = "2:5:1"'),
        ({"vary": [{"key": "a", "values": 3}]}, "vary[0].values", "expected a list"),
        ({"vary": [SCATTER]}, "study", "needs samples"),
        ({"design": {"kind": "sobol", "samples": 100}}, "design", "such as 64 or 128"),
        ({"design": {"kind": "random"}}, "design", "needs samples"),
        ({"design": {"kind": "latin"}}, "design.kind", "expected one of grid"),
        ({"design": {"samples": 3}}, "design", "has no samples"),
        ({"design": {"seed": 3}}, "design", "leave the seed out"),
        ({"desing": {}}, "desing", 'did you mean "design"?'),
        ({"keep": "all"}, "keep", "expected one of summary, curves, history"),
        ({"measure": [{"measure": "min_thicknes"}]}, "measure[0].measure", '"min_thickness"?'),
        (
            {"measure": [{"measure": "height", "low": 3, "high": 2}]},
            "measure[0].high",
            "above high",
        ),
    ],
)
def test_faults_name_their_key_and_cure(more, key, word):
    with pytest.raises(CaseError) as error:
        study(**more)
    assert [fault.key for fault in error.value.faults] == [key]
    assert word in str(error.value)


@pytest.mark.parametrize(
    "scatter",
    [
        {"kind": "normal", "mean": 1.0, "deviation": 0.0},
        {"kind": "normal", "mean": 1.0, "deviation": 0.1, "low": 1.1},
        {"kind": "normal", "mean": 1.0, "deviation": 0.1, "low": 2.0, "high": 1.0},
        {"kind": "uniform", "low": 1.0, "high": 1.0},
        {"kind": "lognormal", "median": -1.0, "deviation": 0.1},
        {"kind": "triangular", "low": 0.0, "mode": 2.0, "high": 1.0},
    ],
)
def test_distributions_that_are_none_are_refused(scatter):
    with pytest.raises(CaseError, match=r"vary\[0\].scatter"):
        study(vary=[{"key": "a", "scatter": scatter}], design={"kind": "random", "samples": 4})


@pytest.mark.parametrize("deviation", ["1 %", "3 um", "0.01"])
def test_a_scatter_is_written_in_the_unit_of_its_key(deviation):
    """Per cent would be of one, not of the mean."""
    scatter = {"kind": "normal", "mean": 0.28, "deviation": deviation}
    with pytest.raises(CaseError, match="takes no unit, nor per cent"):
        study(vary=[{"key": "a", "scatter": scatter}], design={"kind": "random", "samples": 4})


def test_all_faults_come_at_once():
    with pytest.raises(CaseError) as error:
        study(keep="all", design={"kind": "x"}, vary=[{"key": "", "values": [1]}])
    assert len(error.value.faults) == 3


def test_limits_may_name_their_unit():
    wanted = study(measure=[{"measure": "punch_force", "stage": "draw", "high": "20 kN"}]).measure
    assert wanted[0].high == 20_000.0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2:3:0.5", ""),
        ("0.1:0.3:0.1", ""),
        ("3:2:-0.5", ""),
        ("5:5:1", ""),
        ("2:5:0.7", "2:5:0.7 ends at 4.8: steps of 0.7 do not lead to 5"),
        ("5:2:-0.7", "5:2:-0.7 ends at 2.2: steps of 0.7 do not lead to 2"),
        ("60:100:30", "60:100:30 ends at 90: steps of 30 do not lead to 100"),
        ("6:9:2 kN", "6:9:2 kN ends at 8 kN: steps of 2 do not lead to 9 kN"),
    ],
)
def test_a_range_that_ends_before_its_last_value_is_told(text, said):
    assert short_of_last(text) == said


def test_a_missing_case_is_told_with_all_other_faults_and_first(tmp_path):
    path = tmp_path / "s.toml"
    path.write_text('title = "t"\ncase = "gone.toml"\nkeep = "all"\n[[vary]]\nkey = "a"\n')
    with pytest.raises(CaseError) as error:
        load_study(path)
    keys = [fault.key for fault in error.value.faults]
    assert keys == ["case", "keep", "vary[0]"]
    said = f'line 2: case = "gone.toml": there is no file {tmp_path}/gone.toml'
    assert said in str(error.value)


@pytest.mark.parametrize(("text", "seconds"), [("90 s", 90.0), ("10 min", 600.0), (30, 30.0)])
def test_the_longest_time_of_a_variant(text, seconds):
    assert study(longest=text).longest == seconds


@pytest.mark.parametrize("text", ["0 s", "10 mm", "soon", -1])
def test_a_longest_time_that_is_none(text):
    with pytest.raises(CaseError, match="longest"):
        study(longest=text)


def planned(path, *vary, **more):
    asked = asked_study(path, vary, {}, **more)
    return plan_study(asked.study, asked.case, asked.name, asked.lines)


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "cup.toml"
    path.write_text(small_cup(), encoding="utf-8")
    return path


def test_keys_that_lead_nowhere_are_told_with_all_other_faults(case):
    path = case.with_name("s.toml")
    head = f'title = "t"\ncase = "{case.name}"\nkeep = "all"\n[[vary]]\n'
    path.write_text(f'{head}key = "sheet.thicknes"\nvalues = "2:3:1"\n', encoding="utf-8")
    with pytest.raises(CaseError) as error:
        planned(path)
    told = [(fault.line, fault.key) for fault in error.value.faults]
    assert told == [(3, "keep"), (5, "vary[0].key"), (6, "vary[0].values")]
    assert 'did you mean "thickness"?' in str(error.value)


def test_a_key_and_a_measure_that_the_case_does_not_have_come_together(case):
    with pytest.raises(CaseError) as error:
        planned(case, "sheet.thicknes = [1]", measure=[{"measure": "height", "stage": "drow"}])
    assert [fault.key for fault in error.value.faults] == ["vary[0].key", "measure[0].stage"]


def test_a_key_within_another_that_varies_is_refused(case):
    table = 'stage.draw.holder = [{ force = "8 kN" }]'
    with pytest.raises(CaseError, match=r"stage\[0\].holder.force: is a part of stage\[0\].holder"):
        planned(case, table, "stage.draw.holder.force = [8000, 9000]")


def test_a_measure_asked_for_twice_is_refused(case):
    twice = [{"measure": "height"}, {"measure": "height", "stage": "dome"}]
    with pytest.raises(CaseError, match=r"measure\[1\].* dome.height: is asked for already"):
        planned(case, "sheet.thickness = [0.28]", measure=twice)


def test_faults_of_the_base_case_go_by_its_name(case):
    path = case.with_name("s.toml")
    vary = '[[vary]]\nkey = "sheet.thickness"\nvalues = [0.28]\n'
    path.write_text(f'title = "t"\ncase = "{case.name}"\n{vary}', encoding="utf-8")
    text = case.read_text(encoding="utf-8")
    case.write_text(text.replace("blank_diameter = 118.0", "blank_diameter = -1"), encoding="utf-8")
    with pytest.raises(CaseError, match=r"^cup.toml: 1 fault\n  - line \d+: sheet.blank_diameter"):
        planned(path)


def test_files_that_are_neither_a_case_nor_a_study(case):
    empty = case.with_name("empty.toml")
    empty.write_text("# nothing\n", encoding="utf-8")
    with pytest.raises(FormsimError, match="is empty: expected a case"):
        planned(empty)
    folder = case.with_name("study")
    folder.mkdir()
    (folder / "study.toml").write_text("", encoding="utf-8")
    with pytest.raises(FormsimError, match="is the folder of a study") as error:
        planned(folder)
    assert error.value.hint.endswith(f"formsim sweep {folder}/study.toml --into {folder}")
