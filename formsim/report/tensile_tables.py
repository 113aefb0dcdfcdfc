"""What tensile tests gave, as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from formsim.report.lines import dash, folded, table
from formsim.tensile.evaluate import Range, Values
from formsim.tensile.fit import FIRST, Fit
from formsim.tensile.gather import Tests, scatter
from formsim.tensile.rank import FAR, Ranking

_VALUES: tuple[tuple[str, Callable[[Values], float | None], float, int], ...] = (
    ("E\n[GPa]", lambda one: one.line.slope, 1e-3, 1),
    ("Rp0.2\n[MPa]", lambda one: one.proof, 1.0, 1),
    ("Rm\n[MPa]", lambda one: one.strength, 1.0, 1),
    ("Ag\n[%]", lambda one: one.uniform_plastic, 100.0, 2),
    ("Agt\n[%]", lambda one: one.uniform, 100.0, 2),
    ("n\n[-]", lambda one: one.hardening, 1.0, 4),
    ("r\n[-]", lambda one: one.r, 1.0, 3),
)


def values_table(tests: Tests) -> str:
    """Characteristic values of every test, with mean and scatter over the repeats."""
    rows: list[tuple[str, ...]] = []
    for angle, group in ((tests.angle, tests.along), *sorted(tests.across.items())):
        rows += [(one.test.file, f"{angle:g}", *_cells(one)) for one in group]
        if len(group) > 1:
            rows += _scatter_rows(group, angle)
    head = ("test", "angle\n[deg]", *(name for name, *_ in _VALUES))
    lines = [table(head, rows, left=(0,), widest={0: 30}), ""]
    lines += _meaning(tests)
    for group in (tests.along, *tests.across.values()):
        for one in group:
            for text in one.notes:
                lines += folded(f"note: {one.test.file}: {text}")
    return "\n".join(lines)


def fits_table(ranking: Ranking) -> str:
    """Fitted laws in order, the recommended one first, with how far apart they lead."""
    head = (
        "law",
        "rms\n[MPa]",
        "uniform\nstrain",
        "off the\nmeasured",
        *(f"stress at\n{strain:g} [MPa]" for strain in FAR),
        "constants, with standard error",
    )
    rows = [_fit_row(fit, ranking, k) for k, fit in enumerate(ranking.fits)]
    lines = [table(head, rows, left=(0, 6), widest={6: 34}), ""]
    lines += folded(
        f"recommended: {ranking.best.kind}: {ranking.why}. Laws marked * fit so alike that the"
        " points do not tell them apart."
    )
    lines += folded(
        f"Measured up to a plastic strain of {ranking.uniform:.4f}, fitted from {FIRST:g} on. WHAT"
        f" LIES BEYOND IS EXTRAPOLATION: {_spread_words(ranking)}. Drawing and ironing go there; a"
        " bulge test or the case itself (--case) says whether it matters."
    )
    return "\n".join(lines)


def assumed_text(assumed: Sequence[str]) -> str:
    """What nobody measured or gave."""
    return "\n".join(line for text in assumed for line in folded(f"assumed: {text}"))


def _cells(one: Values) -> Iterator[str]:
    for _, value, factor, digits in _VALUES:
        found = value(one)
        yield dash(None if found is None else factor * found, digits)


def _scatter_rows(group: Sequence[Values], angle: float) -> list[tuple[str, ...]]:
    means: list[str] = []
    deviations: list[str] = []
    for _, value, factor, digits in _VALUES:
        found = scatter(group, value)
        means.append(dash(None if found is None else factor * found.mean, digits))
        spread = None if found is None else found.deviation
        deviations.append(dash(None if spread is None else factor * spread, digits))
    return [
        (f"mean of {len(group)}", f"{angle:g}", *means),
        ("standard deviation", f"{angle:g}", *deviations),
    ]


def _meaning(tests: Tests) -> list[str]:
    """Over which ranges the values were taken, and by which standards."""
    every = [one for group in (tests.along, *tests.across.values()) for one in group]
    lines = [one.line for one in every]
    first = (
        f"E is the slope of the elastic part from {_span([line.low for line in lines], 0)} to"
        f" {_span([line.high for line in lines], 0)} MPa (r2 {min(line.r2 for line in lines):.5f}"
        " or better); Rp0.2, Rm, Ag (plastic) and Agt (total strain at the largest force) after"
        " ISO 6892-1"
    )
    second = (
        f"n between plastic strains of {_range([one.hardening_range for one in every])} %, after"
        " ISO 10275"
    )
    if any(one.r is not None for one in every):
        second += (
            f"; r between plastic strains of {_range([one.r_range for one in every])} %, after"
            " ISO 10113"
        )
    columns = dict.fromkeys(one.test.columns for one in every)
    third = f"columns: {'; or '.join(columns)}"
    return [*folded(first), *folded(second), *folded(third)]


def _span(values: Sequence[float], digits: int) -> str:
    low, high = (f"{value:.{digits}f}" for value in (min(values), max(values)))
    return low if low == high else f"{low}-{high}"


def _range(ranges: Sequence[Range]) -> str:
    low = _span([100.0 * begin for begin, _ in ranges], 1)
    return f"{low} and {_span([100.0 * end for _, end in ranges], 1)}"


def _fit_row(fit: Fit, ranking: Ranking, number: int) -> tuple[str, ...]:
    off = None if fit.uniform is None else 100.0 * (fit.uniform / ranking.uniform - 1.0)
    constants = fit.table.model_dump(exclude={"kind"}, exclude_defaults=True)
    told = ", ".join(f"{name} {value:.5g}{_error(fit, name)}" for name, value in constants.items())
    return (
        f"{fit.kind}{' *' if number < ranking.alike else ''}",
        f"{fit.rms:.2f}",
        dash(fit.uniform, 4),
        "-" if off is None else f"{round(off) + 0:+d} %",
        *(f"{float(fit.curve.stress(strain)):.0f}" for strain in FAR),
        told,
    )


def _error(fit: Fit, name: str) -> str:
    if name in fit.edges:
        return " (end of its band)"
    return f" +- {fit.errors[name]:.2g}" if name in fit.errors else ""


def _spread_words(ranking: Ranking) -> str:
    parts = []
    for strain in FAR:
        low, high = ranking.spread(strain)
        parts.append(f"{low:.0f} to {high:.0f} MPa at {strain:g}")
    low, high = ranking.spread(FAR[-1], alike=False)
    return (
        f"the laws that fit alike lead to {' and '.join(parts)}, all laws to {low:.0f} to"
        f" {high:.0f} MPa at {FAR[-1]:g}"
    )
