"""Up to which ratio of blank to punch a cup is drawn before its base tears, against handbooks."""

from functools import cache
from math import exp, sqrt

import pytest

from formsim.case.load import parse_case
from formsim.errors import ConvergenceError
from formsim.pipeline.run import run_case

PUNCH = 50.0
CASE = """
title = "Ratio"
source = "invented"
[sheet]
thickness = 1.0
blank_diameter = {blank}
[sheet.material]
name = "steel-like"
source = "invented"
young = 210000
poisson = 0.3
density = 7850
flow = {{ kind = "swift", strength = 550, prestrain = 0.008, exponent = 0.22 }}
r_values = {{ r_bar = {r_bar} }}
[[stage]]
kind = "draw"
punch = {{ diameter = 50.0, nose_radius = 6.0 }}
die = {{ radius = 8.0, clearance = 1.2 }}
holder = {{ force = {force} }}
friction = {{ punch = 0.12, die = 0.1, holder = 0.1 }}
[mesh]
columns = 120
[output]
frames = 4
figures = false
picture = false
report = false
"""


@cache
def is_drawn(ratio, r_bar):
    """Whether the cup comes through the die; the holder gives 2.3 MPa on its first flange."""
    blank = ratio * PUNCH
    force = 2.3 * 0.7854 * (blank**2 - 68.4**2)
    case = parse_case(CASE.format(blank=blank, r_bar=r_bar, force=force), "ratio.toml")
    try:
        run_case(case)
    except ConvergenceError as error:
        assert error.reason == "torn"
        assert "nose" in str(error) or "wall" in str(error)
        return False
    return True


@pytest.mark.slow
@pytest.mark.parametrize("r_bar", [0.7, 1.0, 1.6])
def test_limiting_ratio_by_whiteley(r_bar):
    """R. L. Whiteley, Trans. ASM 52, 1960 (memory): ln of the ratio is eta sqrt((1 + r)/2).

    With an efficiency eta of 0.74 the cup is drawn, with 0.86 it tears: handbooks have 0.7 to 0.9
    for usual friction (memory). First draws of shops go to 1.8 to 2.2 (read).
    """
    grade = sqrt(0.5 * (1.0 + r_bar))
    assert is_drawn(exp(0.74 * grade), r_bar)
    assert not is_drawn(exp(0.86 * grade), r_bar)


@pytest.mark.slow
def test_first_draws_of_shops_come_through():
    """Ratio 1.8, the lower end of shop rules for a first draw (read), whatever the r-value."""
    assert all(is_drawn(1.8, r_bar) for r_bar in (0.7, 1.0, 1.6))
