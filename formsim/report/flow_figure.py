"""Picture of the flow curve of one material card."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from formsim.case.card import MaterialCard, TableFlow
from formsim.errors import TheoryRangeError
from formsim.material.model import flow_curve
from formsim.report.style import colour, new_figure
from formsim.results.theory.instability import considere_strain

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LARGEST = 1.0
"""Plastic strain to which flow curves are drawn [-]."""


def flow_figure(card: MaterialCard) -> Figure:
    """True stress over plastic strain, with the strain a tensile test of this curve ends at."""
    curve = flow_curve(card.flow, card.young)
    figure = new_figure(6.4, 4.2)
    axes = figure.subplots()
    strain = np.linspace(0.0, LARGEST, 801)
    try:
        end = considere_strain(curve)
    except TheoryRangeError:
        end = 0.0
    known = card.flow.strain[-1] if isinstance(card.flow, TableFlow) else end
    inside, beyond = strain[strain <= known], strain[strain >= known]
    label = "up to the last point" if isinstance(card.flow, TableFlow) else "uniform in tension"
    axes.plot(inside, curve.stress(inside), color=colour(0), label=f"{label}, {known:.3f}")
    axes.plot(beyond, curve.stress(beyond), "--", color=colour(0), label="beyond: extrapolation")
    if end > 0.0:
        axes.plot(end, curve.stress(end), "o", color=colour(0), markersize=4.5)
    axes.set_xlim(0.0, LARGEST)
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("plastic strain [-]")
    axes.set_ylabel("true stress [MPa]")
    axes.set_title(f"{card.name}: flow curve ({card.flow.kind})")
    axes.legend(loc="lower right")
    return figure
