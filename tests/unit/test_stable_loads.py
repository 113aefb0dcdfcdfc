"""Loads of a tested body: only those of a stable equilibrium count, and a leap is told."""

from dataclasses import replace

import pytest

from formsim.results.strength import (
    has_given_way,
    largest_load,
    load_held,
    load_notes,
    peak_row,
)
from formsim.solver.newton import System
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
    assert largest_load(pressed) == load_held(pressed) == 1.0
    assert has_given_way(pressed)
    assert load_held(record(*rows)) == 1.0


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
    assert largest_load(made) == held
    assert peak_row(made) == 1 + [row[0] for row in rows].index(held)
    assert has_given_way(made) == gave_way
    notes = load_notes(made)
    assert not notes if says is None else says in notes[0]
