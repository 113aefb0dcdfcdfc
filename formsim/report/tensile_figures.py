"""Figures of tensile tests: engineering and true curves with the fitted laws, and beyond."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from formsim.arrays import Floats
from formsim.report.style import FAINT, INK, colour, new_figure
from formsim.tensile.families import Points, stretch_means
from formsim.tensile.fit import Fit
from formsim.tensile.gather import Tests
from formsim.tensile.rank import FAR, Ranking

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

STRETCHES = 25
"""Stretches of strain over which differences are averaged."""

_STYLES = ("-", "--", "-.", ":", (0, (5, 1)), (0, (3, 1, 1, 1)))


def curve_figure(tests: Tests, points: Points, ranking: Ranking) -> Figure:
    """Engineering curves with their values, true curve with all laws, and what they miss."""
    figure = new_figure(7.6, 9.6)
    first, second, third = figure.subplots(3, height_ratios=(3.0, 3.2, 1.8))
    _draw_engineering(first, tests)
    second.plot(points.strain, points.stress, ".", color=FAINT, markersize=5.0, label="tests")
    third.axhline(0.0, color=INK, linewidth=0.7)
    for k, fit in enumerate(ranking.fits):
        style = {"color": colour(k), "linestyle": _STYLES[k % len(_STYLES)]}
        strain = np.linspace(0.0, float(points.strain[-1]), 400)
        label = f"{fit.kind}, rms {fit.rms:.2f} MPa"
        second.plot(strain, fit.curve.stress(strain), label=label, **style)
        third.plot(*_mean_rest(fit, points), linewidth=1.2, **style)
    second.set_title("True stress up to the largest force, with the fitted laws")
    second.set_ylabel("true stress [MPa]")
    low, high = float(points.stress[0]), float(points.stress.max())
    second.set_ylim(low - 0.6 * (high - low), high + 0.1 * (high - low))
    second.legend(loc="lower right")
    third.set_title("Law less mean of the tests")
    third.set_ylabel("difference [MPa]")
    for axes in (second, third):
        axes.set_xlim(left=0.0)
        axes.set_xlabel("plastic strain, logarithmic [-]")
    return figure


def extrapolation_figure(name: str, ranking: Ranking) -> Figure:
    """All laws up to a plastic strain of 1, those that fit alike drawn full."""
    figure = new_figure(7.6, 4.8)
    axes = figure.subplots()
    axes.axvspan(0.0, ranking.uniform, color=FAINT, alpha=0.35, linewidth=0.0)
    axes.axvline(ranking.uniform, color=INK, linewidth=0.8, linestyle=":")
    strain = np.linspace(0.0, FAR[-1], 801)
    for k, fit in enumerate(ranking.fits):
        alike = k < ranking.alike
        axes.plot(
            strain,
            fit.curve.stress(strain),
            linestyle="-" if alike else "--",
            linewidth=2.2 if fit is ranking.best else 1.3 if alike else 1.0,
            color=colour(k),
            label=_label(fit, ranking),
        )
    axes.annotate(
        "measured",
        (0.5 * ranking.uniform, 0.0),
        (0, 4),
        textcoords="offset points",
        ha="center",
        fontsize=8.0,
    )
    axes.annotate(
        "extrapolated",
        (ranking.uniform, 0.0),
        (30 if ranking.uniform < 0.08 else 8, 4),
        textcoords="offset points",
        fontsize=8.0,
    )
    axes.set_xlim(0.0, FAR[-1])
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("plastic strain, logarithmic [-]")
    axes.set_ylabel("true stress [MPa]")
    axes.set_title(f"{name}: the laws beyond the test; dashed ones fit it less well")
    axes.legend(loc="lower right")
    return figure


def _mean_rest(fit: Fit, points: Points) -> tuple[Floats, Floats]:
    """Strain and difference to the tests, means over equal stretches of strain."""
    begin, end = float(points.strain[0]), float(points.strain[-1])
    rest = Points(points.strain, fit.curve.stress(points.strain) - points.stress)
    mean = stretch_means(rest, STRETCHES, begin, end)
    return mean.strain, mean.stress


def _draw_engineering(axes: Axes, tests: Tests) -> None:
    for k, one in enumerate(tests.along):
        strain = 100.0 * (one.test.strain - one.line.origin)
        axes.plot(strain, one.test.stress, color=colour(k), linewidth=1.0, label=one.test.file)
        plastic = 0.2 + 100.0 * one.proof / one.line.slope
        axes.plot(plastic, one.proof, "s", color=colour(k), markersize=4.0)
        axes.plot(100.0 * one.uniform, one.strength, "o", color=colour(k), markersize=4.5)
    axes.set_title("Engineering stress; square: Rp0.2, dot: Rm at the strain of the largest force")
    axes.set_xlabel("engineering strain, from the foot of the elastic line [%]")
    axes.set_ylabel("stress [MPa]")
    axes.set_ylim(bottom=0.0)
    axes.legend(loc="lower right")


def _label(fit: Fit, ranking: Ranking) -> str:
    end = float(fit.curve.stress(FAR[-1]))
    best = ", recommended" if fit is ranking.best else ""
    return f"{fit.kind}: {end:.0f} MPa at {FAR[-1]:g}{best}"
