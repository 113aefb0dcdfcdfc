"""Loads of a tested body: only those of a stable equilibrium count, and a leap is told."""

from dataclasses import replace

import numpy as np
import pytest

from formsim.geometry.outline import chain
from formsim.report.strength_figure import strength_figure
from formsim.results.course import course, given_way
from formsim.results.strength import load_notes, no_strength
from formsim.solver.newton import System
from formsim.solver.problem import Tool
from tests.unit.shaped import bulge_record, increment
from tests.unit.solid import at_rest, block, problem

BODY = block(columns=5, layers=2)
START = at_rest(System(problem(BODY)))


def record(*rows):
    """A body under pressure by rows of pressure [MPa] and number of loose shapes."""
    made = bulge_record(BODY, [START, START])
    steps = [
        replace(increment(1.0 + k, (), (pressure,)), unstable=loose)
        for k, (pressure, loose) in enumerate(rows)
    ]
    return replace(made, increments=tuple(steps))


def test_a_base_turned_inside_out_has_given_way():
    """What it holds behind its leap is no inside pressure held; a top load may go on."""
    rows = [(1.0, 0), (0.8, 1), (2.0, 0), (1.0, 0)]
    pressed = replace(record(*rows), kind="pressurise")
    assert course(pressed).largest == course(pressed).held == 1.0
    assert course(pressed).gave_way
    assert course(record(*rows)).held == 1.0


@pytest.mark.parametrize(
    ("rows", "held", "gave_way", "says"),
    [
        ([(1.0, 0), (2.0, 0), (3.0, 0)], 3.0, False, None),
        ([(1.0, 0), (3.0, 0), (2.0, 0)], 3.0, True, None),
        ([(1.0, 0), (3.0, 0), (2.9, 1)], 3.0, True, None),
        ([(1.0, 0), (3.0, 0), (3.2, 1), (1.0, 1)], 3.0, True, "met on the way do not count"),
        ([(1.0, 0), (0.8, 1), (2.0, 0), (1.0, 0)], 2.0, True, "in which it bears 0.002"),
        ([(0.001, 1), (2.0, 0), (1.0, 0)], 2.0, True, None),
    ],
)
def test_largest_stable_load(rows, held, gave_way, says):
    made = record(*rows)
    test = course(made)
    assert test.largest == held
    assert test.top == 1 + [row[0] for row in rows].index(held)
    assert test.gave_way == gave_way
    notes = load_notes(made)
    assert not notes if says is None else says in notes[0]


def test_what_a_stage_passes_on_has_given_way():
    """A proof pressure hands on what it made of the body, a test up to a limit a sound one."""
    leapt = replace(record((1.0, 0), (0.8, 1), (2.0, 0)), kind="pressurise", name="proof")
    assert given_way(leapt) == "proof, at 1 MPa inside"
    assert given_way(replace(leapt, specimen=True)) == ""
    assert given_way(replace(record((1.0, 0), (2.0, 0)), kind="pressurise")) == ""
    later = replace(leapt, kind="top_load", spoilt=given_way(leapt))
    assert given_way(later) == "proof, at 1 MPa inside"
    assert no_strength(later) == "the body had given way before: proof, at 1 MPa inside"
    assert "no strength of a sound body" in load_notes(later)[0]


def test_a_body_may_give_way_while_it_is_filled_for_a_top_load():
    """Strokes below zero fill it; a touch of tools at a hundredth of the pressure is none."""
    rows = [(0.001, 1, -3.0), (0.1, 0, -2.0), (0.08, 1, -1.0), (0.2, 0, 0.0), (0.2, 0, 1.0)]
    made = replace(bulge_record(BODY, [START, START]), kind="top_load")
    steps = [
        replace(increment(stroke, (), (pressure,)), unstable=loose)
        for pressure, loose, stroke in rows
    ]
    filled = replace(made, increments=tuple(steps))
    assert course(filled).filled == 0.1
    assert "at 0.1 MPa while it was filled" in no_strength(filled)
    sound = [replace(step, unstable=0) for step in steps]
    assert course(replace(made, increments=tuple(sound))).filled is None


def test_the_figure_says_where_a_body_leaps_and_dashes_what_is_not_stable():
    made = record((1.0, 0), (0.8, 1), (2.0, 0), (1.0, 0))
    gauges = dict.fromkeys(("centre_growth", "nose_growth", "volume"), (0.0, 1.0, 2.0, 3.0, 4.0))
    pressed = replace(made, kind="pressurise", gauges=gauges)
    above = strength_figure(pressed).axes[0]
    assert [text.get_text() for text in above.texts] == ["gives way at 1.000 MPa"]
    dashed = [line for line in above.lines if line.is_dashed()]
    assert [list(line.get_ydata()) for line in dashed] == [[1.0, 0.8, 2.0], [1.0, 0.8, 2.0], []]
    spoilt = strength_figure(replace(pressed, spoilt="proof, at 1 MPa inside")).axes[0]
    assert "of a body that had given way" in spoilt.texts[0].get_text()


def test_a_top_load_beyond_a_leap_has_both_marks():
    made = record((0.0, 0), (0.0, 0), (0.0, 1), (0.0, 0), (0.0, 0))
    forces = (1.0, 2.0, 1.0, 4.0, 3.0)
    tool = Tool("stand", chain([(-1.0, 0.0), (1.0, 0.0)], []), "bottom", 0.0, lambda s: s)
    rows = [
        replace(
            row, positions=np.zeros(1), forces=np.array([force]), balance_forces=np.array([force])
        )
        for row, force in zip(made.increments, forces, strict=True)
    ]
    frame = replace(made.frames[0], positions={"stand": 0.0})
    loaded = replace(
        made, kind="top_load", tools=(tool,), pressures=(), increments=tuple(rows), frames=(frame,)
    )
    axes = strength_figure(loaded).axes[0]
    said = {text.get_text() for text in axes.texts}
    assert said == {"folds at 0.004 kN", "leaps to another shape at 0.002 kN"}
