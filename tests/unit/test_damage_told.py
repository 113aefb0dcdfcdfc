"""When damage came to its limit, whether it may be bending, and the advice of each stage."""

from dataclasses import replace

import numpy as np
import pytest

from formsim.case.load import parse_case
from formsim.errors import CaseError, FormsimError
from formsim.pipeline.run import run_case
from formsim.results.damage import DamageLaw
from formsim.results.damage_told import Reached, damage_words, first_reached
from formsim.results.measures import measure_of_risk
from formsim.results.risk_words import _REMEDY, reason
from formsim.results.trace import Trace
from tests.interface.small import small_cup

LAW = DamageLaw("Cockcroft-Latham", None, 0.3, "invented")
INSIDE = np.array([True, True])
NONE = np.full((3, 2), np.nan)


def trace(layers, share=NONE, phases=("start", "forming", "springback")) -> Trace:
    """Two columns of two layers over three states at strokes of 0, 4 and 10 mm.

    Parameters
    ----------
    layers : damage, (3, 2, 2)
    """
    integrals = np.zeros((3, 2, 2, 3))
    integrals[..., 0] = layers
    zero = np.zeros((3, 2))
    way, thinned = np.array([10.0, 20.0]), np.zeros(2)
    states = zero, zero, zero.astype(bool), thinned, integrals, share, NONE, LAW.of(integrals)
    strokes = np.array([0.0, 4.0, 10.0])
    return Trace("draw", ("wall", "wall"), way, strokes, tuple(phases), *states)


GROWS = np.array([[[0.0, 0.0]] * 2, [[0.1, 0.1], [0.2, 0.2]], [[0.2, 0.2], [0.5, 0.5]]])


def test_the_stroke_of_the_limit_lies_between_two_states():
    # By hand: from 0.2 at 4 mm to 0.5 at 10 mm evenly, 0.3 is met after a third of the way.
    found = first_reached(trace(GROWS), INSIDE, 0.3)
    assert found.stroke == pytest.approx(6.0)
    assert (found.before, found.after, found.in_increment) == (4.0, 10.0, False)
    assert first_reached(trace(GROWS), INSIDE, 0.6) is None
    assert first_reached(trace(GROWS), np.array([True, False]), 0.3) is None
    assert first_reached(trace(GROWS + 0.4), INSIDE, 0.3).stroke == 0.0


def test_the_increment_goes_before_the_kept_states():
    none = [np.nan] * 3
    watched = replace(trace(GROWS), passed=np.array([none, [5.0, 5.2, 5.1]]))
    assert first_reached(watched, INSIDE, 0.3) == Reached(5.0, 5.2, 5.1, in_increment=True)
    elsewhere = replace(watched, passed=np.array([[5.0, 5.2, 5.1], none]))
    only = np.array([False, True])
    assert not first_reached(elsewhere, only, 0.3).in_increment


def test_the_stroke_of_the_limit_is_known_within_kept_states():
    told = damage_words(trace(GROWS), LAW, 1, Reached(4.0, 10.0, 6.0, in_increment=False))
    assert told == (
        "first reached at a stroke of about 6.00 mm, between the kept states from 4.00 to 10.00 mm"
    )
    told = damage_words(trace(GROWS), LAW, 1, Reached(5.0, 5.2, 5.1, in_increment=True))
    assert "about 5.10 mm, in the increment from 5.00 to 5.20 mm" in told


def test_a_stage_before_is_told_and_not_blamed():
    told = damage_words(trace(GROWS + 0.4), LAW, 1, Reached(0.0, 0.0, 0.0, in_increment=False))
    said = reason("damage", "over", "wall", 0.9, 0.3, "invented", told, "dome")
    assert "reached before this stage began" in said
    assert "shallower dome" not in said and "a stage before" in said


def test_damage_at_one_face_may_be_bending():
    one_sided = np.array([[[0.0, 0.0]] * 2, [[0.2, 0.05]] * 2, [[0.4, 0.1]] * 2])
    assert "bottom face, 0.4 against 0.1" in damage_words(trace(one_sided), LAW, 0, None)
    inside = damage_words(trace(one_sided[..., ::-1]), LAW, 0, None)
    assert "top (in a cup the inside) face" in inside and "bending" in inside
    assert damage_words(trace(GROWS), LAW, 0, None) == ""
    assert damage_words(trace(0.01 * one_sided), LAW, 0, None) == ""


def test_measures_of_the_worst_place():
    share = np.array([[0.0, 0.0], [0.4, 0.8], [0.4, 0.6]])
    traces = [trace(GROWS, share, ("start", "forming", "forming"))]
    assert measure_of_risk(traces, "draw", "damage", None) == 0.5
    assert measure_of_risk(traces, "draw", "damage", 7.0) == pytest.approx(0.35)
    assert measure_of_risk(traces, "draw", "limit_curve_share", None) == 0.8
    with pytest.raises(FormsimError, match="from 0 to 10 mm"):
        measure_of_risk(traces, "draw", "damage", 12.0)
    with pytest.raises(FormsimError, match="no limit curve holds"):
        measure_of_risk([trace(GROWS)], "draw", "limit_curve_share", None)


def test_an_expected_share_needs_a_curve():
    head = '[[expect]]\nmeasure = "limit_curve_share"\nstage = "draw"\n'
    expect = f'{head}high = 0.9\nsource = "own"\n'
    with pytest.raises(CaseError) as caught:
        parse_case(small_cup(more=expect), "cup.toml")
    assert "needs a limit curve: give forming_limit" in str(caught.value)
    curve = '[limits]\nforming_limit = { kind = "swift_hill" }\n'
    assert parse_case(small_cup(more=expect + curve), "cup.toml").expect[-1].high == 0.9


def test_every_stage_gets_advice_of_its_own():
    for kind, remedy in _REMEDY.items():
        for risk in ("thinning", "limit curve", "damage"):
            assert remedy in reason(risk, "over", "wall", 2.0, 1.0, "s", "told", kind)
    assert len(set(_REMEDY.values())) == len(_REMEDY)
    for kind in ("neck", "flange", "stretch", "bulge", "iron", "dome"):
        assert not {"nose", "holder", "blank"} & set(_REMEDY[kind].split())
    trimmed = reason("thinning", "over", "wall", 20.0, 15.0, "s", "", "trim")
    assert "a stage before brings it" in trimmed


def test_a_ring_that_may_pucker_is_held_by_what_the_stage_has():
    given = reason("wrinkle index", "over", "wall", 1.4, 1.0, "wrinkle_index under [limits]", "")
    assert "an index of 1.4; the wrinkle_index given is 1" in given
    for kind, word in (("neck", "pilot"), ("dome", "clamp"), ("draw", "hold it nearer")):
        assert word in reason("wrinkle index", "watch", "wall", 1.4, 1.0, "s", "", kind)


def test_a_run_tells_the_increment_for_every_column():
    """Damage by Cockcroft and Latham only grows: increments lie within the kept states."""
    limit = '[limits]\ndamage = { kind = "cockcroft_latham", critical = 0.04, source = "own" }\n'
    run = run_case(parse_case(small_cup(more=limit), "cup.toml"))
    found = run.risks.traces[0]
    assert found.passed is not None and found.passed.shape == (len(found.zones), 3)
    came = (found.damage[0] <= 0.04) & (found.damage > 0.04).any(axis=0)
    assert came.sum() > 3
    assert np.array_equal(np.isfinite(found.passed[:, 2]), came)
    for column in np.flatnonzero(came):
        after = int((found.damage[:, column] > 0.04).argmax())
        low, high, between = found.passed[column]
        assert found.strokes[after - 1] - 1e-9 <= low < between <= high
        assert high <= found.strokes[after] + 1e-9
    row = next(row for row in run.risks.rows if row.risk == "damage" and row.verdict == "over")
    assert "in the increment from" in row.reason
    assert row.stroke in found.passed[:, 2]
