"""Heat of plastic work that stays where it arises, and how it softens the metal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from formsim.arrays import Floats

TAYLOR_QUINNEY = 0.9
"""Share of plastic work that turns into heat (G. I. Taylor and H. Quinney, 1934; memory)."""

LEAST = 0.05
"""Factor below which no heat softens the metal: it would melt, and the model ends; our own."""


class Softening(Protocol):
    """Factor on the flow stress over the temperature."""

    def factor(self, temperature: npt.ArrayLike) -> Floats:
        """Flow stress over that at the reference [-] at temperatures [degC], any shape."""
        ...


@dataclass(frozen=True)
class LinearSoftening:
    """``factor = 1 - per_kelvin (T - reference)``.

    Source: first order about the reference; common practice, no source.

    Attributes
    ----------
    per_kelvin : share of the flow stress lost by a degree [1/K]
    reference : temperature at which the flow curve of the card holds [degC]
    """

    per_kelvin: float
    reference: float

    def factor(self, temperature: npt.ArrayLike) -> Floats:
        """Flow stress over that at the reference [-] at temperatures [degC], any shape."""
        above = np.maximum(np.asarray(temperature, dtype=np.float64) - self.reference, 0.0)
        return np.maximum(1.0 - self.per_kelvin * above, LEAST)


@dataclass(frozen=True)
class JohnsonCookSoftening:
    """``factor = 1 - ((T - reference)/(melting - reference))**exponent``.

    Source: G. R. Johnson and W. H. Cook, 7th Int. Symp. on Ballistics, 1983, the thermal term
    (memory).

    Attributes
    ----------
    melting : melting temperature [degC]
    exponent : power of the share of the way to melting [-]
    reference : temperature at which the flow curve of the card holds [degC]
    """

    melting: float
    exponent: float
    reference: float

    def factor(self, temperature: npt.ArrayLike) -> Floats:
        """Flow stress over that at the reference [-] at temperatures [degC], any shape."""
        given = np.asarray(temperature, dtype=np.float64)
        share = np.clip((given - self.reference) / (self.melting - self.reference), 0.0, 1.0)
        return np.maximum(1.0 - share**self.exponent, LEAST)


def temperature_rise(
    work_density: float, density: float, heat_capacity: float, share: float = TAYLOR_QUINNEY
) -> float:
    """Rise of temperature when no heat leaves the metal [K].

    Parameters
    ----------
    work_density : plastic work per volume [MPa]
    density : of the metal [kg/m3]
    heat_capacity : of the metal [J/(kg K)]
    share : of the work that turns into heat, up to 1 [-]

    Source: G. I. Taylor and H. Quinney, "The latent energy remaining in a metal after cold
    working", Proc. Roy. Soc. A 143, 1934 (memory): ``share w/(rho c)``.
    """
    return 1e6 * share * work_density / (density * heat_capacity)


@dataclass(frozen=True)
class Heating:
    """How plastic work heats the metal; nothing is conducted away within a stage.

    Attributes
    ----------
    per_work : rise of temperature per plastic work [K/MPa]
    ambient : temperature the metal has, or cools to, before a stage [degC]
    softening : of the flow stress with temperature, None for none
    """

    per_work: float
    ambient: float
    softening: Softening | None = None
