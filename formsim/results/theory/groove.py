"""Marciniak-Kuczynski: a groove, thinner than the sheet, strains ahead of it until it runs away.

The sheet goes straight: its strains keep their ratio. The groove has the strain of the sheet along
itself, bears the force the sheet passes on across it, and yields by the same law; so its stress
moves towards plane strain. With ``sin(w)`` the strain along the groove over the equivalent one,
equilibrium in Hill's sheet reads ``Y_b cos(w_b) t_b = Y_a cos(w_a) t_a``, whatever the shear.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.material.flow import FlowCurve
from formsim.results.theory.instability import hill_localised_strain, path_of
from formsim.results.theory.limits import require

STEPS = 200
"""Steps of the groove's strain up to the strain of Hill's local neck in plane strain."""

LONGEST = 6.0
"""Strain of the groove at which the search is given up [-]."""

WIDEST, APART = 60.0, 1.0
"""Largest inclination tried where the minor strain is negative, and the next one [deg]."""

ROUNDS, CLOSE = 30, 1e-10
"""Most Newton steps for the strain of the sheet in one step, and the change that ends them."""


@dataclass(frozen=True)
class _Grooves:
    """Sheets on straight paths with a groove each, and how far both have come; all (n) [-].

    Attributes
    ----------
    place : where the result belongs
    first, second : principal stresses of the sheet over its flow stress
    first_share, second_share : its principal strains over the equivalent strain
    tilt : tangent of the first inclination of the groove's normal to the major strain
    strain : equivalent strain of the sheet
    thinned : log thickness of the groove over the first thickness of the sheet
    slope : ``sin(w)`` of the groove
    """

    place: Floats
    first: Floats
    second: Floats
    first_share: Floats
    second_share: Floats
    tilt: Floats
    strain: Floats
    thinned: Floats
    slope: Floats

    def only(self, keep: Bools) -> Self:
        """Some of them."""
        return type(self)(*(getattr(self, field.name)[keep] for field in fields(self)))

    @property
    def thins(self) -> Floats:
        """Thickness strain the sheet loses per equivalent strain."""
        return self.first_share + self.second_share


def groove_strains(
    curve: FlowCurve,
    paths: Floats,
    imperfection: float,
    r_bar: float = 1.0,
    *,
    steps: int = STEPS,
) -> Floats:
    """Major strain of a sheet at which a groove in it runs away, on straight paths, (n) [-].

    Parameters
    ----------
    curve : flow curve, rate-insensitive
    paths : minor over major strain, from -r/(1 + r), tension, to 1, balanced, (n) [-]
    imperfection : thickness of the groove over that of the sheet before any strain, below 1 [-]
    r_bar : mean r-value [-]
    steps : see ``STEPS``

    The groove lies across the major strain where the minor one is positive; elsewhere the
    inclination with the least strain counts, and it turns with the metal. Zero where the groove
    runs away before the sheet yields.

    Source: Z. Marciniak and K. Kuczynski, Int. J. Mech. Sci. 9, 1967; groove at an angle as in
    J. W. Hutchinson and K. W. Neale, in Mechanics of Sheet Metal Forming, 1978 (memory); rigid
    plastic, Hill 1948 with normal anisotropy.
    """
    require(0.0 < imperfection < 1.0, f"the imperfection must lie below 1, is {imperfection:g}")
    grooves, equivalent = _opened(paths, imperfection, r_bar)
    step = hill_localised_strain(curve, 0.0) / steps
    least = np.full(len(paths), np.inf)
    share, strain = r_bar / (1.0 + r_bar), 0.0
    while len(grooves.place):
        require(strain < LONGEST, "a groove of this sheet does not run away")
        grooves, gone = _advanced(curve, grooves, strain, step, share)
        place = gone.place.astype(np.int64)
        np.minimum.at(least, place, gone.strain / equivalent[place])
        place = grooves.place.astype(np.int64)
        grooves = grooves.only(grooves.strain < least[place] * equivalent[place])
        strain += step
    return least


def _opened(paths: Floats, imperfection: float, r_bar: float) -> tuple[_Grooves, Floats]:
    """All grooves to be tried before any strain; equivalent over major strain of the paths."""
    rows = []
    tilts = np.tan(np.radians(np.arange(0.0, WIDEST + 0.5 * APART, APART)))
    sheets = [path_of(float(path), r_bar) for path in paths]
    for place, (path, sheet) in enumerate(zip(paths, sheets, strict=True)):
        stress, shares = (sheet.first, sheet.second), (sheet.first_share, sheet.second_share)
        for tilt in tilts if path < 0.0 else tilts[:1]:
            rows.append((place, *stress, *shares, tilt, 0.0, np.log(imperfection), 0.0))
    grooves = _Grooves(*np.array(rows, dtype=np.float64).T)
    return grooves, np.array([sheet.equivalent for sheet in sheets])


def _advanced(
    curve: FlowCurve, grooves: _Grooves, strain: float, step: float, share: float
) -> tuple[_Grooves, _Grooves]:
    """Grooves after a step of their strain, and those that have run away by then.

    The sheet strains by ``x`` with ``(x sin(w_a)/step)**2 + cos(w_b)**2 = 1``. A groove has run
    away once it cannot even bear the load of its sheet at rest; before the sheet yields it flows
    alone.
    """
    along, across = _frame(grooves, share)
    stress = float(curve.stress(strain + step))
    thinned = grooves.thinned - step * _thinning(grooves.slope, across, share)
    bears = np.log(stress) + thinned
    cosine = np.sqrt(np.maximum(1.0 - along**2, 0.0))
    at_rest = cosine * np.exp(_force(curve, grooves, grooves.strain) - bears)
    alone = (at_rest >= 1.0) & (grooves.strain == 0.0)
    hardens = float(curve.slope(strain)) > float(curve.stress(strain)) * _thinning(
        np.zeros_like(across), across, share
    )
    gone = (at_rest >= 1.0) & ~(alone & hardens)
    more = np.zeros_like(along)
    flows = at_rest < 1.0
    more[flows] = _sheet_step(
        curve, grooves.only(flows), along[flows], cosine[flows], bears[flows], step
    )
    slope = np.sign(along) * np.minimum(np.abs(along) * more / step, 1.0)
    mean = 0.5 * (_thinning(grooves.slope, across, share) + _thinning(slope, across, share))
    after = replace(
        grooves, strain=grooves.strain + more, thinned=grooves.thinned - step * mean, slope=slope
    )
    return after.only(~gone), grooves.only(gone)


def _frame(grooves: _Grooves, share: float) -> tuple[Floats, Floats]:
    """Strain along the groove over the equivalent one; ``cos(w)`` over the stress across it."""
    spread = np.exp(grooves.strain * (grooves.first_share - grooves.second_share))
    angle = np.arctan(grooves.tilt * spread)
    cos, sin = np.cos(angle), np.sin(angle)
    across = grooves.first * cos**2 + grooves.second * sin**2
    shear = (grooves.second - grooves.first) * sin * cos / across
    root = np.sqrt(1.0 - share**2 + 2.0 * (1.0 + share) * shear**2)
    return grooves.first_share * sin**2 + grooves.second_share * cos**2, root


def _thinning(slope: Floats, across: Floats, share: float) -> Floats:
    """Thickness strain a groove loses per equivalent strain, (n) [-]."""
    cosine = np.sqrt(1.0 - slope**2)
    lost: Floats = (1.0 - share) * ((1.0 + share) * cosine / across + slope)
    return lost


def _force(curve: FlowCurve, grooves: _Grooves, strain: Floats) -> Floats:
    """Logarithm of flow stress times thickness of the sheet, (n)."""
    force: Floats = np.log(curve.stress(strain)) - grooves.thins * strain
    return force


def _sheet_step(
    curve: FlowCurve, grooves: _Grooves, along: Floats, cosine: Floats, bears: Floats, step: float
) -> Floats:
    """Strain of the sheet in one step of the groove, by Newton's method from above, (n) [-]."""
    more = np.full_like(along, step)
    for _ in range(ROUNDS):
        total = grooves.strain + more
        load = cosine * np.exp(_force(curve, grooves, total) - bears)
        rises = curve.slope(total) / curve.stress(total) - grooves.thins
        share = along / step
        miss = (more * share) ** 2 + load**2 - 1.0
        steep = 2.0 * more * share**2 + 2.0 * load**2 * rises
        better = np.clip(more - miss / np.where(steep > 0.0, steep, np.inf), 0.0, step)
        if float(np.abs(better - more).max(initial=0.0)) < CLOSE * step:
            return better
        more = better
    return more
