"""Whether the limits of a case and of its card hold for its sheet."""

from __future__ import annotations

from collections.abc import Iterator

from formsim.case.limits import STEEL, THICKEST, FormingLimit, KeelerBrazier, Limits
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
        yield from _curve_faults(key, limit, sheet.material.young, sheet.thickness)


def _curve_faults(
    key: str, limit: FormingLimit | None, young: float, thickness: float
) -> Iterator[Fault]:
    """A limit curve that does not hold for a sheet."""
    if not isinstance(limit, KeelerBrazier):
        return
    if not STEEL[0] <= young <= STEEL[1]:
        yield Fault(
            f"{key}.kind",
            limit.kind,
            f"holds for steel sheet only, and a Young's modulus of {young:g} MPa is not that of"
            " steel; take marciniak_kuczynski, swift_hill or a measured table",
        )
    if thickness > THICKEST:
        yield Fault(
            f"{key}.kind",
            limit.kind,
            f"holds up to a thickness of {THICKEST:g} mm, the sheet has {thickness:g} mm",
        )
