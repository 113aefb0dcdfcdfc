"""How far a number may be off for its mesh: observed order, extrapolation and error bar.

The grid convergence index of P. J. Roache, J. Fluids Eng. 116, 1994, p. 405, by the procedure of
I. B. Celik et al., J. Fluids Eng. 130, 2008, 078001, which ASME V&V 20-2009 uses too. What is
taken from memory of these and other sources says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from formsim.results.theory.limits import require

MONOTONE, EQUAL, OSCILLATORY, DIVERGING = "monotone", "equal", "oscillatory", "diverging"
OUT_OF_RANGE, MOVING, NOT_ENOUGH = "out of range", "moving", "not enough"
ERRATIC = (OSCILLATORY, DIVERGING, OUT_OF_RANGE, MOVING)

THREE, TWO = 1.25, 3.0
"""Factors of safety with the order of three meshes and without (Roache 1994; Celik et al. 2008)."""

FORMAL, SLOWEST, FASTEST = 2.0, 0.5, 4.0
"""Order of strains of quadratic elements (our choice for all numbers); slowest order taken for
convergence (Oberkampf and Roy 2010, memory); order of their energy, the fastest to be had
(G. Strang and G. Fix 1973, memory)."""

NEAR = 1.1
"""How far an order may lie above a theoretical one (Oberkampf and Roy 2010, memory)."""

ASSUMED = 1.0
"""Order taken where two solutions tell none: that of contact and of increments (our choice)."""

SPREAD = 3.0
"""Erratic numbers: bar over the spread of all (L. Eca and M. Hoekstra, memory: J. Comput. Phys.
262, 2014, and the workshops before it)."""

_STEEPEST = 60.0


@dataclass(frozen=True)
class Convergence:
    """How a number behaves on a family of meshes, and what follows for that on the finest.

    Attributes
    ----------
    kind : ``monotone``, ``equal`` within the noise, ``oscillatory``, ``diverging``,
        ``out of range``, ``moving`` or ``not enough``
    order : observed order [-]; None where there is none
    extrapolated : number at vanishing size of the elements, only where ``monotone``
    uncertainty : half the length of the bar about the number of the finest mesh; None without any
    """

    kind: str
    order: float | None
    extrapolated: float | None
    uncertainty: float | None


def observed_order(changes: float, fine_ratio: float, coarse_ratio: float) -> float:
    """Order p of ``phi = phi0 + C h**p`` on three meshes [-], 60 at most either way.

    Parameters
    ----------
    changes : change from medium to coarse over that from fine to medium, above zero [-]
    fine_ratio, coarse_ratio : element sizes, medium over fine and coarse over medium, above 1 [-]

    Returns
    -------
    The one order that fits; zero or below where the changes grow with finer meshes.

    Source: Celik et al. 2008, eqs. 3a to 3c (numbers of the equations from memory), solved for
    both signs of p: ``changes = r21**p (r32**p - 1) / (r21**p - 1)`` grows with p everywhere.
    """
    require(changes > 0.0, f"changes have one sign, their ratio is {changes:g}")
    require(min(fine_ratio, coarse_ratio) > 1.0, "meshes are ordered from fine to coarse")
    fine, coarse, wanted = math.log(fine_ratio), math.log(coarse_ratio), math.log(changes)

    def excess(order: float) -> float:
        return order * fine + _growth(coarse, order) - _growth(fine, order) - wanted

    low, high = -_STEEPEST, _STEEPEST
    while high - low > 1e-12 * _STEEPEST:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if excess(middle) < 0.0 else (low, middle)
    return 0.5 * (low + high)


def _growth(log_ratio: float, order: float) -> float:
    """Logarithm of ``(r**p - 1) / p``, smooth through p = 0."""
    if order == 0.0:
        return math.log(log_ratio)
    return math.log(math.expm1(order * log_ratio) / order)


def extrapolated(fine: float, medium: float, ratio: float, order: float) -> float:
    """Number at vanishing element size by two meshes and an order, in its own unit.

    Source: L. F. Richardson 1911, as in Celik et al. 2008, eq. 4 (number from memory):
    ``(r21**p phi1 - phi2) / (r21**p - 1)``.
    """
    return fine + (fine - medium) / math.expm1(order * math.log(ratio))


def index(change: float, ratio: float, order: float, factor: float) -> float:
    """Grid convergence index of the finer of two meshes, in the unit of the number.

    Parameters
    ----------
    change : difference of the numbers on both
    ratio : element sizes, coarser over finer, above 1 [-]
    order : above zero [-]
    factor : of safety [-]

    Source: Roache 1994, ``Fs |change| / (r**p - 1)``, here not divided by the number.
    """
    require(ratio > 1.0 and order > 0.0, "ratio above 1 and order above 0 wanted")
    return factor * abs(change) / math.expm1(order * math.log(ratio))


def judged(
    values: Sequence[float | None], sizes: Sequence[float], noise: float = 0.0
) -> Convergence:
    """Order, extrapolation and error bar of a number on three meshes, the finest one first.

    Parameters
    ----------
    values : on the meshes from fine to coarse, (3); None where a mesh gave none
    sizes : sizes of their elements, growing, (3), in any unit
    noise : difference that says nothing, in the unit of the number
    """
    known = [(v, h) for v, h in zip(values, sizes, strict=True) if v is not None]
    if values[0] is None or len(known) < 2:
        return Convergence(NOT_ENOUGH, None, None, None)
    if len(known) < 3:
        (fine, small), (other, large) = known
        bar = index(other - fine, large / small, ASSUMED, TWO)
        return Convergence(NOT_ENOUGH, None, None, bar)
    numbers = [value for value, _ in known]
    spread = max(numbers) - min(numbers)
    if spread <= noise:
        return Convergence(EQUAL, None, None, SPREAD * spread)
    near, far = numbers[1] - numbers[0], numbers[2] - numbers[1]
    if near * far < 0.0:
        return Convergence(OSCILLATORY, None, None, SPREAD * spread)
    if abs(far) <= noise:
        return Convergence(DIVERGING, None, None, SPREAD * spread)
    if abs(near) <= noise:
        return Convergence(OUT_OF_RANGE, None, None, SPREAD * spread)
    return _by_order(numbers, sizes[1] / sizes[0], sizes[2] / sizes[1])


def moved(found: Convergence, values: Sequence[float | None]) -> Convergence:
    """Judgement of a number that is not of one place on all meshes: no order, and a long bar."""
    known = [value for value in values if value is not None]
    if found.kind in (EQUAL, NOT_ENOUGH) or found.uncertainty is None:
        return found
    bar = max(found.uncertainty, SPREAD * (max(known) - min(known)))
    return Convergence(MOVING, None, None, bar)


def _by_order(values: Sequence[float], fine_ratio: float, coarse_ratio: float) -> Convergence:
    """Judgement of numbers that move one way."""
    fine, medium, coarse = values
    spread = SPREAD * abs(coarse - fine)
    order = observed_order((coarse - medium) / (medium - fine), fine_ratio, coarse_ratio)
    if order <= 0.0:
        return Convergence(DIVERGING, order, None, spread)
    if order < SLOWEST:
        bar = max(spread, index(medium - fine, fine_ratio, SLOWEST, TWO))
        return Convergence(OUT_OF_RANGE, order, None, bar)
    if order > NEAR * FASTEST:
        return Convergence(OUT_OF_RANGE, order, None, spread)
    factor = THREE if order <= NEAR * FORMAL else TWO
    bar = index(medium - fine, fine_ratio, min(order, FORMAL), factor)
    return Convergence(MONOTONE, order, extrapolated(fine, medium, fine_ratio, order), bar)


def step_bar(own: float, shorter: float, ratio: float, noise: float = 0.0) -> float:
    """Error bar of a number for the length of its increments, in its own unit.

    Parameters
    ----------
    own, shorter : the number with the increments in question, and with shorter ones
    ratio : increments of the first over those of the second, above 1 [-]

    Source: Roache 1994, index of the coarser of two solutions, ``r**p`` times that of the finer,
    with the order 1 of backward increments, which one pair cannot show.
    """
    change = shorter - own
    if abs(change) <= noise:
        return SPREAD * abs(change)
    return math.pow(ratio, ASSUMED) * index(change, ratio, ASSUMED, TWO)
