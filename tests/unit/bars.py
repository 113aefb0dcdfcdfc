"""Made-up tensile tests of known metal, for the tests of the evaluation."""

import numpy as np
from scipy.optimize import root

from formsim.material.model import Material
from formsim.results.theory.instability import considere_strain
from formsim.solver.problem import material_data
from formsim.solver.stress import respond

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


def pulled(card, end=0.2, rows=300):
    """Engineering strain, stress and width strain of a bar of the solver's own metal.

    Width and thickness are free: the forces across the bar are brought to zero in every step.
    """
    data = material_data(Material.from_card(card))
    old, across = np.zeros(4), np.zeros(2)
    made = []
    for along in np.concatenate([np.linspace(0, 0.006, 80)[1:], np.linspace(0.006, end, rows)[1:]]):
        force, new = np.zeros(5), np.zeros(4)

        def free(logs, along=along, old=old, force=force, new=new):
            normal, width = np.exp(logs)
            respond(
                np.exp(along), 0.0, 0.0, normal, width,
                data.constants, data.table, old, new, force, np.zeros((4, 4)), False,
            )  # fmt: skip
            return [force[0] - force[1], force[3]]

        across = root(free, across, tol=1e-12).x
        assert np.abs(free(across)).max() < 1e-6
        old = new.copy()
        first = (force[0] + force[1]) * np.exp(along)
        made.append((np.expm1(along), first, np.expm1(across[1])))
    return np.array(made).T
