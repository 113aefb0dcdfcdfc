"""What a surrogate says, in words and a table."""

from __future__ import annotations

from formsim.report.lines import folded, table
from formsim.report.words import counted, number
from formsim.study.folder import LAWS
from formsim.study.surrogate import Answer, Fitting, Told

WEAK = 0.5
"""Share of the variance explained below which a law is called no law."""


def predict_text(told: Told) -> str:
    """Values with their uncertainty and the error of leaving out, and how far to believe them."""
    place = ", ".join(f"{head} = {_short(value)}" for head, value in told.place.items())
    rows = [_row(one) for one in told.answers]
    head = ("number", "value", "95 % from", "to", "error when\nleft out", "explained", "rows")
    lines = [*folded(f"at {place}, predicted and not solved:"), ""]
    lines += [table(head, rows, left=(0,)), *_remarks(told)]
    answered = sum(one.answered for one in told.answers)
    said = f"{_fitting(told.fitting)}; answers in {1e3 * answered:.2g} ms"
    return "\n".join([*lines, *folded(said)])


def _fitting(made: Fitting) -> str:
    """Where the laws come from."""
    if not made.count:
        return "laws kept from an earlier call"
    again = f" again, since {made.why}" if made.why else ""
    kept = f"not kept: {made.trouble}" if made.trouble else f"kept in {LAWS} for the next call"
    return f"{counted(made.count, 'law')} fitted{again} in {made.seconds:.2g} s, {kept}"


def _row(one: Answer) -> tuple[str, ...]:
    ends = number(one.low), number(one.high)
    share = f"{100.0 * max(one.explained, 0.0):.0f} %"
    return one.number, number(one.value), *ends, number(one.left_out), share, str(one.rows)


def _remarks(told: Told) -> list[str]:
    """What the columns mean, and what speaks against the numbers."""
    lines = folded(
        "95 %: of one more run, noise of the mesh included, by Gaussian processes weighed by how"
        " well they fit; error when left out: root mean square of every row told by the others,"
        " weights kept; explained: share of the variance that is left explained then"
    )
    weak = [one.number for one in told.answers if one.explained < WEAK]
    if weak:
        lines += folded(
            f"the rows hardly determine {', '.join(weak)}: too few of them, or the noise of the"
            " mesh; do not use these numbers"
        )
    few = min(one.rows for one in told.answers)
    if few < told.enough:
        lines += folded(
            f"{counted(few, 'row')} are few: {told.enough} are common for so many inputs, so"
            " take the interval itself as a guess"
        )
    if told.others:
        lines += folded(
            f"{counted(told.others, 'row')} of another version or other sources of formsim than"
            " these: formsim sweep solves them again"
        )
    variant, status, verdict = told.nearest
    state = f"{status}, {verdict}" if verdict and status == "done" else status
    lines += folded(f"the nearest solved variant is {variant}: {state}")
    if status != "done":
        lines += folded(
            "a variant here may well end like that one: solve it before you rely on this"
        )
    return lines


def _short(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)
