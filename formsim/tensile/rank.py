"""Which of the fitted laws to take, and how far apart they lead."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from formsim.tensile.fit import Fit

ALIKE, ALIKE_STRESS = 0.5, 0.0015
"""Misfit beyond that of the best law, ``sqrt(rms^2 - best^2)``, up to which the points do not tell
two laws apart: over the residual of the best, or over the strength, whichever is more."""

AS_GOOD = 1.1
"""Residual over the lowest up to which fewer constants are worth more."""

SAME_STRAIN = 0.05
"""Difference of uniform strains, over the measured one, that counts as none."""

FAR = (0.5, 1.0)
"""Plastic strains at which the extrapolations are compared [-]."""


@dataclass(frozen=True)
class Ranking:
    """Fitted laws in order, the recommended one first.

    Attributes
    ----------
    fits : all of them; those with a low residual first
    alike : how many of the first ones the points do not tell apart
    why : reason for the first, one sentence
    uniform : measured plastic logarithmic strain at the largest force [-]
    """

    fits: tuple[Fit, ...]
    alike: int
    why: str
    uniform: float

    @property
    def best(self) -> Fit:
        """The recommended law."""
        return self.fits[0]

    def spread(self, strain: float, *, alike: bool = True) -> tuple[float, float]:
        """Lowest and highest stress at a plastic strain of the laws told alike, or of all [MPa]."""
        fits = self.fits[: self.alike] if alike else self.fits
        stresses = [float(fit.curve.stress(strain)) for fit in fits]
        return min(stresses), max(stresses)


def rank(fits: Sequence[Fit], uniform: float, strength: float) -> Ranking:
    """Order the laws by residual first, then by how well they foretell the uniform strain.

    Parameters
    ----------
    uniform : measured plastic logarithmic strain at the largest force [-]
    strength : tensile strength [MPa]

    Source: Considere's law as in ``considere_strain``; the order is our own.
    """
    least = min(fit.rms for fit in fits)
    limit = math.hypot(least, max(ALIKE * least, ALIKE_STRESS * strength))

    def off(fit: Fit) -> float:
        return abs((fit.uniform or 0.0) - uniform) / uniform

    alike = [fit for fit in fits if fit.rms <= limit]
    nearest = min(off(fit) for fit in alike)
    alike.sort(
        key=lambda fit: (
            off(fit) > nearest + SAME_STRAIN,
            bool(fit.edges),
            fit.rms > AS_GOOD * least,
            len(fit.table.model_dump(exclude_defaults=True)),
            fit.rms,
        )
    )
    rest = sorted((fit for fit in fits if fit.rms > limit), key=lambda fit: fit.rms)
    return Ranking((*alike, *rest), len(alike), _reason(alike, least, off), uniform)


def _reason(alike: Sequence[Fit], least: float, off: Callable[[Fit], float]) -> str:
    """Why the first of the laws that fit alike is recommended."""
    best = alike[0]
    low = f"its residual is the lowest ({best.rms:.2f} MPa)"
    if best.rms > least:
        low = f"its residual is as good as the lowest ({best.rms:.2f} and {least:.2f} MPa)"
    if len(alike) == 1:
        return f"{low} and no other law fits as well"
    if best.uniform is None:
        return f"{low}; none of the laws that fit has a uniform strain"
    tale = f"its uniform strain is off the measured one by {100.0 * off(best):.0f} %"
    others = max(off(fit) for fit in alike[1:])
    return f"{low} and {tale}, those of the others that fit alike by up to {100.0 * others:.0f} %"
