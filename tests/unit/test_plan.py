"""Where tools are set before a stage."""

import numpy as np
import pytest

from formsim.stages.plan import rest_height
from formsim.stages.shapes import ironing_ring


def test_a_ring_meets_a_low_cup_from_below():
    """Above a low cup the ring is clear again; most of its points lie in the base."""
    base = np.stack([np.linspace(0.0, 21.0, 400), np.zeros(400)], axis=1)
    wall = np.stack([np.full(50, 23.5), np.linspace(3.0, 13.0, 50)], axis=1)
    ring = ironing_ring(23.4, 7.0, 1.0, 1.3, 5.0)
    at = rest_height(ring, np.concatenate([base, wall]), 0.03, above=False)
    # Clearance 0.03 of the cone at the lower end of the wall, 0.1 mm outside the land.
    angle = np.deg2rad(7.0)
    expected = 3.0 - (0.1 + 0.03 / np.cos(angle)) / np.tan(angle)
    assert at == pytest.approx(expected, abs=0.05)
