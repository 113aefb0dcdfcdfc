"""Line numbers of keys in a TOML text."""

from formsim.case.lines import key_lines, line_of

TEXT = '''title = "a # b = c"  # comment with [brackets
note = """
[sheet]
thickness = 1
"""
[sheet]
thickness = 0.28
flow = [
  [1, 2],  # ]
  ["]", 3],
]
"quoted key" = 1
a.b = 2

[[stage]]
punch = { diameter = 74, nose_radius = 3 }
[stage.die]
radius = 2
[[stage]]
[stage.die]
radius = 3
'''


def test_key_lines():
    found = key_lines(TEXT)
    assert found["title"] == 1
    assert found["note"] == 2
    assert found["sheet"] == 6
    assert found["sheet.thickness"] == 7
    assert found["sheet.flow"] == 8
    assert found["sheet.quoted key"] == 12
    assert found["sheet.a.b"] == 13
    assert found["stage[0]"] == 15
    assert found["stage[0].die.radius"] == 18
    assert found["stage[1]"] == 19
    assert found["stage[1].die.radius"] == 21
    assert "thickness" not in found


def test_line_of_falls_back_to_the_table_around():
    found = key_lines(TEXT)
    assert line_of("stage[0].punch.nose_radius", found) == 16
    assert line_of("stage[1].punch.diameter", found) == 19
    assert line_of("sheet.flow[1]", found) == 8
    assert line_of("mesh.columns", found) == 0
