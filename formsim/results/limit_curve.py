"""Limit curve in the plane of minor and major strain, and how far a place has come towards it.

A curve speaks of the middle of the sheet, stretched on a straight path without pressure across it.
"""

from __future__ import annotations

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

VALIDITY = (
    "holds for straight strain paths of the middle of the sheet, stretched without pressure across"
    " it; ironed places are left out from then on; left of its end the curve goes on at constant"
    " thickness"
)


@dataclass(frozen=True)
class LimitCurve:
    """Points of a limit curve in true strain, minor over major strain rising.

    Attributes
    ----------
    minor, major : (n) [-]
    source : where it comes from, for a table and a figure
    """

    minor: Floats
    major: Floats
    source: str

    def share(self, major: Floats, minor: Floats) -> Floats:
        """How far strains have come on the straight way to the curve, 1 on it, (n) [-].

        Left of the curve the loss of thickness counts, over that at its left end; not a number
        right of it.
        """
        level = np.maximum(major, 1e-300)
        path = minor / level
        ends = self.minor / self.major
        place = np.clip(np.searchsorted(ends, path, side="right") - 1, 0, len(ends) - 2)
        a, b = self.minor[place], self.major[place]
        run, rise = self.minor[place + 1] - a, self.major[place + 1] - b
        reach = (b * run - a * rise) / np.where(run - path * rise == 0.0, np.inf, run - path * rise)
        share = np.where(major > 0.0, level / np.where(reach > 0.0, reach, np.inf), 0.0)
        thinned = (major + minor) / (self.major[0] + self.minor[0])
        share = np.where(path < ends[0], np.maximum(thinned, 0.0), share)
        found: Floats = np.where(path > ends[-1] + 1e-9, np.nan, share)
        return np.where(major > 0.0, found, 0.0)


@dataclass(frozen=True)
class GivenCurve:
    """Limit curve of a case, or why there is none.

    Attributes
    ----------
    curve : None where none is given or the formula does not hold
    note : why there is none
    """

    curve: LimitCurve | None
    note: str = ""


def limit_curve(case: Case) -> GivenCurve:
    """Limit curve the case asks for: its own, else that of the card."""
    if case.forming_limit is None:
        return GivenCurve(None, NO_LIMIT)
    material = Material.from_card(case.sheet.material)
    try:
        return GivenCurve(_curve(case.forming_limit, material, case.sheet.thickness))
    except TheoryRangeError as error:
        return GivenCurve(None, f"no limit curve: {error}")


def _curve(limit: FormingLimit, material: Material, thickness: float) -> LimitCurve:
    match limit:
        case TableLimit():
            points = limit.points()
            minor, major = np.array(points.minor), np.array(points.major)
            return LimitCurve(minor, major, f"given curve: {limit.source}")
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
    left = np.linspace(-r_bar / (1.0 + r_bar), 0.0, LEFT + 1)
    return np.concatenate([left[:-1], np.linspace(0.0, 1.0, RIGHT + 1)])


def _refuse_none(major: Floats) -> None:
    if float(major.min()) <= 0.0:
        message = "the groove runs away before the sheet yields: imperfection too deep for the card"
        raise TheoryRangeError(message, hint="take an imperfection nearer to 1")
