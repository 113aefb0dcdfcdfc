"""Made-up tensile tests of known metal, for the tests of the evaluation."""

import numpy as np

from formsim.results.theory.instability import considere_strain

YOUNG = 70_000.0


def bar(curve, *, young=YOUNG, r=1.0, rows=800, noise=0.0, toe=0.0, beyond=1.3, seed=1):
    """Engineering strain, stress [MPa] and width strain of a bar pulled past its largest force.

    The elastic change of volume is left out. ``noise`` is the scatter of the stress [MPa], ``toe``
    the strain lost while the grips settle. A neck takes the stress down from 1.05 times the uniform
    strain on.
    """
    last = beyond * considere_strain(curve)
    first = float(curve.stress(0.0))
    elastic = np.linspace(0.0, first / young, max(20, rows // 8), endpoint=False)
    plastic = np.linspace(0.0, last, rows)
    true = np.concatenate([young * elastic, curve.stress(plastic)])
    flow = np.concatenate([np.zeros(len(elastic)), plastic])
    total = flow + true / young
    width = -r / (1.0 + r) * flow - 0.3 * true / young
    strain, stress = np.expm1(total), true * np.exp(-total)
    neck = np.maximum(flow / considere_strain(curve) - 1.05, 0.0)
    stress = stress * (1.0 - 4.0 * neck**2)
    rng = np.random.default_rng(seed)
    settled = toe * (1.0 - np.exp(-stress / (0.05 * first)))
    scatter = noise * rng.standard_normal(len(stress))
    return strain + settled, stress + scatter, np.expm1(width)


def table_text(columns, separator=",", decimal="."):
    """Text of a file from headers with their columns."""
    lines = [separator.join(columns)]
    for row in zip(*columns.values(), strict=True):
        lines.append(separator.join(f"{value:.6f}".replace(".", decimal) for value in row))
    return "\n".join(lines) + "\n"
