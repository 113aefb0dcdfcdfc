"""What a word that nobody knows may have meant."""

import pytest

from formsim.case.expect import MEASURES
from formsim.case.nearest import nearest, question


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ("max_thinning_percentage", ["max_thinning_percent"]),
        ("max_thinning", ["max_thinning_percent", "max_thinning_strain"]),
        ("thickness_min", ["min_thickness", "min_thickness_radius"]),
        ("punch_forse", ["punch_force"]),
        ("Limit_Presure", ["limit_pressure"]),
        ("colour", []),
    ],
)
def test_whole_words_count_before_letters(given, meant):
    assert sorted(nearest(given, MEASURES)) == meant


def test_the_question_names_all_that_may_be_meant():
    assert question(["a", "b"]) == 'did you mean "a" or "b"?'
    assert question([]) == ""
