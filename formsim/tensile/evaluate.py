"""Characteristic values of one tensile test."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formsim.arrays import Bools, Floats
from formsim.errors import Fault, TensileError
from formsim.tensile.elastic import ElasticLine, elastic_line, proof_index, proof_stress
from formsim.tensile.record import TensileTest

FLAT, DEGREE = 0.98, 5
"""Share of the strength above which points say where the maximum is, and the polynomial through
them: within 2 % of the uniform strain on made-up tests with a scatter of 1 MPa."""

STILL_RISING = 0.05
"""Slope over stress at the last point beyond which no maximum was reached [-]."""

SOFT, LEAST_SLOPE, STIFFEST = 30e3, 4.5e3, 450e3
"""Elastic slopes: softer shows the machine, and beyond the outer two units are wrong [MPa]."""

PAST = 1.02
"""Strain over the uniform one up to which it counts as reached, see ``FLAT``."""

TENFOLD = "is the unit of extension or strain right (cm, mm)? see units, gauge length and section"

FALL = 0.01
"""Fall of the stress after yielding, over the strength, that counts as a yield point [-]."""

PLATEAU = (0.005, 0.012)
"""Plastic strains between which sheet without a yield point hardens visibly [-]."""

Range = tuple[float, float]


@dataclass(frozen=True)
class Ranges:
    """Plastic strains between which n and r are taken [-]; None: chosen by the uniform strain."""

    hardening: Range | None = None
    width: Range | None = None


@dataclass(frozen=True)
class Values:
    """Characteristic values of a test after ISO 6892-1, ISO 10275 and ISO 10113.

    Attributes
    ----------
    test : what was evaluated
    line : elastic line
    proof : proof strength Rp0.2 [MPa]
    strength : tensile strength Rm [MPa]
    uniform, uniform_plastic : strain at the largest force, total Agt and plastic Ag [-]
    uniform_true : logarithmic plastic strain there [-]
    hardening, hardening_range : exponent n and the plastic strains it was taken between [-]
    r, r_range : r-value and the plastic strains it was taken between [-]; None where no width
    strain, stress : plastic logarithmic strain [-] and true stress [MPa] up to the largest force,
        (m)
    yielded : plastic logarithmic strain at which a yield point is over, 0 where there is none [-]
    notes : what to know about this test
    """

    test: TensileTest
    line: ElasticLine
    proof: float
    strength: float
    uniform: float
    uniform_plastic: float
    uniform_true: float
    hardening: float | None
    hardening_range: Range
    r: float | None
    r_range: Range
    strain: Floats
    stress: Floats
    yielded: float
    notes: tuple[str, ...]


def evaluate(test: TensileTest, ranges: Ranges) -> Values:
    """Characteristic values of a test.

    Raises
    ------
    TensileError : where the elastic line, the proof stress or the largest force is not there, or
        a range that is asked for goes beyond the uniform strain
    """
    line = _sound_line(test)
    index = proof_index(test.strain, test.stress, line)
    proof = proof_stress(test.strain, test.stress, line)
    if proof is None or index is None:
        raise _fault(test, "the curve ends before a plastic strain of 0.2 %: no proof stress")
    strength = float(test.stress.max())
    top, level, flat = _largest_force(test, index, strength)
    uniform = top - line.origin
    plastic = uniform - strength / line.slope
    _refuse_beyond(test, ranges, plastic)
    inside = (test.strain <= top) & (np.arange(len(test.strain)) >= index)
    total = test.strain[inside] - line.origin
    true_strain, true_stress = true_curve(total, test.stress[inside], line)
    yielded, notes = _yield_point(test, line, top, strength)
    notes += _slope_notes(line) + (("the test ends at its largest force",) if flat else ())
    between = ranges.hardening or _hardening_range(plastic)
    width_between = ranges.width or _width_range(plastic)
    return Values(
        test=test,
        line=line,
        proof=proof,
        strength=strength,
        uniform=uniform,
        uniform_plastic=plastic,
        uniform_true=float(true_curve(np.array(uniform), np.array(level), line)[0]),
        hardening=hardening_exponent(np.expm1(true_strain), true_stress, between),
        hardening_range=between,
        r=_r_of(test, line, width_between),
        r_range=width_between,
        strain=true_strain,
        stress=true_stress,
        yielded=yielded,
        notes=notes,
    )


def true_curve(total: Floats, stress: Floats, line: ElasticLine) -> tuple[Floats, Floats]:
    """Plastic logarithmic strain [-] and true stress [MPa].

    Parameters
    ----------
    total : engineering strain from the foot of the elastic line, any shape [-]
    stress : engineering stress there [MPa]

    The elastic strain of the piece goes by the true stress. The give of a machine goes by the
    force and is no strain of the piece: with a soft slope it comes off first, elastic strain and
    all.
    Source: ISO 6892-1, true stress ``s (1 + e)``; ISO 10275, true plastic strain (memory).
    """
    if line.slope < SOFT:
        own = np.maximum(total - stress / line.slope, -0.5)
        return np.log1p(own), stress * (1.0 + own)
    true = stress * (1.0 + total)
    return np.log1p(total) - true / line.slope, true


def hardening_exponent(plastic: Floats, true_stress: Floats, between: Range) -> float | None:
    """Exponent n: slope of the true stress over the true plastic strain, both logarithmic [-].

    Parameters
    ----------
    plastic : engineering plastic strain, (n) [-]
    true_stress : (n) [MPa]
    between : engineering plastic strains of the first and last point used [-]

    Returns
    -------
    None where fewer than five points lie between.

    Source: ISO 10275, regression over a stated range of plastic strain (memory).
    """
    inside = (plastic >= between[0]) & (plastic <= between[1])
    if inside.sum() < 5:
        return None
    x, y = np.log(np.log1p(plastic[inside])), np.log(true_stress[inside])
    return float(np.polyfit(x - x.mean(), y, 1)[0])


def r_value(length: Floats, width: Floats, between: Range) -> float | None:
    """Plastic strain ratio r: width over thickness strain [-].

    Parameters
    ----------
    length, width : plastic logarithmic strains along and across the test piece, (n) [-]
    between : engineering plastic strains of the first and last point used [-]

    Returns
    -------
    ``-k/(1 + k)`` with k the slope of the width over the length strain through the origin, since
    the thickness strain follows from constant volume. None where fewer than three points lie
    between, or where the width grows.

    Source: ISO 10113, ``r = ln(b/b0)/ln(L0 b0/(L b))``; the regression over a range (memory).
    """
    plastic = np.expm1(length)
    inside = (plastic >= between[0]) & (plastic <= between[1]) & np.isfinite(width)
    if inside.sum() < 3:
        return None
    x, y = length[inside], width[inside]
    slope = float(x @ y / (x @ x))
    return -slope / (1.0 + slope) if -1.0 < slope < 0.0 else None


def _r_of(test: TensileTest, line: ElasticLine, between: Range) -> float | None:
    """r-value of a test; the elastic strain of the width is taken off with a ratio of 0.3.

    A soft slope is that of the machine and says nothing of the width.
    """
    if test.width_strain is None:
        return None
    total = np.maximum(test.strain - line.origin, -0.5)
    length, true = true_curve(total, test.stress, line)
    across = 0.3 * true / line.slope if line.slope >= SOFT else 0.0
    with np.errstate(invalid="ignore"):
        width = np.log1p(test.width_strain) + across
    return r_value(length, width, between)


def _sound_line(test: TensileTest) -> ElasticLine:
    line = elastic_line(test.strain, test.stress)
    if line is None:
        raise _fault(test, "fewer than five points on the elastic line: no slope, no proof stress")
    for factor, why in (
        (100.0, "strain may be in per cent and was read as a fraction"),
        (0.01, "strain may be a fraction and was read in per cent"),
        (0.1, f"it is ten times that of one, {TENFOLD}"),
        (1000.0, "stress or force may be a thousand times larger (kN, GPa), see its unit"),
        (0.001, "stress or force may be a thousand times smaller (N, MPa), see its unit"),
    ):
        slope = line.slope
        if not LEAST_SLOPE <= slope <= STIFFEST and SOFT <= slope * factor <= STIFFEST:
            expected = f"elastic slope {slope / 1e3:.4g} GPa cannot be that of a metal: {why}"
            raise _fault(test, expected)
    if not LEAST_SLOPE <= line.slope <= STIFFEST:
        expected = f"elastic slope {line.slope / 1e3:.4g} GPa cannot be that of a metal"
        raise _fault(test, f"{expected}: see units, gauge length and section")
    return line


def _slope_notes(line: ElasticLine) -> tuple[str, ...]:
    if line.slope < SOFT:
        return (
            f"elastic slope {line.slope / 1e3:.3g} GPa: the extension seems to hold the give of"
            " the machine; it was taken off with this slope",
        )
    return ()


def _largest_force(test: TensileTest, index: int, strength: float) -> tuple[float, float, bool]:
    """Strain and stress at the largest force, and whether the test ends there.

    The place is that of the maximum of a polynomial through all points above 98 % of the strength,
    as the largest of many noisy points wanders.
    """
    level = _smooth(test.stress)
    top = int(level.argmax())
    first, last = top, top
    while first > index and level[first - 1] >= FLAT * level[top]:
        first -= 1
    while last + 1 < len(level) and level[last + 1] >= FLAT * level[top]:
        last += 1
    x, y = test.strain[first : last + 1], test.stress[first : last + 1]
    ends = last == len(test.stress) - 1
    if len(x) < 2 * DEGREE or np.ptp(x) <= 0.0:
        if ends and _rises(test, top):
            raise _no_maximum(test)
        return float(test.strain[top]), strength, ends
    middle, half = float(x.mean()), 0.5 * float(np.ptp(x))
    curve = np.polynomial.Polynomial.fit(x, y, DEGREE)
    fine = np.linspace(float(x.min()), float(x.max()), 2001)
    values = curve(fine)
    best = int(values.argmax())
    at_end = ends and fine[best] > middle + 0.98 * half
    if at_end and float(curve.deriv()(fine[-1])) > STILL_RISING * strength:
        raise _no_maximum(test)
    return float(fine[best]), float(values[best]), at_end


def _smooth(stress: Floats) -> Floats:
    """Mean over a few rows to both sides, fewer at the ends.

    The highest of many noisy points lies above the curve.
    """
    half = len(stress) // 80
    sums = np.concatenate([[0.0], np.cumsum(stress)])
    rows = np.arange(len(stress))
    near = np.minimum(np.minimum(rows, len(stress) - 1 - rows), half)
    return np.asarray((sums[rows + near + 1] - sums[rows - near]) / (2 * near + 1))


def _rises(test: TensileTest, top: int) -> bool:
    """Whether the last tenth of the curve still rises."""
    strain, stress = test.strain, test.stress
    tail: Bools = strain >= strain[0] + 0.9 * (strain[top] - strain[0])
    slope = float(np.polyfit(strain[tail], stress[tail], 1)[0]) if tail.sum() > 2 else 0.0
    return slope > STILL_RISING * float(stress[top])


def _yield_point(
    test: TensileTest, line: ElasticLine, top: float, strength: float
) -> tuple[float, tuple[str, ...]]:
    """Plastic strain at which a yield point with its plateau is over, and a note on it.

    There is one where the stress falls after yielding, or has not risen by 1 % of the strength
    between plastic strains of 0.5 and 1.2 % in sheet that goes on hardening.
    """
    end = int(np.flatnonzero(test.strain <= top)[-1]) + 1
    level = _smooth(test.stress)[:end]
    total = test.strain[:end] - line.origin
    plastic = total - test.stress[:end] / line.slope
    over = 0.0
    fallen = np.maximum.accumulate(level) - level > FALL * strength
    if fallen.any():
        over = float(plastic[np.flatnonzero(fallen)[-1]])
    early = level[plastic < PLATEAU[0]].max()
    risen = plastic[level > early + FALL * strength]
    if len(risen) and PLATEAU[1] < risen[0] < 0.5 * plastic[-1]:
        over = max(over, float(risen[0]))
    if over <= 0.0:
        return 0.0, ()
    text = f"yield point: uneven flow up to a plastic strain of {100.0 * over:.2f} %, not fitted"
    return float(np.log1p(over)), (text,)


def _refuse_beyond(test: TensileTest, ranges: Ranges, uniform: float) -> None:
    """Refuse ranges beyond the uniform strain, where the test piece necks.

    Source: ISO 10113 and ISO 10275, both values within uniform elongation (memory).
    """
    faults = [
        Fault(
            option,
            f"{100.0 * between[0]:g} {100.0 * between[1]:g}",
            f"{letter} is taken before the test piece necks: expected plastic strains of at most"
            f" the uniform one, {100.0 * uniform:.1f} % here",
        )
        for option, letter, between in (
            ("--n-range", "n", ranges.hardening),
            ("--r-range", "r", ranges.width),
        )
        if between is not None and between[1] > PAST * uniform
    ]
    if faults:
        hint = "ask for less, or leave it out: then the test says how far it may go"
        raise TensileError(test.file, faults, hint=hint)


def _hardening_range(uniform: float) -> Range:
    """Usual ranges of ISO 10275, shorter where the sheet does not stretch so far."""
    if uniform >= 0.12:
        return 0.10, min(0.20, uniform)
    if uniform >= 0.04:
        return 0.02, uniform
    return uniform / 3.0, uniform


def _width_range(uniform: float) -> Range:
    if uniform >= 0.12:
        return 0.08, 0.12
    return 0.5 * uniform, uniform


def _no_maximum(test: TensileTest) -> TensileError:
    return _fault(
        test,
        "the stress still rises at the last row: no maximum was reached, so strength and uniform"
        " strain are not known",
        "use the record up to the break; one stopped before its largest force gives no card",
    )


def _fault(test: TensileTest, expected: str, hint: str = "") -> TensileError:
    return TensileError(test.file, [Fault("curve", "", expected)], hint=hint)
