"""Where the sheet jumps: a narrow rim is squeezed out from under a very strong holder.

No static equilibrium leads from the rim under the holder to the rim outside of it. The viscosity
that is lent carries the sheet over, is booked as energy and stays small. Dimensions invented.
"""

from __future__ import annotations

import pytest

from formsim.case.load import parse_case
from formsim.pipeline.run import run_case

CASE = """
title = "strong holder"
source = "invented"
[sheet]
thickness = 1.436
blank_diameter = 553.867
[sheet.material]
name = "steel"
source = "invented"
invented = true
young = 206000.0
poisson = 0.3
density = 7850.0
flow = { kind = "swift", strength = 500.0, prestrain = 0.01, exponent = 0.2 }
r_values = { r_bar = 0.79 }
[[stage]]
kind = "draw"
punch = { diameter = 356.42, nose_radius = 12.06 }
die = { radius = 9.33, clearance = 1.82 }
holder = { force = "335 kN" }
friction = { punch = 0.024, die = 0.027, holder = 0.06 }
"""


@pytest.mark.slow
def test_rim_slips_from_under_a_strong_holder() -> None:
    run = run_case(parse_case(CASE, "strong holder"))
    rows = run.line.stages[0].increments
    energy = rows[-1].energy
    jump = [
        row
        for before, row in zip(rows, rows[1:], strict=False)
        if row.energy.viscous > before.energy.viscous
    ]

    assert run.summary["passed"], [c.name for c in run.checks if not c.passed]
    assert 0.0 < energy.viscous < 0.01 * energy.plastic
    assert len(jump) < 0.1 * len(rows)
    assert not any(row.loose for row in rows)
