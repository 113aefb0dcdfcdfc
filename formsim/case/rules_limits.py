"""Whether a limit may have been written in another unit than it is read in."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.case.finding import COMMON, Finding
from formsim.case.limits import Limits

LEAST_THINNING = 1.0
"""Thinning in per cent below which a limit may be a share; our own number."""


def limit_findings(limits: Limits) -> Iterator[Finding]:
    """A limit of thinning so small that a share was likely meant."""
    thinning = limits.max_thinning_percent
    if thinning is None or thinning >= LEAST_THINNING:
        return
    yield Finding(
        "limits: max_thinning_percent [%]",
        thinning,
        f"from {LEAST_THINNING:g}",
        f"own number; {COMMON}",
        "watch",
        f"{thinning:g} per cent: is a share meant? Then write {100.0 * thinning:g}",
    )
