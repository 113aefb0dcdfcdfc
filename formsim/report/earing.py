"""Ears that must be expected of a first draw, as text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from formsim.case.schema import Case
from formsim.report.lines import Grid, entries, grid_text
from formsim.results.earing import ears_row, expected_ears

CAUTION = (
    "This is an estimate of the ring model from the r-values by angle. For the measured cup it was"
    " checked with, it put the lowest place 0.5 mm below the mean rim instead of 0.7 mm, so leave a"
    " margin. The simulation is axisymmetric and has no ears: its rim is the mean of the real one"
)


def case_ears_text(case: Case) -> str:
    """Ears of the first draw of a case before it is run; empty where nothing tells."""
    found = expected_ears(case, case.stages[0])
    if found is None:
        return ""
    return grid_text(_grid(case.stages[0].name, ears_row(case, found)))


def ears_tables(summary: Mapping[str, Any]) -> list[Grid]:
    """Ears of the first draw of a run, with the highest square cut that clears them."""
    return [_grid(str(stage["name"]), ears) for stage, ears in entries(summary, "ears")]


def _grid(stage: str, ears: Mapping[str, Any]) -> Grid:
    head = ("ears expected", *(f"{angle:g} deg" for angle in ears["angles"]))
    row = (f"{stage}: over the lowest [mm]", *(f"{height:.2f}" for height in ears["heights"]))
    said = f"{ears['count']} ears, {ears['height']:.2f} mm high"
    if ears["count"] == 0:
        said = "no ears"
    said += (
        f". A square cut has to run {ears['below_mean']:.2f} mm below the mean rim"
        f"{_cut_words(ears)}. It costs {ears['mass']:.3f} g, {ears['blank_percent']:.2f} % of the"
        f" blank. {CAUTION}."
    )
    return Grid("Ears", head, (row,), left=(0,), notes=(("", said),))


def _cut_words(ears: Mapping[str, Any]) -> str:
    """Where that is on the simulated cup, once there is one."""
    cut = ears.get("highest_cut")
    return "" if cut is None else f", which is at a height of {cut:.2f} mm on the simulated cup"
