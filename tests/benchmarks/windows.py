"""Busy columns alone against all columns in every increment: what differs, and what it saves.

Usage: python tests/benchmarks/windows.py [CASE ...] [--variants N] [--columns N]

Runs every case both ways, all cases of ``cases/`` without a name, and prints per stage the largest
difference of thickness along the sheet, of height and of the peak forces, and the ratio of the
times. Beside it stands what a run of all columns differs by when its longest increments are two per
cent shorter: closer than that nothing can agree. ``--variants`` adds invented draws and ironed cups
with other sizes, metals and friction.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from formsim.case.load import load_case, parse_case
from formsim.case.schema import Case
from formsim.errors import FormsimError
from formsim.pipeline.run import run_case
from formsim.results.forces import peak_forces
from formsim.results.record import Line, StageRecord
from formsim.results.shape import height
from formsim.results.thickness import thickness_profile
from formsim.results.windows import window_row
from formsim.stages import run as stage_run
from formsim.stages.warmup import compile_kernels

CASES = Path(__file__).parents[2] / "cases"
RIM = 2
"""Columns before the rim that are left out: their end is free to slant."""

VARIANT = """
title = "variant {number}"
source = "invented"
[sheet]
material = "{material}"
thickness = {thickness}
blank_diameter = {blank}
[mesh]
columns = {columns}
[output]
figures = false
picture = false
frames = 1
[[stage]]
kind = "draw"
punch = {{ diameter = {punch}, nose_radius = {nose} }}
die = {{ radius = {radius}, clearance = {clearance}, land = {land} }}
holder = {{ force = "{force} N" }}
friction = {{ punch = {mu_punch}, die = {mu_die}, holder = {mu_die} }}
stroke = {stroke}
{ring}
"""
RING = """
[[stage]]
kind = "iron"
punch = {{ diameter = {punch}, nose_radius = {nose} }}
rings = [{{ bore = {bore}, entry_angle = {angle}, land = {land_ring} }}]
friction = {{ punch = {mu_punch}, ring = {mu_ring} }}
"""
METALS = ("can-body-demo", "aa6016-t4", "aa5042-h2")


def variant(number: int, columns: int) -> Case:
    """An invented draw, every other one ironed, from the number alone."""
    rng = np.random.default_rng(number)
    thickness, punch = rng.uniform(0.25, 0.8), rng.uniform(30.0, 80.0)
    ratio = rng.uniform(1.4, 1.8)
    ironed = number % 2 == 1
    values = {
        "number": number,
        "material": METALS[number % len(METALS)],
        "thickness": thickness,
        "punch": punch,
        "blank": ratio * punch,
        "columns": columns,
        "nose": rng.uniform(6.0, 10.0) * thickness,
        "radius": rng.uniform(6.0, 10.0) * thickness,
        "clearance": rng.uniform(1.2, 1.4) * thickness,
        "land": rng.uniform(3.0, 30.0),
        "force": rng.uniform(1.0, 3.0) * punch**2 * ratio**2 / 4.0,
        "mu_punch": rng.uniform(0.08, 0.15),
        "mu_die": rng.uniform(0.03, 0.08),
        "stroke": '"through"' if ironed else rng.uniform(0.3, 0.6) * punch * (ratio**2 - 1.0) / 4.0,
        "ring": "",
    }
    if ironed:
        reduction = rng.uniform(0.08, 0.2)
        ring = values | {
            "bore": punch + 2.0 * thickness * (1.0 - reduction),
            "angle": rng.uniform(6.0, 10.0),
            "land_ring": 2.0 * thickness,
            "mu_ring": rng.uniform(0.02, 0.05),
        }
        values["ring"] = RING.format(**ring)
    return parse_case(VARIANT.format(**values), f"variant {number}")


def differences(found: StageRecord, exact: StageRecord) -> tuple[float, float, float]:
    """Largest differences of thickness, height and peak force of a stage [%]."""
    mine, theirs = (thickness_profile(r.body, r.final).volume_thickness for r in (found, exact))
    thick = 100.0 * np.abs(mine / theirs - 1.0)[:-RIM].max()
    tall = height(exact.body, exact.final)
    high = 100.0 * abs(height(found.body, found.final) / tall - 1.0)
    ours, others = peak_forces(found), peak_forces(exact)
    largest = max((abs(v) for v in others.values()), default=1.0)
    force = 100.0 * max((abs(ours[k] - others[k]) for k in others), default=0.0) / largest
    return thick, high, force


def compared(fast: StageRecord, exact: StageRecord, shorter: StageRecord) -> str:
    """Differences of a stage, those of shorter increments, and the ratio of the times."""
    pairs = zip(
        ("thickness", "height", "peak force"),
        differences(fast, exact),
        differences(shorter, exact),
        strict=True,
    )
    told = "  ".join(f"{name} {ours:.3f} ({noise:.3f}) %" for name, ours, noise in pairs)
    row = window_row(fast)
    return (
        f"{fast.name:8s} {told}  time {exact.seconds / fast.seconds:.2f}"
        f"  {row['count']} windows of {row['mean_columns']:.0f} columns, {row['undone']} undone,"
        f" jump {100.0 * row['largest_jump']:.3f} %"
    )


def run_both(name: str, case: Case) -> None:
    """Run a case both ways and print a line per stage."""
    quiet = case.output.model_copy(update={"figures": False, "picture": False, "frames": 1})
    case = case.model_copy(update={"output": quiet})
    lines: list[Line] = []
    longest = stage_run.LONGEST
    for exact, share in ((False, 1.0), (True, 1.0), (True, 0.98)):
        stage_run.LONGEST = share * longest
        try:
            lines.append(run_case(case, exact=exact).line)
        except FormsimError as error:
            print(f"{name}: {'all' if exact else 'busy'} columns: {error}", flush=True)
            return
        finally:
            stage_run.LONGEST = longest
    for fast, exact_one, shorter in zip(*(line.stages for line in lines), strict=True):
        if exact_one.increments:
            print(f"{name:16s} {compared(fast, exact_one, shorter)}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("cases", nargs="*", type=Path)
    parser.add_argument("--variants", type=int, default=0)
    parser.add_argument("--columns", type=int, default=150)
    options = parser.parse_args()
    compile_kernels()
    paths = options.cases
    if not paths and not options.variants:
        paths = sorted(CASES.glob("*.toml"))
    for path in paths:
        run_both(path.stem, load_case(path))
    for number in range(options.variants):
        run_both(f"variant {number}", variant(number, options.columns))


if __name__ == "__main__":
    main()
