"""Limit curve in the plane of minor and major strain, and how far a place has come towards it.

A curve speaks of the middle of the sheet, stretched on a straight path without pressure across it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from formsim.arrays import Floats
from formsim.case.limits import (
    FormingLimit,
    KeelerBrazier,
    MarciniakKuczynski,
    SwiftHill,
    TableLimit,
)
from formsim.case.points import StrainPoints
from formsim.case.schema import Case
from formsim.errors import TheoryRangeError
from formsim.material.flow import FlowCurve
from formsim.material.model import Material
from formsim.results.risk_words import NO_LIMIT
from formsim.results.theory.groove import groove_strains
from formsim.results.theory.instability import hill_localised_strain, swift_diffuse_strain
from formsim.results.theory.keeler import major_limit

LEFT, RIGHT = 10, 20
"""Straight paths on both sides of plane strain for which a curve is worked out."""

SHORT = 0.05
"""How far minor over major strain may fall short of tension or balanced stretching unsaid."""

SLIGHT = 0.05
"""Share of the way that bends and blips make in sheet that gets no thinner; our own number."""

PEAKED = 1.15
"""Major strain of a given curve in plane strain over its lowest from which it is doubted: curves
are lowest there or a little to the right (common practice, no source)."""

VALIDITY = (
    "the more severe of two readings: share of the straight way from zero to the curve, and major"
    " strain over that of the curve at equal minor strain. Holds for straight strain paths of the"
    " middle of the sheet, stretched without pressure across it; ironed places are left out from"
    " then on; left of simple tension the curve goes on at constant thickness, and no limit applies"
    " where the sheet is pressed together and hardly gets thinner"
)


@dataclass(frozen=True)
class LimitCurve:
    """Points of a limit curve in true strain, minor over major strain rising.

    Attributes
    ----------
    minor, major : (n) [-]
    source : where it comes from, for a table and a figure
    added : first points that were put before those given, level up to simple tension
    """

    minor: Floats
    major: Floats
    source: str
    added: int = 0

    def share(self, major: Floats, minor: Floats) -> Floats:
        """The more severe of ``straight`` and ``level``, 1 on the curve, any shape [-].

        Both are not a number right of the curve, where strains have passed its lowest point.
        """
        found: Floats = np.fmax(self.straight(major, minor), self.level(major, minor))
        return found

    def straight(self, major: Floats, minor: Floats) -> Floats:
        """How far strains have come on the straight way from zero to the curve, any shape [-].

        Left of the curve the loss of thickness counts, over that at its left end; zero where the
        sheet does not get thinner, since that way never meets the curve.
        """
        level = np.maximum(major, 1e-300)
        path = minor / level
        ends = self.minor / self.major
        place = np.clip(np.searchsorted(ends, path, side="right") - 1, 0, len(ends) - 2)
        a, b = self.minor[place], self.major[place]
        run, rise = self.minor[place + 1] - a, self.major[place + 1] - b
        reach = (b * run - a * rise) / np.where(run - path * rise == 0.0, np.inf, run - path * rise)
        share = np.where(reach > 0.0, level / np.where(reach > 0.0, reach, np.inf), 0.0)
        thinned = (major + minor) / (self.major[0] + self.minor[0])
        return self._judged(major, minor, np.where(path < ends[0], thinned, share))

    def level(self, major: Floats, minor: Floats) -> Floats:
        """Major strain over that of the curve at equal minor strain, any shape [-].

        Not a number beyond the largest minor strain of the curve; zero where sheet pressed around
        has hardly got thinner.
        Source: the usual reading of a limit diagram (Keeler and Backofen 1963, ISO 12004-2;
        memory); a margin of a tenth below the curve is common practice (memory).
        """
        # A curve that turns back has its first branch from plane strain on the outside.
        ahead = np.maximum.accumulate(self.minor)
        rising = np.concatenate([[True], self.minor[1:] > ahead[:-1]])
        limit = np.interp(minor, self.minor[rising], self.major[rising], right=np.nan)
        thin = self.major[0] + self.minor[0]
        limit = np.where(minor < self.minor[0], thin - minor, limit)
        pressed = (minor < self.minor[0] / self.major[0] * major) & (major + minor < SLIGHT * thin)
        return self._judged(major, minor, np.where(pressed, 0.0, major / limit))

    def _judged(self, major: Floats, minor: Floats, share: Floats) -> Floats:
        """A reading where one holds.

        Right of the curve strains are safe below its lowest point; beyond it nothing is known.
        """
        lowest = major / float(self.major.min())
        right = minor > (self.minor[-1] / self.major[-1] + 1e-9) * major
        found = np.where(right, np.where(lowest < 1.0, lowest, np.nan), share)
        return np.where((major > 0.0) & (major + minor > 0.0), found, 0.0)


@dataclass(frozen=True)
class GivenCurve:
    """Limit curve of a case, or why there is none.

    Attributes
    ----------
    curve : None where none is given or the formula does not hold
    note : why there is none
    warnings : why a curve that was asked for is not there, or what it lacks
    """

    curve: LimitCurve | None
    note: str = ""
    warnings: tuple[str, ...] = ()


def limit_curve(case: Case) -> GivenCurve:
    """Limit curve the case asks for: its own, else that of the card."""
    if case.forming_limit is None:
        return GivenCurve(None, NO_LIMIT)
    material = Material.from_card(case.sheet.material)
    try:
        curve = _curve(case.forming_limit, material, case.sheet.thickness)
    except TheoryRangeError as error:
        note = f"no limit curve: {error}"
        return GivenCurve(None, note, (note,))
    return GivenCurve(curve, warnings=tuple(_lacks(curve, material.r_bar, case.forming_limit)))


def _lacks(curve: LimitCurve, r_bar: float, limit: FormingLimit) -> Iterator[str]:
    """What a curve does not say of states that drawn parts have, or says strangely."""
    plane = 1.0 / float(curve.straight(np.array([1.0]), np.array([0.0]))[0])
    lowest = int(curve.major.argmin())
    if plane > PEAKED * float(curve.major[lowest]):
        what, why = "limit curve worked out from the card", "it follows so from the flow curve"
        if isinstance(limit, TableLimit):
            what, why = "given limit curve", "so look for an error in the points"
        elif isinstance(limit, SwiftHill):
            why = "Swift's line beside it is that of a spread neck, before the sheet parts"
        yield (
            f"the {what} is higher in plane strain ({plane:.3f}) than at a minor strain"
            f" of {curve.minor[lowest]:.3f} ({curve.major[lowest]:.3f}): sheet necks earliest close"
            f" to plane strain; {why}"
        )
    if curve.added:
        first, tension = curve.minor[curve.added] / curve.major[curve.added], tension_path(r_bar)
        yield (
            f"the given limit curve ends at {first:.2f} of minor over major strain, short of simple"
            f" tension ({tension:.2f} for this sheet): it is taken level up to there, which errs on"
            " the safe side; walls of cups are strained so: add measured points"
        )


def _curve(limit: FormingLimit, material: Material, thickness: float) -> LimitCurve:
    match limit:
        case TableLimit():
            points = limit.points()
            source = f"given curve: {limit.source}"
            return _up_to_tension(points, material.r_bar, source)
        case KeelerBrazier():
            minor = np.linspace(-0.3, 0.3, LEFT + RIGHT + 1)
            major = np.array([major_limit(float(e), thickness, limit.exponent) for e in minor])
            inside = minor <= major
            source = f"Keeler and Brazier 1977 (memory), n = {limit.exponent:g}: {limit.source}"
            return LimitCurve(minor[inside], major[inside], source)
        case MarciniakKuczynski():
            paths = _paths(material.r_bar)
            major = _groove_strains(material.flow, limit.imperfection, material.r_bar)
            _refuse_none(major)
            source = (
                f"Marciniak-Kuczynski from the card, imperfection {limit.imperfection:g}:"
                f" {limit.source}"
            )
            return LimitCurve(paths * major, major, source)
        case SwiftHill():
            paths = _paths(material.r_bar)
            major = np.array([_instability(material, float(path)) for path in paths])
            return LimitCurve(paths * major, major, "Hill 1952 left, Swift 1952 right, from card")


def _up_to_tension(points: StrainPoints, r_bar: float, source: str) -> LimitCurve:
    """Given curve, level from its left end up to simple tension where it ends short of it.

    Measured curves rise to the left, so that this is cautious; common practice, no source.
    """
    minor, major = np.array(points.minor), np.array(points.major)
    tension = tension_path(r_bar)
    if minor[0] / major[0] <= tension + SHORT:
        return LimitCurve(minor, major, source)
    left = np.array([tension * major[0]]), major[:1]
    return LimitCurve(
        np.concatenate([left[0], minor]), np.concatenate([left[1], major]), source, added=1
    )


def tension_path(r_bar: float) -> float:
    """Minor over major strain in simple tension [-]."""
    return -r_bar / (1.0 + r_bar)


@lru_cache(maxsize=16)
def _groove_strains(flow: FlowCurve, imperfection: float, r_bar: float) -> Floats:
    """Major strains on all paths; a second to find, and the same for many variants of a study."""
    major = groove_strains(flow, _paths(r_bar), imperfection, r_bar)
    major.flags.writeable = False
    return major


def _instability(material: Material, path: float) -> float:
    if path <= 0.0:
        return hill_localised_strain(material.flow, path, material.r_bar)
    return swift_diffuse_strain(material.flow, path, material.r_bar)


def _paths(r_bar: float) -> Floats:
    """Minor over major strain from tension over plane strain to balanced stretching."""
    left = np.linspace(tension_path(r_bar), 0.0, LEFT + 1)
    return np.concatenate([left[:-1], np.linspace(0.0, 1.0, RIGHT + 1)])


def _refuse_none(major: Floats) -> None:
    if float(major.min()) <= 0.0:
        message = "the groove runs away before the sheet yields: imperfection too deep for the card"
        raise TheoryRangeError(message, hint="take an imperfection nearer to 1")
