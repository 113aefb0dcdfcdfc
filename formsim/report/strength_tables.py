"""Tables of the stages that load a finished body, as text, with the cautions that go with them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from formsim.report.lines import Grid, dash, entries

AROUND = (
    "an axisymmetric model cannot buckle round the circumference: walls, and domes beyond a size"
    " lambda of about 5.5, may give way earlier; the published lower bounds stand in the table of"
    " theory"
)
CAUTION = (
    "these numbers guide design and release no container: pressure containers fall under local"
    " codes and licensed practice"
)


def pressure_table(summary: Mapping[str, Any]) -> Grid:
    """One row per pressurised body: where it yields, gives way and how far the base has grown."""
    held = list(entries(summary, "pressurise"))
    released = any(one["permanent_centre_growth"] is not None for _, one in held)
    head = (
        "stage",
        "gives way at\n[MPa]",
        "first yield\n[MPa]",
        "centre, lowest\ngrow there [mm]",
        "wall radius\nbefore, there",
        "where most\nmetal flows",
        *(("left after\nrelease [mm]",) if released else ()),
    )
    rows = [
        (
            str(stage["name"]),
            _limit(stage, one["limit"], one["highest"], 1.0, 4),
            dash(one["first_yield"], 4),
            f"{one['limit_centre_growth']:.3f}, {one['limit_nose_growth']:.3f}",
            f"{dash(one.get('first_wall_radius'), 2)}, {dash(one.get('wall_radius'), 2)}",
            f"{one['zone']}, r = {one['radius']:.1f} mm",
            *((_left(one),) if released else ()),
        )
        for stage, one in held
    ]
    return Grid(
        "Inside pressure",
        head,
        tuple(rows),
        left=(0, 5),
        widest={0: 16},
        notes=_notes(held, "limit"),
    )


def named_pressure_table(summary: Mapping[str, Any]) -> Grid:
    """One row per pressure the case names: growth of the base there, margin of the limit."""
    head = (
        "stage",
        "pressure",
        "[MPa]",
        "centre grows\n[mm]",
        "lowest point\n[mm]",
        "wall radius\n[mm]",
        "holds more\n[ml]",
        "limit over it",
        "",
    )
    rows = [
        (
            str(stage["name"]),
            str(one["name"]),
            f"{one['pressure']:.4g}",
            dash(one["centre_growth"], 3),
            dash(one["nose_growth"], 3),
            dash(one.get("wall_radius"), 3),
            dash(one["volume"], 3),
            dash(one["margin"], 2),
            "" if one["reached"] else "NOT REACHED",
        )
        for stage, held in entries(summary, "pressurise")
        for one in held["named"]
    ]
    title = "Inside pressures the case names"
    return Grid(title, head, tuple(rows), left=(0, 1, 8), widest={0: 16})


def load_table(summary: Mapping[str, Any]) -> Grid:
    """One row per top load: inside pressure, crush load, where the body folds."""
    loaded = list(entries(summary, "top_load"))
    head = (
        "stage",
        "inside\n[MPa]",
        "folds at\n[kN]",
        "first yield\n[kN]",
        "travel\n[mm]",
        "where most\nmetal flows",
        "over the\nrequired",
    )
    rows = [
        (
            str(stage["name"]),
            f"{load['pressure']:.3g}",
            _limit(stage, load["crush_load"], load["highest"], 1e-3, 3),
            _yield(load["first_yield"]),
            f"{load['travel']:.3f}",
            f"{load['zone']}, r = {load['radius']:.1f}, z = {load['z']:.1f} mm",
            dash(load["margin"], 2),
        )
        for stage, load in loaded
    ]
    notes = _notes(loaded, "crush_load")
    return Grid("Top load", head, tuple(rows), left=(0, 5), widest={0: 16}, notes=notes)


_NOTES = (("*", AROUND), ("*", CAUTION))
_SPOILT = "the body had given way in an earlier stage: this is no strength of a sound one"

STRENGTH = (pressure_table, named_pressure_table, load_table)


def _limit(
    stage: Mapping[str, Any], limit: float | None, highest: float, factor: float, digits: int
) -> str:
    if limit is None:
        mark = "+" if _is_spoilt(stage, limit) else ""
        return f"reached {factor * highest:.{digits}f}{mark}"
    return f"{factor * limit:.{digits}f}"


def _is_spoilt(stage: Mapping[str, Any], limit: float | None) -> bool:
    """Whether a test has no limit since its body had given way before."""
    return limit is None and bool(stage.get("gave_way"))


def _notes(
    tested: Iterable[tuple[Mapping[str, Any], Mapping[str, Any]]], limit: str
) -> tuple[tuple[str, str], ...]:
    """Remarks below a table of tests, whose figures call their limit so."""
    spoilt = any(_is_spoilt(stage, one[limit]) for stage, one in tested)
    return ((("+", _SPOILT),) if spoilt else ()) + _NOTES


def _yield(load: float | None) -> str:
    """First yield under top load [kN]; the inside pressure before it may have done it."""
    return "while filling" if load == 0.0 else dash(None if load is None else 1e-3 * load, 3)


def _left(held: Mapping[str, Any]) -> str:
    centre, nose = held["permanent_centre_growth"], held["permanent_nose_growth"]
    return "-" if centre is None else f"{centre:.3f}, {nose:.3f}"
