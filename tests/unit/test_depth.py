"""Depth of contact points in a trial and in an accepted increment."""

from dataclasses import replace

import numpy as np
import pytest

from formsim.solver.contact import STIFFEST, contact_values, no_grip
from formsim.solver.depth import RAISED, SINK, firmer, shallow_share

SOFTNESS = 1e-3
SPANS = np.array([[0, 2], [2, 3]])


def points(*values):
    """Two tools, three facets of one point each; the values of each tool on its own facets."""
    field = np.zeros((2, 3, 1))
    field[0, :2, 0], field[1, 2, 0] = values[:2], values[2]
    return field


def share(before, gap, pressure=(1.0, 1.0, 1.0)):
    nothing = np.zeros((2, 3, 1))
    return shallow_share(SPANS, points(*before), points(*gap), nothing, points(*pressure), SOFTNESS)


def test_a_step_that_ends_shallow_is_not_shortened():
    assert share((2e-3, 1e-3, 5e-3), (-1e-3, 0.0, 4e-3)) == 1.0


def test_the_point_that_goes_in_deepest_shortens_the_step():
    # From a gap of 2 to a depth of 8 softnesses: a depth of 1 is reached after 3 tenths of the way.
    assert share((2e-3, 1e-3, 5e-3), (-8e-3, 0.0, 4e-3)) == pytest.approx(0.3)
    assert share((2e-3, 1e-3, 5e-3), (-8e-3, 0.0, -5e-3)) == pytest.approx(0.3)


def test_a_point_already_deep_may_go_in_by_a_softness_more():
    assert share((-2e-3, 0.0, 0.0), (-6e-3, 0.0, 0.0)) == pytest.approx(0.25)


def test_points_without_pressure_do_not_count():
    assert share((2e-3, 1e-3, 5e-3), (-8e-3, 0.0, 4e-3), (0.0, 1.0, 1.0)) == 1.0


def near_grip():
    """Points that touch or are about to."""
    return replace(no_grip(2, 3, 1), gap=np.full((2, 3, 1), 5e-3))


def test_only_a_tool_with_a_sunk_point_becomes_stiffer():
    grip = near_grip()
    gap, pressure = points(1e-3, -6e-3, -SINK * SOFTNESS), points(0.0, 300.0, 200.0)
    stiffer = firmer(grip, SPANS, gap, pressure, SOFTNESS)
    assert stiffer.log_stiffness == pytest.approx([np.log(6.0 / RAISED), 0.0])
    assert (grip.log_stiffness == 0.0).all()


def test_nothing_is_done_where_nothing_sank():
    gap, pressure = points(1e-3, -3e-3, 0.0), points(0.0, 300.0, 200.0)
    assert firmer(near_grip(), SPANS, gap, pressure, SOFTNESS) is None


def test_points_that_were_deep_or_had_no_gap_do_not_count():
    gap, pressure = points(-8e-3, -6e-3, -6e-3), points(300.0, 300.0, 200.0)
    assert firmer(no_grip(2, 3, 1), SPANS, gap, pressure, SOFTNESS) is None
    deep = replace(near_grip(), gap=points(-9e-3, -5e-3, -7e-3))
    assert firmer(deep, SPANS, gap, pressure, SOFTNESS) is None


def test_a_tool_is_not_made_stiffer_than_allowed():
    grip = replace(near_grip(), log_stiffness=np.array([STIFFEST - 0.1, STIFFEST]))
    gap, pressure = points(1e-3, -6e-3, -6e-3), points(0.0, 300.0, 200.0)
    stiffer = firmer(grip, SPANS, gap, pressure, SOFTNESS)
    assert stiffer.log_stiffness == pytest.approx([STIFFEST, STIFFEST])
    assert firmer(stiffer, SPANS, gap, pressure, SOFTNESS) is None


def test_points_that_bore_before_keep_their_pressure():
    grip = replace(no_grip(2, 3, 1), gap=points(1e-3, 0.5e-3, 1e-3), offset=points(0.0, 1e-3, 0.0))
    gap, pressure = points(-6e-3, 0.0, 0.0), points(300.0, 50.0, 50.0)
    stiffer = firmer(grip, SPANS, gap, pressure, SOFTNESS)
    old = contact_values((grip.offset - grip.gap) / SOFTNESS)
    new = contact_values((stiffer.offset - grip.gap) / SOFTNESS)
    new *= np.exp(stiffer.log_stiffness)[:, None, None]
    assert new == pytest.approx(old, rel=2e-3)
