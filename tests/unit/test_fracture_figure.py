"""The figure of a bar's pull shows what the table of the terminal tells."""

import math
import re

import numpy as np
import pytest

from formsim.case.named_card import raw_material, sound_card
from formsim.material.model import Material
from formsim.report.fracture_figure import fracture_figure
from formsim.report.style import DARK, styled, svg_of
from formsim.tensile.fracture import AREA, ELONGATION, Fracture, break_bar
from formsim.tensile.round_bar import DIAMETER, FLAW, PARALLEL

METAL = Material.from_card(sound_card(raw_material("can-body-demo")))


@pytest.fixture(scope="module")
def broken():
    return break_bar(METAL, Fracture(AREA, 0.6))


def drawn(axes):
    return {line.get_label(): line for line in axes.lines}


def test_force_damage_and_outline(broken):
    with styled():
        figure = fracture_figure("sheet", broken, None)
        force, damage, outline = figure.axes
    bar = drawn(force)["round bar of the card"]
    last = [np.asarray(values)[-1] for values in bar.get_data()]
    assert last[1] == pytest.approx(broken.last.stress, rel=1e-6)
    # A break keeps its elongation less what springs back.
    sprung = 100.0 * broken.last.stress / METAL.young
    assert last[0] - sprung == pytest.approx(100.0 * broken.last.elongation, rel=1e-3)
    assert max(bar.get_ydata()) == pytest.approx(broken.largest.stress, rel=1e-6)
    taken = drawn(damage)["in the middle of the neck"]
    assert taken.get_xdata()[-1] == pytest.approx(0.6)
    assert taken.get_ydata()[-1] == pytest.approx(broken.last.taken.by_law(None))
    assert outline.get_aspect() == 1.0
    for axes, unit in ((force, "MPa"), (damage, "-"), (outline, "mm")):
        assert f"[{unit}]" in axes.get_ylabel() and "[" in axes.get_xlabel()


def test_the_outline_keeps_the_volume(broken):
    """Constant volume, but for elastic strain: 0.5 % holds it."""
    radius, height = broken.pull.shape(0.6).T
    assert radius.min() == pytest.approx(0.5 * DIAMETER * (1.0 - FLAW) * math.exp(-0.3), rel=1e-4)
    volume = math.pi * np.trapezoid(radius**2, height)
    first_radius, first_height = broken.pull.outline[0].T
    first = math.pi * np.trapezoid(first_radius**2, first_height)
    assert volume == pytest.approx(first, rel=5e-3)
    assert first_height[-1] == pytest.approx(0.5 * PARALLEL)


def test_no_colour_is_unknown_to_a_dark_page(broken):
    """Pages turn the colours of the house into those for a dark ground; nothing else is used."""
    svg = svg_of(lambda: fracture_figure("s", broken, 0.3)).decode()
    used = {one.lower() for one in re.findall(r"#[0-9a-fA-F]{6}\b", svg)}
    assert used <= {one.lower() for one in DARK}, used


def test_a_break_by_elongation_has_a_short_title():
    broken = break_bar(METAL, Fracture(ELONGATION, 7.0))
    with styled():
        title = fracture_figure("sheet", broken, None).axes[0].get_title(loc="left")
    assert title == "sheet: round bar pulled to an elongation after fracture of 7 %"
