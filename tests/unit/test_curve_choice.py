"""What hangs on the choice of a flow curve: numbers, and what is used of every limit."""

from dataclasses import replace

from formsim.case.template import template
from formsim.pipeline.curve_choice import case_with, worst_places
from formsim.report.choice_table import Answers, RiskRow, Row, choice_text
from formsim.results.risk import Risk
from tests.unit.test_bake import card

ROW = Row("voce", "draw", 0.2712, "wall", 11206.0, "punch", 29.0)


def curve(law: str, used: float, verdict: str) -> RiskRow:
    return RiskRow("limit curve", law, used, verdict, "draw", "wall")


def risk(name: str, zone: str, value: float, limit: float | None, verdict: str) -> Risk:
    margin = None if limit is None else 1.0 - value / limit
    ends = (margin, verdict, None, None, "", True, "")
    return Risk("draw", zone, name, value, limit, "", *ends)


def told(*risks: RiskRow) -> str:
    rows = [ROW, replace(ROW, law="swift", thickness=0.2714)]
    return choice_text(Answers("90 columns x 2 layers", rows, risks, ()))


def test_a_verdict_that_hangs_on_the_law_is_told():
    text = told(curve("voce", 2.6, "over"), curve("swift", 0.6, "safe"))
    assert "0.600 to 2.600  IT HANGS ON THE LAW" in text
    assert "0.1 %" in text  # spread of the thickness beside it
    assert max(map(len, text.splitlines())) <= 100


def test_a_verdict_all_laws_agree_on():
    assert "0.600 to 0.700  the same verdict" in told(
        curve("voce", 0.6, "safe"), curve("swift", 0.7, "safe")
    )


def test_a_case_without_limits_says_so():
    assert "No risk of this case has a limit" in told()


def test_the_worst_place_of_every_risk_counts():
    rows = [
        risk("limit curve", "nose", 0.7, 1.0, "safe"),
        risk("limit curve", "wall", 1.2, 1.0, "over"),
        risk("damage", "wall", 0.3, None, "no limit given"),
    ]
    (found,) = worst_places("voce", rows)
    assert found == RiskRow("limit curve", "voce", 1.2, "over", "draw", "wall")


def test_limits_in_the_card_of_the_case_stay(tmp_path):
    own = '{ base = "aa6016-t4", damage = { kind = "oyane", offset = 0.4, critical = 0.3,'
    text = template("cup")
    start = text.index("material =")
    line = text[start : text.index("\n", start)]
    path = tmp_path / "cup.toml"
    path.write_text(text.replace(line, f'material = {own} source = "invented" }} }}'))
    found = case_with(path, card())
    assert found.sheet.material.name == card().name
    assert found.damage.critical == 0.3
