"""Time of a whole body line, stage by stage.

Usage: python tests/benchmarks/line.py [CASE] [--columns 400] [--beside DIR]

``--beside`` names a folder with another code whose ``chain.py`` draws, redraws, irons and domes the
same body; it is run in the same session and the ratio of both times printed, from the flat blank to
the dome. Times are of one thread, compilation excluded.
"""

from __future__ import annotations

import argparse
import os
import re
import resource
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

from formsim.case.load import load_case
from formsim.solver.state import Sync
from formsim.stages.prepare import prepare
from formsim.stages.run import form, set_up, spring_back
from formsim.stages.sheet import make_sheet
from formsim.stages.warmup import compile_kernels

LINE = Path(__file__).parents[2] / "cases" / "canister_line.toml"
SHARED = ("draw", "redraw", "iron-1", "iron-2", "iron-3", "dome")
OTHER = "draw,redraw,0.08,iron0,0.08,iron1,0.08,iron2,0.08,dome2,iron2_r"


def run_line(path: Path, columns: int | None, exact: bool = False) -> dict[str, float]:
    """Seconds of every stage, springback included."""
    case = load_case(path)
    if columns is not None:
        mesh = case.mesh.model_copy(update={"columns": columns})
        case = case.model_copy(update={"mesh": mesh})
    sheet = make_sheet(case)
    print(f"{path.name}: {sheet.body.n_unknowns} unknowns")
    spent: dict[str, float] = {}
    for stage in case.stages:
        begin = time.perf_counter()
        sheet = prepare(stage, sheet, case.sheet.material)
        setup = set_up(stage, case.sheet.thickness, sheet)
        steps = iterations = cuts = 0
        syncs: list[Sync] = []
        for walk in (form(setup, exact=exact), None):
            states = spring_back(setup, sheet.state) if walk is None else walk
            for state, rows in states:
                sheet = replace(sheet, state=state)
                steps += len(rows)
                iterations += sum(row.iterations for row in rows)
                cuts += sum(row.cuts for row in rows)
                syncs += [row.sync for row in rows if row.sync]
        spent[stage.name] = time.perf_counter() - begin
        print(
            f"  {stage.name:8s} {spent[stage.name]:7.2f} s  {steps:5d} increments"
            f"  {iterations:6d} iterations  {cuts:4d} cuts  {len(syncs)} windows",
            flush=True,
        )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  {'all':8s} {sum(spent.values()):7.2f} s  peak memory {peak:.0f} MB")
    return spent


def run_beside(folder: Path, columns: int) -> float:
    """Seconds of the other code from the flat blank to the dome."""
    command = [sys.executable, "chain.py", str(columns), "voce", OTHER]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    walls = [float(wall) for wall in re.findall(r"'wall': ([\d.]+)", done.stdout)]
    print(f"the other code: {len(walls)} stages, {sum(walls):.1f} s")
    return sum(walls)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("case", nargs="?", type=Path, default=LINE)
    parser.add_argument("--columns", type=int)
    parser.add_argument("--exact", action="store_true")
    parser.add_argument("--beside", type=Path)
    options = parser.parse_args()
    compile_kernels()
    spent = run_line(options.case, options.columns, options.exact)
    if options.beside:
        other = run_beside(options.beside, options.columns or 400)
        own = sum(spent[name] for name in SHARED)
        print(f"ratio from blank to dome: {other / own:.2f} ({other:.1f} s against {own:.1f} s)")


if __name__ == "__main__":
    main()
