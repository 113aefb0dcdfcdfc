"""What tensile tests gave, as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from formsim.case.units import unit_list
from formsim.report.lines import dash, folded, table
from formsim.tensile.columns import KINDS
from formsim.tensile.evaluate import Range, Values
from formsim.tensile.fit import FIRST, Fit
from formsim.tensile.gather import Tests, scatter
from formsim.tensile.rank import FAR, Ranking
from formsim.tensile.sizes import SIZE_WORDS

_VALUES: tuple[tuple[str, Callable[[Values], float | None], float, int], ...] = (
    ("E\n[GPa]", lambda one: one.line.slope, 1e-3, 1),
    ("Rp0.2\n[MPa]", lambda one: one.proof, 1.0, 1),
    ("Rm\n[MPa]", lambda one: one.strength, 1.0, 1),
    ("Ag\n[%]", lambda one: one.uniform_plastic, 100.0, 2),
    ("Agt\n[%]", lambda one: one.uniform, 100.0, 2),
    ("n\n[-]", lambda one: one.hardening, 1.0, 4),
    ("r\n[-]", lambda one: one.r, 1.0, 3),
)


def tensile_text(
    tests: Tests,
    ranking: Ranking,
    assumed: Sequence[str],
    warnings: Sequence[str],
    bar: str = "",
) -> str:
    """All that tests gave: their values, the fitted laws, what was assumed and what warns.

    Parameters
    ----------
    bar : the bar pulled to a break, in words; empty for none
    """
    parts = [values_table(tests), fits_table(ranking), assumed_text(assumed, warnings), bar]
    return "\n\n".join(part for part in parts if part)


def written_text(paths: Sequence[Path], chosen: Fit, ranking: Ranking) -> str:
    """Files that were written into a folder, and the law of the card."""
    names = ", ".join(path.name for path in paths)
    asked = "" if chosen is ranking.best else ", as asked"
    written = folded(f"written into {paths[0].parent}: {names}")
    return "\n".join([*written, f"flow curve of the card: {chosen.kind}{asked}"])


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


def assumed_text(assumed: Sequence[str], warnings: Sequence[str] = ()) -> str:
    """What does not fit together, and what nobody measured or gave."""
    told = [*(f"WARNING: {text}" for text in warnings), *(f"assumed: {text}" for text in assumed)]
    return "\n".join(line for text in told for line in folded(text))


def headers_text() -> str:
    """Headers by which columns and sizes of the test piece are known."""
    rows = [
        (name, unit_list(kind.dimension) or "fraction", ", ".join(kind.words))
        for name, kind in KINDS.items()
    ]
    sizes = [(name, "mm", ", ".join(words)) for name, words in SIZE_WORDS.items()]
    columns = table(
        ("quantity", "units", "headers it is known by"), rows, left=(0, 1, 2), widest={1: 20, 2: 60}
    )
    above = table(
        ("size", "unit", "lines above the columns"), sizes, left=(0, 1, 2), widest={2: 60}
    )
    told = (
        "Small and capital letters are alike; a unit stands behind the header, [kN], or in a row of"
        " its own. A header with a unit of the other kind is taken for that: strain in mm is an"
        " extension. Any other column is declared: --column QUANTITY=COLUMN:UNIT, or of one file"
        " --column QUANTITY@FILE=COLUMN:UNIT."
    )
    return "\n".join([columns, "", above, "", *folded(told)])


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
    third = _by_file("columns", [(one.test.file, one.test.columns) for one in every])
    unused = [
        (one.test.file, ", ".join(f'"{header}"' for header in one.test.unused))
        for one in every
        if one.test.unused
    ]
    sized = [(one.test.file, one.test.sizes) for one in every if one.test.sizes]
    return [
        *folded(first),
        *folded(second),
        *third,
        *_by_file("columns not used", unused),
        *_by_file("sizes", sized),
    ]


def _by_file(what: str, told: Sequence[tuple[str, str]]) -> Iterator[str]:
    """What is told of files, once where it is the same for all."""
    by_text: dict[str, list[str]] = {}
    for file, text in told:
        by_text.setdefault(text, []).append(file)
    for text, files in by_text.items():
        of = f" of {', '.join(files)}" if len(by_text) > 1 else ""
        yield from folded(f"{what}{of}: {text}")


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
