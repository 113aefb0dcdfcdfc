"""What a study says as a whole, from tables made by hand."""

import numpy as np
import pytest

from formsim.study.asked import asked_study
from formsim.study.findings import findings
from formsim.study.findings_text import findings_text
from formsim.study.plan import plan_study
from formsim.study.table import table_of
from tests.interface.small import small_cup

THICKNESS = 'sheet.thickness = { kind = "uniform", low = 0.27, high = 0.29 }'
DIE = 'stage.draw.die.radius = { kind = "normal", mean = 2.5, deviation = 0.05 }'


@pytest.fixture
def case(tmp_path):
    path = tmp_path / "cup.toml"
    path.write_text(small_cup(), encoding="utf-8")
    return path


def solved(case, law, *vary, lost=(), spoilt=(), **design):
    """Findings of a study whose heights follow a law of its inputs, but for spoilt ones."""
    asked = asked_study(case, vary, design)
    plan = plan_study(asked.study, case, "s.toml")
    rows = {}
    for one in plan.variants:
        if one.refused:
            continue
        height = law(*one.values)
        row = {"status": "done", "measures": {"draw.height": height}, "least_margin_percent": 5.0}
        if height > 32.0:
            row["failed_checks"] = [
                {"name": "height", "kind": "limit", "computed": height, "low": None, "high": 32.0}
            ]
        if one.number in spoilt:
            row["measures"] = {"draw.height": 3.0 * height}
            row["failed_checks"] = [
                {"name": "work error", "kind": "trust", "computed": 1.0, "low": 0.0, "high": 0.01}
            ]
        rows[one.key] = row if one.number not in lost else {"status": "not converged"}
    return findings(plan.study, table_of(plan, rows))


def of_height(found):
    return [row for row in found.sensitivity if row["number"] == "draw.height [mm]"]


@pytest.mark.parametrize("kind", ["random", "latin_hypercube", "sobol"])
def test_samples_give_slopes_scatter_and_rejects(case, kind):
    found = solved(
        case, lambda t, r: 30.0 + 100.0 * (t - 0.28) - 2.0 * (r - 2.5), THICKNESS, DIE,
        kind=kind, samples=16, lost=[3],
    )  # fmt: skip
    assert [row["slope"] for row in of_height(found)] == pytest.approx([100.0, -2.0])
    assert found.unjudged == 1
    assert (found.rate.rejects, found.rate.count) == (0, 15)
    height = found.scatter[0]
    assert height["number"] == "draw.height [mm]"
    assert height["mean"] == pytest.approx(30.0, abs=0.3)
    assert "rejects: 0 of 15 judged samples" in findings_text(found)


def test_numbers_that_are_not_trusted_count_nowhere(case):
    """A spoilt height moves neither slopes nor scatter; its sample has no verdict."""

    def law(t, r):
        return 30.0 + 100.0 * (t - 0.28) - 2.0 * (r - 2.5)

    design = {"kind": "latin_hypercube", "samples": 16}
    found = solved(case, law, THICKNESS, DIE, spoilt=[2, 7], **design)
    without = solved(case, law, THICKNESS, DIE, lost=[2, 7], **design)
    assert [row["slope"] for row in of_height(found)] == pytest.approx([100.0, -2.0])
    assert found.scatter == without.scatter
    assert found.unjudged == 2
    assert (found.rate.rejects, found.rate.count) == (0, 14)


def test_one_at_a_time_gives_the_slopes_of_a_bent_law_at_the_base(case):
    vary = ("sheet.thickness = [0.27, 0.29]", "stage.draw.die.radius = [2.0, 3.0]")
    found = solved(case, lambda t, r: 30.0 + 1e3 * t**2 - 2.0 * r, *vary, kind="one_at_a_time")
    rows = of_height(found)
    assert [row["slope"] for row in rows] == pytest.approx([560.0, -2.0])
    assert [row["error"] for row in rows] == pytest.approx([10.0, 0.0], abs=1e-9)
    assert found.rate is None and not found.scatter


def test_pick_and_freeze_gives_shares_of_the_variance(case):
    """Of a sum of two the shares are those of the variances of its parts."""
    found = solved(
        case, lambda t, r: 30.0 + 100.0 * t - 8.0 * r, THICKNESS, DIE, kind="pick_freeze",
        samples=64,
    )  # fmt: skip
    variances = np.array([100.0**2 * 0.01**2 / 3.0, 8.0**2 * 0.05**2])
    rows = of_height(found)
    assert [row["total"] for row in rows] == pytest.approx(variances / variances.sum(), abs=0.05)
    assert found.rate is None
    assert "Saltelli 2010" in findings_text(found)


def test_texts_are_groups_of_their_own(case):
    vary = ('sheet.material = ["can-body-demo", "aa6016-t4"]', "sheet.thickness = 0.27:0.29:0.01")

    def law(name, t):
        return 100.0 * t + (50.0 if name == "aa6016-t4" else 0.0)

    found = solved(case, law, *vary)
    (row,) = of_height(found)
    assert row["slope"] == pytest.approx(100.0)
    assert row["determination"] == pytest.approx(1.0)


def test_a_variant_that_was_refused_spoils_no_slope(case):
    vary = 'sheet.thickness = [0.27, 0.28, 0.29, "3 parsec", -1.0]'
    (row,) = of_height(solved(case, lambda t: 100.0 * t, vary))
    assert row["slope"] == pytest.approx(100.0)


def test_a_bent_law_is_told(case):
    found = solved(case, lambda t: 1e6 * (t - 0.28) ** 2, "sheet.thickness = 0.27:0.29:0.002")
    assert "explains less than 90 % of the variance of draw.height" in findings_text(found)


def test_a_study_of_few_variants_says_only_why_it_says_nothing(case):
    found = solved(case, lambda t: t, "sheet.thickness = [0.27, 0.28]")
    told = " ".join(findings_text(found).split())
    assert told.startswith("no sensitivity.csv: a straight law in 1 input needs 3 variants")


@pytest.mark.parametrize(
    ("vary", "design", "why"),
    [
        ((THICKNESS,), {"kind": "random", "samples": 2}, "needs 3 variants with numbers at least"),
        (('sheet.material = ["aa6016-t4", "aa5042-h2"]',), {}, "no input that is a number varies"),
        ((THICKNESS,), {"kind": "pick_freeze", "samples": 4}, "Sobol indices need 8 samples"),
        (
            ("sheet.thickness = 0.27:0.29:0.005", "stage.draw.die.radius = 2:4:0.5"),
            {"kind": "list"},
            "the inputs move together",
        ),
    ],
)
def test_why_nothing_is_said_of_what_matters(case, vary, design, why):
    found = solved(case, lambda t, *_: 30.0 + (t if isinstance(t, float) else 1.0), *vary, **design)
    assert not found.sensitivity
    assert f"no sensitivity.csv: {found.silent}" in " ".join(findings_text(found).split())
    assert why in found.silent


def test_without_numbers_nothing_is_said(case):
    found = solved(case, lambda t: 30.0 * t, "sheet.thickness = [0.27, 0.28]", lost=[1, 2])
    assert found.silent == "no variant has come to numbers"
