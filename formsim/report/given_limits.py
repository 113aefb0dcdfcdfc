"""What the limits of a case come to, told before anything is solved."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from formsim.case.schema import Case
from formsim.material.model import Material
from formsim.report.lines import folded
from formsim.results.damage import DamageLaw, damage_law
from formsim.results.limit_curve import (
    SHORT,
    GivenCurve,
    LimitCurve,
    limit_curve,
    tension_path,
)
from formsim.results.risk import unused_limits


def given_limits_text(case: Case) -> str:
    """Limit curve and critical damage of a case, or why they cannot be had; empty without any."""
    lines = list[str]()
    if case.forming_limit:
        given = limit_curve(case)
        lines += folded(_curve_line(given, Material.from_card(case.sheet.material).r_bar))
        if given.curve is not None:
            lines += [line for text in given.warnings for line in folded(f"warning: {text}")]
    if case.damage:
        lines += folded(_damage_line(damage_law(case)))
    if case.cut_edge:
        edge = case.cut_edge
        lines += folded(f"cut edge: up to a log hoop strain of {edge.largest:.3f} ({edge.source})")
    for text in unused_limits(case):
        lines += folded(f"warning: {text}")
    return "\n".join(lines)


def _curve_line(given: GivenCurve, r_bar: float) -> str:
    if given.curve is None:
        return f"warning: {given.note}; the run will judge without one"
    ends = ", ".join(_ends(given.curve, r_bar))
    told = f"limit curve, {given.curve.source}: major true strain {ends}"
    right = float(given.curve.minor[-1] / given.curve.major[-1])
    if right < 1.0 - SHORT:
        told += (
            f"; it ends at {right:.2f} of minor over major strain, and beyond that a place is"
            " judged only as long as it lies below the lowest point of the curve"
        )
    return told


def _ends(curve: LimitCurve, r_bar: float) -> Iterator[str]:
    """Major strains on the usual paths, as far as the curve reaches."""
    path = curve.minor / curve.major
    usual = ("in simple tension", tension_path(r_bar)), ("in plane strain", 0.0)
    for name, at in (*usual, ("stretched alike all round", 1.0)):
        if path[0] - 1e-9 <= at <= path[-1] + 1e-9:
            share = float(curve.straight(np.array([1.0]), np.array([at]))[0])
            yield f"{1.0 / share:.3f} {name}"


def _damage_line(law: DamageLaw) -> str:
    if law.critical is None:
        return f"warning: {law.source}; the run will judge without one"
    return f"damage, {law.name}: critical at {law.critical:.3g} ({law.source})"
