"""Tables of the stages that work on a wall, as text: rings, trims, necks, flanges, press, rate."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from formsim.report.earing import ears_tables
from formsim.report.lines import Grid, dash, entries
from formsim.report.strength_tables import STRENGTH
from formsim.report.words import number

PEAK = (
    "mesh-dependent at the exit of the rim: judge the ring by its mean force. This peak is a mean"
    " over the length of a land; the table of tools has that of single increments, which is higher"
)

VALLEY = (
    "how far valleys between the ears lie below the mean rim, which is the simulated one: the ring"
    " model's, longer behind the draw as the wall is (constant volume, own estimate)"
)


def line_tables(summary: Mapping[str, Any]) -> list[Grid]:
    """All tables a run has rows for, in the order of a body line."""
    formed = (ring_table, trim_table, neck_table, flange_table, press_table, rate_table)
    grids = [*ears_tables(summary), *(maker(summary) for maker in (*formed, *STRENGTH))]
    return [grid for grid in grids if grid.rows]


def ring_table(summary: Mapping[str, Any]) -> Grid:
    """One row per ring: what it takes off, its force, what the wall behind it bears."""
    head = (
        "stage",
        "ring",
        "gap\n[mm]",
        "entry t\n[mm]",
        "exit t\n[mm]",
        "reduction",
        "mean force\n[kN]",
        "peak force*\n[kN]",
        "stress over\nstrength",
        "speed\nratio",
    )
    rows = [
        (
            str(stage["name"]),
            str(ring["name"]),
            f"{ring['gap']:.4f}",
            f"{ring['entry_thickness']:.4f}",
            f"{ring['exit_thickness']:.4f}",
            f"{100.0 * ring['reduction']:.1f} %",
            f"{1e-3 * ring['mean_force']:.3f}",
            f"{1e-3 * ring['peak_force']:.3f}",
            f"{ring['stress_ratio']:.3f}",
            f"{ring['speed_ratio']:.3f}",
        )
        for stage, ring in entries(summary, "rings")
    ]
    notes = (("*", PEAK),)
    return Grid("Rings", head, tuple(rows), left=(0, 1), widest={0: 16}, notes=notes)


def trim_table(summary: Mapping[str, Any]) -> Grid:
    """One row per trim: what is cut off, and whether the cut clears the whole rim."""
    sizes = ("height\n[mm]", "lost most\n[mm]", "least\n[mm]", "valley\n[mm]*", "lost\n[g]")
    rows = [
        (
            str(stage["name"]),
            f"{trim['height']:.3f}",
            f"{trim['most']:.3f}",
            f"{trim['least']:.3f}",
            dash(trim.get("valley") or None, 3),
            f"{trim['mass']:.3f}",
            f"{trim['blank_percent']:.2f} %",
            _cleared(trim),
        )
        for stage, trim in entries(summary, "trim")
    ]
    head = ("stage", *sizes, "of blank", "")
    notes = (("*", VALLEY),) if any(row[4] != "-" for row in rows) else ()
    return Grid("Trims", head, tuple(rows), left=(0, 7), widest={0: 16}, notes=notes)


def _cleared(trim: Mapping[str, Any]) -> str:
    if trim.get("clears", trim["least"] > 0.0):
        return "clears the rim"
    return "LEAVES UNCUT RIM" if trim["least"] <= 0.0 else "CUTS ABOVE VALLEYS OF THE EARS"


def neck_table(summary: Mapping[str, Any]) -> Grid:
    """One row per necking step: its load against what the wall bears, and the neck."""
    head = (
        "stage",
        "axial load\n[kN]",
        "wall yields\n[kN]",
        "wall buckles\n[kN]",
        "load over\nthe lower",
        "neck diam.\n[mm]",
        "neck t\n[mm]",
        "length\n[mm]",
    )
    rows = [
        (
            str(stage["name"]),
            f"{1e-3 * neck['load']:.3f}",
            f"{1e-3 * neck['crush_load']:.3f}",
            f"{1e-3 * neck['buckling_load']:.3f}",
            f"{neck['load_ratio']:.3f}",
            *(dash(neck[key], digits) for key, digits in _NECK),
        )
        for stage, neck in entries(summary, "neck")
    ]
    return Grid("Necks", head, tuple(rows), left=(0,), widest={0: 16})


_NECK = (("diameter", 3), ("thickness", 4), ("length", 2))


def flange_table(summary: Mapping[str, Any]) -> Grid:
    """One row per flange: its size and how far the edge is stretched."""
    head = (
        "stage",
        "diameter\n[mm]",
        "width\n[mm]",
        "edge t\n[mm]",
        "lacks to flat\n[deg]",
        "hoop strain\nof the edge",
        "since the\nfirst stage",
    )
    rows = [
        (
            str(stage["name"]),
            f"{flange['diameter']:.3f}",
            f"{flange['width']:.3f}",
            f"{flange['thickness']:.4f}",
            f"{flange['short_of_flat']:.1f}",
            f"{flange['edge_hoop_strain']:.4f}",
            f"{flange['total_edge_hoop_strain']:.4f}",
        )
        for stage, flange in entries(summary, "flange")
    ]
    return Grid("Flanges", head, tuple(rows), left=(0,), widest={0: 16})


def press_table(summary: Mapping[str, Any]) -> Grid:
    """One row per stage a press makes: times, speeds, rates in its rings, heat of the wall."""
    head = (
        "stage",
        "start\n[s]",
        "end\n[s]",
        "speed at contact\n[m/s]",
        "peak\n[m/s]",
        "strain rate in rings\n[1/s]",
        "wall warms by\n[K]",
    )
    rows = [
        (
            str(stage["name"]),
            f"{press['start']:.4f}",
            f"{press['end']:.4f}",
            f"{1e-3 * press['contact_speed']:.3f}",
            f"{1e-3 * press['peak_speed']:.3f}",
            ", ".join(number(rate) for rate in press["ring_strain_rate"].values()) or "-",
            dash(press["wall_temperature_rise"], 1),
        )
        for stage, press in entries(summary, "press")
    ]
    return Grid("Press", head, tuple(rows), left=(0,), widest={0: 16, 5: 22})


def rate_table(summary: Mapping[str, Any]) -> Grid:
    """One row per stage whose metal knows rate or heat: what they did to the flow stress."""
    head = (
        "stage",
        "speed\n[mm/s]",
        "strain rate up to\n[1/s]",
        "flow stress times",
        "hottest\n[degC]",
        "zone",
    )
    rows = [
        (
            str(stage["name"]),
            dash(found["speed"], 1),
            "-" if found["highest_strain_rate"] is None else number(found["highest_strain_rate"]),
            f"{found['lowest_factor']:.3f} to {found['highest_factor']:.3f}",
            dash(found["highest_temperature"], 1),
            found["highest_temperature_zone"] or "-",
        )
        for stage, found in entries(summary, "rate_and_heat")
    ]
    return Grid("Rate and heat", head, tuple(rows), left=(0, 5), widest={0: 16})
