"""What a pre-flight rule says about one value of a case."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Verdict = Literal["good", "watch", "will fail", "will wrinkle"]

SHOP = "shop rule, memory"
SHOP_READ = "shop rule, read"
COMMON = "common practice, no source"

_ROUNDING = 1.0e-9


@dataclass(frozen=True)
class Finding:
    """One rule applied to one value of a case.

    Attributes
    ----------
    rule : what was looked at, with the stage
    value : the value of the case, in the unit the rule names
    limit : the range or bound it was compared with, as text
    source : where the rule comes from
    verdict : good, watch (outside the usual range), or what will happen beyond what works
    consequence : what happens at the press; empty when good
    """

    rule: str
    value: float
    limit: str
    source: str
    verdict: Verdict
    consequence: str


def ranged(
    rule: str,
    value: float,
    limits: tuple[float, float],
    below: str,
    above: str,
    source: str = SHOP,
) -> Finding:
    """A value against a usual range; ``below`` and ``above`` say what happens outside it."""
    low, high = limits
    text = (
        below
        if value < low * (1.0 - _ROUNDING)
        else above
        if value > high * (1.0 + _ROUNDING)
        else ""
    )
    return Finding(rule, value, f"{low:g} to {high:g}", source, "watch" if text else "good", text)


def bounded(
    rule: str, value: float, bounds: tuple[float, float], source: str, texts: tuple[str, str]
) -> Finding:
    """A value that is good up to the first bound and fails beyond the second."""
    usual, most = (bound * (1.0 + _ROUNDING) for bound in bounds)
    verdict: Verdict = "good" if value <= usual else "watch" if value <= most else "will fail"
    text = {"good": "", "watch": texts[0], "will fail": texts[1]}[verdict]
    limit = f"up to {bounds[0]:.3g}, at most {bounds[1]:.3g}"
    return Finding(rule, value, limit, source, verdict, text)
