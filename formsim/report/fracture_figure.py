"""Figure of a bar's pull to its break: force, damage in its neck, and its outline."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from formsim.arrays import Floats
from formsim.report.fracture_text import law_name
from formsim.report.style import FAINT, INK, TOOL, TOOL_EDGE, colour, drawable, new_figure, plain
from formsim.tensile.evaluate import Values
from formsim.tensile.fracture import Broken
from formsim.tensile.round_bar import DIAMETER, PARALLEL

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_LARGEST, _BREAK = "o", "X"


def fracture_figure(
    name: str, broken: Broken, offset: float | None, tests: Sequence[Values] = ()
) -> Figure:
    """Engineering stress, damage over the strain of the area, and the bar as it breaks.

    Parameters
    ----------
    name : of the card
    offset : constant of Oyane's law; None for that of Cockcroft and Latham
    tests : whose measured curves stand behind that of the bar
    """
    figure = new_figure(7.6, 8.8)
    first, second, third = figure.subplots(3, height_ratios=(3.0, 3.0, 1.5))
    _draw_force(first, broken, tests)
    measured = broken.fracture.words.partition(" over")[0]
    first.set_title(drawable(f"{name}: round bar pulled to {measured}", 90))
    _draw_damage(second, broken, offset)
    _draw_outline(third, broken)
    return figure


def _draw_force(axes: Axes, broken: Broken, tests: Sequence[Values]) -> None:
    pull, proportion = broken.pull, broken.fracture.proportion
    for k, one in enumerate(tests):
        strain = 100.0 * (one.test.strain - one.line.origin)
        label = drawable(f"measured: {one.test.file}")
        axes.plot(strain, one.test.stress, color=colour(k + 1), linewidth=1.0, label=label)
    grown = pull.extension(proportion)
    area = _up_to_break(broken)
    at = [np.interp(area, pull.area_strain, values) for values in (100.0 * grown, pull.stress)]
    axes.plot(*at, color=colour(0), label="round bar of the card")
    marks = [(broken.last, _BREAK, f"break, reduction of area {100 * broken.last.reduction:.0f} %")]
    if broken.largest is not None:
        marks.insert(0, (broken.largest, _LARGEST, "largest force of the bar"))
    for moment, sign, words in marks:
        x = 100.0 * np.interp(moment.area_strain, pull.area_strain, grown)
        _mark(axes, float(x), moment.stress, sign, words)
    axes.set_xlabel(f"elongation of a gauge of {proportion:.3g} times the root of the section [%]")
    axes.set_ylabel("engineering stress [MPa]")
    axes.set_xlim(left=0.0)
    axes.set_ylim(bottom=0.0)
    axes.legend(loc="lower right")


def _mark(axes: Axes, x: float, y: float, sign: str, words: str = "_") -> None:
    axes.plot(x, y, sign, color=colour(0), markersize=5.5, linestyle="", label=words)


def _up_to_break(broken: Broken) -> Floats:
    """Strains of the area in every increment up to the break, and there, (m) [-]."""
    area, end = broken.pull.area_strain, broken.last.area_strain
    return np.append(area[area < end], end)


def _draw_damage(axes: Axes, broken: Broken, offset: float | None) -> None:
    pull, end = broken.pull, broken.last.area_strain
    area = _up_to_break(broken)
    taken = pull.tension if offset is None else pull.mean + offset * pull.strain
    critical = broken.last.taken.by_law(offset)
    axes.axhline(critical, color=INK, linewidth=0.8, linestyle="--")
    label = "in the middle of the neck"
    axes.plot(area, np.interp(area, pull.area_strain, taken), color=colour(0), label=label)
    if broken.largest is not None:
        top = broken.largest
        _mark(axes, top.area_strain, top.taken.by_law(offset), _LARGEST)
    _mark(axes, end, critical, _BREAK)
    if broken.flat is not None:
        flat = broken.flat.by_law(offset)
        label = f"flat specimen of the same area, closed form: {flat:.3f}"
        axes.plot(end, flat, "D", color=colour(1), markersize=4.5, linestyle="", label=label)
    words = f"critical damage {critical:.3f}"
    axes.annotate(words, (0.0, critical), (4, 3), textcoords="offset points", fontsize=8.0)
    axes.set_title(f"Damage by {law_name(offset)}")
    axes.set_xlabel("strain of the area of the neck, ln(S0/S) [-]")
    axes.set_ylabel("damage [-]")
    axes.set_xlim(0.0, 1.05 * end)
    axes.set_ylim(min(0.0, float(taken.min())), 1.15 * critical)
    axes.legend(loc="lower right")


def _draw_outline(axes: Axes, broken: Broken) -> None:
    radius, height = broken.pull.shape(broken.last.area_strain).T
    along = np.concatenate([-height[::-1], height])
    across = np.concatenate([radius[::-1], radius])
    half, thick = 0.5 * PARALLEL, 0.5 * DIAMETER
    axes.fill_between(along, -across, across, color=TOOL, edgecolor=TOOL_EDGE, linewidth=1.0)
    begin = [-half, half, half, -half, -half], [-thick, -thick, thick, thick, -thick]
    axes.plot(*begin, color=INK, linewidth=0.8, linestyle=":")
    axes.plot([0.0, 0.0], [-across.min(), across.min()], color=colour(1), linewidth=1.6)
    axes.axhline(0.0, color=FAINT, linewidth=0.7, linestyle="-.")
    axes.set_title(
        f"The bar at the break, to scale: neck {2 * radius.min():.2f} mm; dotted: before the pull"
    )
    axes.set_xlabel("along the bar [mm]")
    axes.set_ylabel("radius [mm]")
    plain(axes)
