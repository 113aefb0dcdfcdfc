"""Flow curves: true stress [MPa] against equivalent plastic strain [-]."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from formsim.arrays import Floats

# Ludwik and Hockett-Sherby leave zero strain with an infinite slope.
_FIRST_STRAIN = 1e-14


class FlowCurve(Hashable, Protocol):
    """Hardening of the sheet in uniaxial tension along the sheet plane."""

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        ...

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope d(stress)/d(plastic strain) [MPa], same shape."""
        ...


@dataclass(frozen=True)
class Voce:
    """Saturating hardening, with an optional straight part.

    ``stress = saturation - drop * exp(-rate * strain) + linear * strain``
    Source: E. Voce, "The relationship between stress and strain for homogeneous
    deformation", J. Inst. Metals 74, 1948 (memory).

    Attributes
    ----------
    saturation : stress approached at large strain, without the straight part [MPa]
    drop : saturation less initial yield stress [MPa]
    rate : speed of saturation [-]
    linear : slope of the straight part [MPa]
    """

    saturation: float
    drop: float
    rate: float
    linear: float = 0.0

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        ep = np.asarray(strain, dtype=np.float64)
        return self.saturation - self.drop * np.exp(-self.rate * ep) + self.linear * ep

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope [MPa] at plastic strains [-], any shape."""
        ep = np.asarray(strain, dtype=np.float64)
        return self.drop * self.rate * np.exp(-self.rate * ep) + self.linear


@dataclass(frozen=True)
class Swift:
    """Power law with a strain offset: ``stress = strength * (prestrain + strain)**exponent``.

    Source: H. W. Swift, "Plastic instability under plane stress",
    J. Mech. Phys. Solids 1, 1952 (memory).

    Attributes
    ----------
    strength : stress at a strain of 1 - prestrain [MPa]
    prestrain : strain offset, above zero [-]
    exponent : hardening exponent [-]
    """

    strength: float
    prestrain: float
    exponent: float

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        total = self.prestrain + np.asarray(strain, dtype=np.float64)
        return self.strength * total**self.exponent

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope [MPa] at plastic strains [-], any shape."""
        total = self.prestrain + np.asarray(strain, dtype=np.float64)
        return self.strength * self.exponent * total ** (self.exponent - 1.0)


@dataclass(frozen=True)
class Hollomon:
    """Power law ``strength * total**exponent`` that leaves the elastic line.

    The total strain is taken as the plastic strain plus the strain at yield, where
    the power law crosses the elastic line: ``(strength / young)**(1 / (1 - exponent))``.
    Source: J. H. Hollomon, "Tensile deformation", Trans. AIME 162, 1945 (memory).

    Attributes
    ----------
    strength : stress at a total strain of 1 [MPa]
    exponent : hardening exponent, below 1 [-]
    young : Young's modulus [MPa]
    """

    strength: float
    exponent: float
    young: float

    @cached_property
    def _shifted(self) -> Swift:
        yield_strain = (self.strength / self.young) ** (1.0 / (1.0 - self.exponent))
        return Swift(self.strength, yield_strain, self.exponent)

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        return self._shifted.stress(strain)

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope [MPa] at plastic strains [-], any shape."""
        return self._shifted.slope(strain)


@dataclass(frozen=True)
class Ludwik:
    """Power law above a yield stress: ``yield_stress + strength * strain**exponent``.

    With an exponent below 1 the slope at zero strain is infinite; ``slope`` gives
    its value at a plastic strain of 1e-14 there.
    Source: P. Ludwik, "Elemente der technologischen Mechanik", 1909 (memory).

    Attributes
    ----------
    yield_stress : initial yield stress [MPa]
    strength : hardening at a plastic strain of 1 [MPa]
    exponent : hardening exponent [-]
    """

    yield_stress: float
    strength: float
    exponent: float

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        ep = np.asarray(strain, dtype=np.float64)
        return self.yield_stress + self.strength * ep**self.exponent

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope [MPa] at plastic strains [-], any shape."""
        ep = np.maximum(np.asarray(strain, dtype=np.float64), _FIRST_STRAIN)
        return self.strength * self.exponent * ep ** (self.exponent - 1.0)


@dataclass(frozen=True)
class HockettSherby:
    """Saturating hardening: ``saturation - drop * exp(-rate * strain**exponent)``.

    With an exponent below 1 the slope at zero strain is infinite; ``slope`` gives
    its value at a plastic strain of 1e-14 there.
    Source: J. E. Hockett and O. D. Sherby, "Large strain deformation of polycrystalline
    metals at low homologous temperatures", J. Mech. Phys. Solids 23, 1975 (memory).

    Attributes
    ----------
    saturation : stress approached at large strain [MPa]
    drop : saturation less initial yield stress [MPa]
    rate : speed of saturation [-]
    exponent : power of the strain [-]
    """

    saturation: float
    drop: float
    rate: float
    exponent: float

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        ep = np.asarray(strain, dtype=np.float64)
        return self.saturation - self.drop * np.exp(-self.rate * ep**self.exponent)

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope [MPa] at plastic strains [-], any shape."""
        ep = np.maximum(np.asarray(strain, dtype=np.float64), _FIRST_STRAIN)
        power = ep**self.exponent
        rise = self.drop * np.exp(-self.rate * power)
        return rise * self.rate * self.exponent * power / ep


@dataclass(frozen=True)
class SwiftVoce:
    """Blend of a power law and a saturating curve: ``share * swift + (1 - share) * voce``.

    Both parts may fit a tensile test alike; the share says how far the metal goes on hardening
    beyond it.
    Source: common practice for sheet, no source.

    Attributes
    ----------
    swift, voce : the two parts
    share : of the power law, 0 to 1 [-]
    """

    swift: Swift
    voce: Voce
    share: float

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        rising, saturating = self.swift.stress(strain), self.voce.stress(strain)
        return self.share * rising + (1.0 - self.share) * saturating

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope [MPa] at plastic strains [-], any shape."""
        rising, saturating = self.swift.slope(strain), self.voce.slope(strain)
        return self.share * rising + (1.0 - self.share) * saturating


@dataclass(frozen=True)
class Table:
    """Measured points joined by a monotone cubic; beyond the last one, a straight line.

    The straight line keeps the slope the cubic has at the last point, so the curve is
    smooth there; it is an extrapolation, not a measurement.
    Source of the cubic: F. N. Fritsch and J. Butland, "A method for constructing local
    monotone piecewise cubic interpolants", SIAM J. Sci. Stat. Comput. 5, 1984 (memory).

    Attributes
    ----------
    strains : plastic strains, rising from zero [-]
    stresses : flow stresses there, never falling [MPa]
    """

    strains: tuple[float, ...]
    stresses: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse points that are no flow curve."""
        strain, stress = np.array(self.strains), np.array(self.stresses)
        if len(strain) < 2 or strain[0] != 0.0 or np.any(np.diff(strain) <= 0.0):
            msg = "a flow table needs two or more points with strain rising from zero"
            raise ValueError(msg)
        if stress[0] <= 0.0 or np.any(np.diff(stress) < 0.0):
            msg = "a flow table needs positive stress that never falls"
            raise ValueError(msg)

    @cached_property
    def _cubic(self) -> PchipInterpolator:
        return PchipInterpolator(self.strains, self.stresses)

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        ep = np.asarray(strain, dtype=np.float64)
        last = self.strains[-1]
        inside = np.minimum(ep, last)
        return np.asarray(self._cubic(inside) + self._cubic(last, 1) * (ep - inside))

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope [MPa] at plastic strains [-], any shape."""
        ep = np.asarray(strain, dtype=np.float64)
        return np.asarray(self._cubic(np.minimum(ep, self.strains[-1]), 1))


@dataclass(frozen=True)
class Softened:
    """A flow curve brought down by one factor, as an oven cure does with worked metal.

    Attributes
    ----------
    before : flow curve before
    factor : share of the stress that is left, at every plastic strain [-]
    """

    before: FlowCurve
    factor: float

    def stress(self, strain: npt.ArrayLike) -> Floats:
        """Flow stress [MPa] at plastic strains [-], any shape."""
        return self.factor * self.before.stress(strain)

    def slope(self, strain: npt.ArrayLike) -> Floats:
        """Hardening slope [MPa] at plastic strains [-], any shape."""
        return self.factor * self.before.slope(strain)
