"""Whether the limits of a case and of its card hold for its sheet."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.case.limits import Limits, curve_faults
from formsim.case.sheet import Sheet
from formsim.errors import Fault


def limit_faults(limits: Limits | None, sheet: Sheet | None) -> Iterator[Fault]:
    """Limit curves that do not hold for the sheet; None stands for a faulty part."""
    if sheet is None:
        return
    given = {"sheet.material.forming_limit": sheet.material.forming_limit}
    if limits is not None:
        given["limits.forming_limit"] = limits.forming_limit
    for key, limit in given.items():
        yield from curve_faults(key, limit, sheet.material.young, sheet.thickness)
