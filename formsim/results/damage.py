"""Damage of every column by the law a case asks for, and the critical value it is compared with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.case.limits import CockcroftLatham, Oyane
from formsim.case.schema import Case
from formsim.errors import TheoryRangeError
from formsim.material.model import Material
from formsim.results.curve import strip
from formsim.results.risk_words import NO_LIMIT
from formsim.results.theory.fracture import tension_damage
from formsim.solver.body import Body
from formsim.solver.damage import MEAN, SQUEEZED, TENSION
from formsim.solver.state import State

IRONED = 0.01
"""Plastic strain under pressure across the sheet from which a column counts as ironed: no limit
curve holds for it. Our own number."""

SPECIMEN = "specimen of this card, fracture strain {0:g}, tension then plane strain in Hill's neck"


@dataclass(frozen=True)
class DamageLaw:
    """A damage integral and its critical value.

    Attributes
    ----------
    name : of the law
    offset : constant beside the mean stress; None for the law of Cockcroft and Latham
    critical : value at which the sheet breaks; None where none is given
    source : of the critical value, or why there is none
    warning : why a critical value that was asked for is not there
    """

    name: str
    offset: float | None
    critical: float | None
    source: str
    warning: str = ""

    def of(self, body: Body, state: State) -> Floats:
        """Damage of the columns, the worst of their layers, (n_columns) [-]."""
        values = state.damage[..., TENSION]
        if self.offset is not None:
            values = state.damage[..., MEAN] + self.offset * state.strain
        worst: Floats = _layers(body, values).max(axis=1)
        return worst


def damage_law(case: Case) -> DamageLaw:
    """Law the case asks for: its own, else that of the card, else Cockcroft-Latham unlimited."""
    law = case.damage
    if law is None:
        return DamageLaw("Cockcroft-Latham", None, None, NO_LIMIT)
    name = "Oyane" if isinstance(law, Oyane) else "Cockcroft-Latham"
    offset = law.offset if isinstance(law, Oyane) else None
    if law.critical is not None:
        return DamageLaw(name, offset, law.critical, law.source)
    try:
        critical = _of_specimen(law, Material.from_card(case.sheet.material))
    except TheoryRangeError as error:
        why = f"no critical value: {error}"
        return DamageLaw(name, offset, None, why, why)
    source = f"{SPECIMEN.format(law.fracture_strain)}: {law.source}"
    return DamageLaw(name, offset, critical, source)


def _of_specimen(law: CockcroftLatham | Oyane, material: Material) -> float:
    taken = tension_damage(material.flow, material.r_bar, law.fracture_strain or 0.0)
    if isinstance(law, Oyane):
        return taken.mean + law.offset * taken.strain
    return taken.tension


def ironed(body: Body, state: State) -> Bools:
    """Columns that have flowed while they were squeezed across the sheet, (n_columns).

    The median of their points counts: in a neck the pressure of single points wanders.
    """
    points = state.damage[..., SQUEEZED].reshape(strip(body).count, -1)
    squeezed: Bools = np.median(points, axis=1) > IRONED
    return squeezed


def _layers(body: Body, values: Floats) -> Floats:
    """Means of the elements, (n_columns, n_layers)."""
    columns = strip(body)
    means: Floats = values.mean(axis=1).reshape(columns.count, columns.layers)
    return means
