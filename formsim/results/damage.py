"""Damage of every column by the law a case asks for, and the critical value it is compared with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Floats
from formsim.case.limits import Oyane
from formsim.case.schema import Case
from formsim.errors import TheoryRangeError
from formsim.material.model import Material
from formsim.results.risk_words import NO_LIMIT
from formsim.results.theory.fracture import tension_damage

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

    def of(self, integrals: Floats) -> Floats:
        """Damage of columns, the worst of their layers, (..., n_columns) [-].

        Parameters
        ----------
        integrals : of a ``History``, (..., n_columns, n_layers, 3)
        """
        worst: Floats = self.layers(integrals).max(axis=-1)
        return worst

    def layers(self, integrals: Floats) -> Floats:
        """Damage of every layer, (..., n_layers) [-], of ``integrals`` (..., n_layers, 3)."""
        return self.combined(*np.moveaxis(integrals, -1, 0))

    def combined(self, tension: Floats, mean: Floats, strain: Floats) -> Floats:
        """Damage of three integrals of one shape [-]."""
        return tension if self.offset is None else mean + self.offset * strain


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
        metal = Material.from_card(case.sheet.material)
        taken = tension_damage(metal.flow, metal.r_bar, law.fracture_strain or 0.0)
    except TheoryRangeError as error:
        why = f"no critical value: {error}"
        return DamageLaw(name, offset, None, why, why)
    source = f"{SPECIMEN.format(law.fracture_strain)}: {law.source}"
    return DamageLaw(name, offset, taken.by_law(offset), source)
