"""When a textbook number says what it leaves out."""

import pytest

from formsim.results.closed_form import ADVICE, LIMIT, Row, estimate
from formsim.results.theory.limits import require


def row(simulated, says="forecast", leaves_out="bending"):
    return Row("force", "N", lambda: 10.0, simulated, "a book", leaves_out, says)


@pytest.mark.parametrize("simulated", [10.0, 12.9, 7.1, None])
def test_close_numbers_need_no_remark(simulated):
    assert estimate(row(simulated)).remark == ""


@pytest.mark.parametrize("simulated", [13.1, 6.9, -10.0])
def test_distant_numbers_say_what_the_formula_leaves_out(simulated):
    found = estimate(row(simulated))
    assert found.remark == "the formula leaves out bending"
    assert (found.theory, found.simulated, found.note) == (10.0, simulated, "")
    assert estimate(row(simulated, leaves_out="")).remark == ""


@pytest.mark.parametrize(("says", "remark"), [("limit", LIMIT), ("advice", ADVICE)])
def test_what_is_no_forecast_always_says_so(says, remark):
    assert estimate(row(1.0, says)).remark == estimate(row(10.0, says)).remark == remark


def test_outside_the_range_the_reason_is_the_note():
    def formula():
        require(False, "for thin walls")
        return 1.0

    found = estimate(Row("force", "N", formula, 3.0, "a book", "bending"))
    assert (found.theory, found.note, found.remark) == (None, "for thin walls", "")
