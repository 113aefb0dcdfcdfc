"""Small ironing cases for the tests: a given cup and one ring, on a coarse mesh."""

IRON = """
title = "one ring"
source = "invented"
start = {{ kind = "cup", diameter = 30.6, corner_radius = 2.0, height = 14.0 }}

[sheet]
thickness = 0.3

[sheet.material]
name = "ring-test"
source = "invented"
invented = true
young = 69000.0
poisson = 0.33
density = 2720.0
heat_capacity = 900.0
flow = {{ kind = "voce", saturation = 405.0, drop = 105.0, rate = 18.0 }}

[mesh]
columns = {columns}

[output]
frames = 12
figures = false
picture = false
{more}
[[stage]]
kind = "iron"
punch = {{ diameter = 30.0, nose_radius = 2.0 }}
rings = [{{ bore = {bore} }}]
stroke = {stroke}
friction = {{ punch = 0.10, ring = 0.03 }}
"""

CRANK = """
[press]
motion = "crank"
stroke = 100
strokes_per_minute = 60
rod_length = 300
"""


def one_ring(bore: float = 30.42, stroke: str = "4.0", more: str = "", columns: int = 90) -> str:
    """Text of a case that irons a given cup through one ring."""
    return IRON.format(bore=bore, stroke=stroke, more=more, columns=columns)
