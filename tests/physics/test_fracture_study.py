"""A critical damage taken from one fracture, used on other tools: the study of the README."""

from pathlib import Path

import pytest

from formsim.case.load import parse_case
from formsim.pipeline.run import run_case

TEXT = (Path(__file__).parents[2] / "cases" / "fracture_cup.toml").read_text(encoding="utf-8")
QUICK = "frames = 60\nfigures = false\npicture = false\nreport = false"
FRACTURE = 15.0

pytestmark = pytest.mark.slow


def nose_row(*changes):
    """Row of the damage of the nose, with lines of the case changed."""
    text = TEXT[: TEXT.index("[[expect]]")]
    for old, new in (("frames = 60", QUICK), *changes):
        assert old in text
        text = text.replace(old, new)
    rows = run_case(parse_case(text, "study.toml")).risks.rows
    damage = [row for row in rows if row.risk == "damage"]
    # The nose is where such cups tear (common practice, no source).
    worst = max(damage, key=lambda row: row.value)
    assert worst.zone == "nose"
    return worst


def test_a_critical_damage_goes_from_one_tool_to_others():
    critical = nose_row().value
    limited = (
        ("critical = 5.0", f"critical = {critical!r}"),
        ("stroke = 15.0", 'stroke = "through"'),
    )
    same = nose_row(*limited)
    assert same.stroke == pytest.approx(FRACTURE, abs=0.1)
    assert "in the increment from" in same.reason
    strokes = [
        nose_row(*limited, ("nose_radius = 6.0", f"nose_radius = {r}")).stroke for r in (4, 10)
    ]
    # A sharper nose tears earlier, a smaller blank comes through (common practice, no source).
    assert strokes[0] < FRACTURE - 3.0 and strokes[1] > FRACTURE + 3.0
    smaller = nose_row(*limited, ("blank_diameter = 105.0", "blank_diameter = 100.0"))
    assert smaller.verdict in ("safe", "watch")


def test_a_cup_with_a_flange_has_no_height_by_theory():
    """The heights of the closed forms are those of a cup drawn through."""
    text = TEXT[: TEXT.index("[[expect]]")].replace("frames = 60", QUICK)
    run = run_case(parse_case(text, "study.toml"))
    heights = [row for row in run.theory if "cup height" in row.name]
    assert [row.theory for row in heights] == [None, None]
    assert all("a flange is left" in row.note for row in heights)
