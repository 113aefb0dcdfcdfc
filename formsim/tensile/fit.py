"""Flow curves fitted to the points of one or more tensile tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from pydantic import TypeAdapter, ValidationError

from formsim.arrays import Floats
from formsim.case.card import Flow
from formsim.errors import Fault, TensileError, TheoryRangeError
from formsim.material.flow import FlowCurve
from formsim.material.model import flow_curve
from formsim.results.theory.instability import considere_strain
from formsim.tensile.evaluate import Values
from formsim.tensile.families import FAMILIES, Constants, Family, Points, stretch_means

FIRST = 0.002
"""Plastic strain of the first point that is fitted: that of the proof stress Rp0.2 [-]."""

BINS = 100
"""Stretches of plastic strain of which each test gives one mean point."""

LEAST = 8
"""Fewest points that are fitted."""

EDGE = 1e-6
"""Distance from a bound, over the width of its band, within which a constant lies on it."""

DIGITS = 6

_FLOW: TypeAdapter[Flow] = TypeAdapter(Flow)


@dataclass(frozen=True)
class Fit:
    """One law fitted to all points.

    Attributes
    ----------
    kind : of law, as a card names it
    table : table of the card
    curve : flow curve of that table
    errors : standard errors of its constants; of a blend that of the share alone
    rms : root mean square of the residuals [MPa]
    uniform : plastic strain at the largest force by the law of Considere [-]; None for none
    edges : constants that lie at an end of their band
    """

    kind: str
    table: Flow
    curve: FlowCurve
    errors: Constants
    rms: float
    uniform: float | None
    edges: tuple[str, ...]


def points_of(tests: Sequence[Values]) -> Points:
    """Mean points of every test from a plastic strain of 0.002, or where yielding is even, on.

    Each test counts alike: its points are means over equal stretches of plastic strain.

    Raises
    ------
    TensileError : too few points
    """
    means = []
    for values in tests:
        begin, end = max(FIRST, values.yielded), values.uniform_true
        if end <= 1.5 * begin:
            expected = (
                f"uniform plastic strain {end:.4f} is too short for a flow curve to be fitted"
            )
            raise TensileError(values.test.file, [Fault("curve", "", expected)])
        inside = (values.strain >= begin) & (values.strain <= end)
        found = Points(values.strain[inside], values.stress[inside])
        mean = stretch_means(found, BINS, begin, end)
        if len(mean.strain) < LEAST:
            expected = f"only {len(mean.strain)} points between yielding and the largest force"
            raise TensileError(values.test.file, [Fault("curve", "", expected)])
        means.append(mean)
    strain = np.concatenate([mean.strain for mean in means])
    stress = np.concatenate([mean.stress for mean in means])
    order = np.argsort(strain, kind="stable")
    return Points(strain[order], stress[order])


def fit_all(points: Points, young: float) -> tuple[Fit, ...]:
    """All laws fitted to the points, the blend of Swift and Voce last."""
    fits = [fit_family(family, points, young) for family in FAMILIES.values()]
    by_kind = {fit.kind: fit for fit in fits}
    return (*fits, fit_blend(by_kind["swift"], by_kind["voce"], points))


def fit_family(family: Family, points: Points, young: float) -> Fit:
    """One law by least squares: the best of searches from several starts, within the bands."""
    from scipy.optimize import least_squares

    low, high = np.array(family.low), np.array(family.high)
    level = float(points.stress.mean())
    inner = 1e-9 * (high - low)

    def rest(u: Floats) -> Floats:
        return (family.curve(u, young).stress(points.strain) - points.stress) / level

    found = min(
        (
            least_squares(
                rest, np.clip(start, low + inner, high - inner), bounds=(low, high), x_scale="jac"
            )
            for start in family.starts(points)
        ),
        key=lambda search: float(search.cost),
    )
    u = np.asarray(found.x)
    constants = {name: float(value) for name, value in family.constants(u).items()}
    errors = _errors(family, u, np.asarray(found.jac), np.asarray(found.fun))
    close = np.minimum(u - low, high - u) <= EDGE * (high - low)
    edges = tuple(name for name, edge in zip(constants, close, strict=True) if edge)
    return _fit(family.kind, constants, errors, edges, points, young)


def fit_blend(swift: Fit, voce: Fit, points: Points) -> Fit:
    """Blend of the fitted Swift and Voce laws; only the share is fitted.

    With all seven constants free a test up to its largest force does not say which is which.
    """
    rising, saturating = swift.curve.stress(points.strain), voce.curve.stress(points.strain)
    apart = rising - saturating
    squares = float(apart @ apart)
    free = float(apart @ (points.stress - saturating)) / squares if squares > 0.0 else 0.5
    share = float(np.clip(free, 0.0, 1.0))
    rest = saturating + share * apart - points.stress
    scatter = float(rest @ rest) / (len(rest) - 1)
    error = float(np.sqrt(scatter / squares)) if squares > 0.0 else 1.0
    parts = swift.table.model_dump() | voce.table.model_dump()
    constants = {
        name: float(value) for name, value in parts.items() if name not in ("kind", "linear")
    }
    edges = ("share",) if share in (0.0, 1.0) else ()
    constants = {"share": share} | constants
    return _fit("swift_voce", constants, {"share": error}, edges, points, 1.0)


def _fit(
    kind: str,
    constants: Constants,
    errors: Constants,
    edges: tuple[str, ...],
    points: Points,
    young: float,
) -> Fit:
    """Fit of constants rounded as the card states them."""
    rounded = {name: float(f"{value:.{DIGITS}g}") for name, value in constants.items()}
    try:
        table = _FLOW.validate_python({"kind": kind} | rounded)
    except ValidationError as error:
        message = f"{kind}: no constants within the bands of a card fit these points"
        what = "fit"
        raise TensileError(what, [Fault(kind, "", message)]) from error
    curve = flow_curve(table, young)
    rest = curve.stress(points.strain) - points.stress
    rms = float(np.sqrt(np.mean(rest**2)))
    return Fit(kind, table, curve, errors, rms, _uniform(curve), edges)


def _errors(family: Family, u: Floats, slopes: Floats, rest: Floats) -> Constants:
    """Standard errors of the constants from the slopes of the residuals; coupling included.

    They hold as far as the law is right: where it is not, its residuals are no scatter.
    """
    freedom = max(1, len(rest) - len(u))
    size = np.maximum(np.linalg.norm(slopes, axis=0), 1e-300)
    _, singular, rows = np.linalg.svd(slopes / size, full_matrices=False)
    # What the points do not tell at all has a large error, not none.
    turned_back = (rows / np.maximum(singular, 1e-12)[:, None]) / size
    covariance = turned_back.T @ turned_back * float(rest @ rest) / freedom
    names = tuple(family.constants(u))
    turned = np.empty((len(names), len(u)))
    for k in range(len(u)):
        step = np.zeros(len(u))
        step[k] = 1e-6 * max(1.0, abs(float(u[k])))
        up, down = family.constants(u + step), family.constants(u - step)
        turned[:, k] = [(up[name] - down[name]) / (2.0 * step[k]) for name in names]
    variance = np.einsum("ik,kl,il->i", turned, covariance, turned)
    return dict(zip(names, np.sqrt(np.maximum(variance, 0.0)).tolist(), strict=True))


def _uniform(curve: FlowCurve) -> float | None:
    """Plastic strain at the largest force; of a law that starts flat the last one [-]."""
    try:
        return considere_strain(curve)
    except TheoryRangeError:
        strain = np.linspace(FIRST, 2.0, 4000)
        holds = np.flatnonzero(curve.slope(strain) > curve.stress(strain))
        return float(strain[holds[-1]]) if len(holds) > 0 and holds[-1] < 3999 else None
