"""The same cup with nose radius 2, 3, 4 and 5 mm: a sharper nose thins the sheet over it more.

Why: under nearly the same wall tension the sheet over a sharp nose is bent more, and strains of
bending and tension add up (common practice, no source). The second thin ring, where the sheet lay
on the die radius at the begin, does the opposite: a rounder nose lets it be drawn over the die
under a slightly higher force. So the trend is that of the nose, not of the whole sheet.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from formsim.case.load import parse_case
from formsim.pipeline.run import run_case
from formsim.results.thickness import thickness_profile

CASE = (Path(__file__).parents[2] / "cases" / "canister_cup.toml").read_text(encoding="utf-8")
RADII = (2.0, 3.0, 4.0, 5.0)


def cup(radius: float) -> str:
    """The canister's draw alone, with another nose radius."""
    draw = CASE.split("[[stage]]")[1].replace("nose_radius = 3.0", f"nose_radius = {radius}")
    draw = draw.replace(", cavity = { diameter = 58.0, radius = 2.0, depth = 14.0 }", "")
    return CASE.split("[[stage]]")[0] + "[mesh]\ncolumns = 240\nlayers = 4\n[[stage]]" + draw


@pytest.mark.slow
def test_minimum_thickness_at_the_nose_rises_with_its_radius(tmp_path: Path) -> None:
    from formsim.report.style import colour, new_figure, save_figure

    figure = new_figure(7.0, 4.2)
    axes = figure.subplots()
    lowest = []
    for k, radius in enumerate(RADII):
        run = run_case(parse_case(cup(radius), "nose"))
        profile = thickness_profile(run.line.body, run.line.stages[0].final)
        near = profile.column_radius < 46.0
        nose = profile.column_radius < 37.5
        lowest.append(float(profile.volume_thickness[nose].min()))
        axes.plot(
            profile.column_radius[near],
            profile.volume_thickness[near],
            color=colour(k),
            label=f"nose {radius:g} mm, minimum there {lowest[-1]:.4f} mm",
        )
    axes.set_xlabel("radius in the flat blank [mm]")
    axes.set_ylabel("thickness [mm]")
    axes.legend()
    save_figure(lambda: figure, tmp_path / "nose_radius")

    print(dict(zip(RADII, lowest, strict=True)))
    assert lowest == sorted(lowest)
    assert (tmp_path / "nose_radius.png").stat().st_size > 10_000
