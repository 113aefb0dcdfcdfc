"""Time of a draw and a dome press, all columns in every increment, by what it is spent on.

Usage: python tests/benchmarks/speed.py [--columns 400] [--beside DIR]

``--beside`` names a folder with another code whose ``chain.py`` draws the same cup; that draw is
then run in the same session and the ratio printed. Times are of one thread, compilation excluded.
"""

from __future__ import annotations

import argparse
import os
import re
import resource
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
from scipy.sparse.linalg import spsolve

from formsim.case.load import parse_case
from formsim.solver import balance, newton
from formsim.solver.reference import reference_system
from formsim.stages.run import form, set_up, spring_back
from formsim.stages.sheet import make_sheet
from formsim.stages.warmup import compile_kernels

CASE = """
title = "speed"
source = "invented"
[sheet]
material = "can-body-demo"
thickness = 0.28
blank_diameter = 118.0
[mesh]
columns = {columns}
[[stage]]
kind = "draw"
die = {{ radius = 2.5, clearance = 0.308, land = 60.0 }}
holder = {{ force = "5 kN" }}
friction = {{ punch = 0.10, die = 0.05, holder = 0.05 }}
stroke = 34.0
[stage.punch]
diameter = 74.0
nose_radius = 3.0
cavity = {{ diameter = 58.0, radius = 2.0, depth = 14.0 }}
[[stage]]
kind = "dome"
dome = {{ crown_radius = 62.0, shoulder_radius = 3.0, diameter = 54.0 }}
clamp = {{ force = "15 kN" }}
depth = 9.5
friction = {{ punch = 0.10, dome = 0.08, clamp = 0.08 }}
[stage.punch]
diameter = 74.0
nose_radius = 3.0
cavity = {{ diameter = 58.0, radius = 2.0, depth = 14.0 }}
"""


class Clock:
    """Seconds spent in named parts."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = defaultdict(float)

    def timed(self, name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        def run(*args: Any, **named: Any) -> Any:
            begin = time.perf_counter()
            result = function(*args, **named)
            self.spent[name] += time.perf_counter() - begin
            return result

        return run

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Time the element kernels, the contact kernels and the linear solver."""
        kept = balance._elements, balance._contacts, newton.best_solver
        balance._elements = self.timed("assembly", kept[0])
        balance._contacts = self.timed("contact", kept[1])

        def solver(body: Any) -> Any:
            real = kept[2](body)

            class Timed:
                solve = staticmethod(self.timed("factorisation", real.solve))

            return Timed()

        newton.best_solver = solver
        try:
            yield
        finally:
            balance._elements, balance._contacts, newton.best_solver = kept


def run_line(columns: int) -> None:
    """Draw and dome press with the split of their time."""
    case = parse_case(CASE.format(columns=columns), "speed")
    sheet = make_sheet(case)
    print(f"{columns} columns x 2 layers, {sheet.body.n_unknowns} unknowns")
    for stage in case.stages:
        clock = Clock()
        with clock.watching():
            begin = time.perf_counter()
            setup = set_up(stage, 0.28, sheet)
            rows = []
            for now, new in form(setup, exact=True):
                sheet = replace(sheet, state=now)
                rows.extend(new)
            seconds = time.perf_counter() - begin
        iterations = sum(row.iterations for row in rows)
        cuts = sum(row.cuts for row in rows)
        split = ", ".join(f"{n} {100 * s / seconds:.0f} %" for n, s in clock.spent.items())
        print(
            f"  {stage.name:5s} {seconds:6.2f} s  {len(rows)} increments  {iterations} iterations"
            f"  {cuts} cuts  {1e3 * seconds / iterations:.2f} ms an iteration  ({split})"
        )
        RESULTS[stage.name] = (seconds, iterations)
        *_, (free, _) = spring_back(setup, sheet.state)
        sheet = replace(sheet, state=free)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  peak memory {peak:.0f} MB")


RESULTS: dict[str, tuple[float, int]] = {}


def run_forms(columns: int) -> None:
    """One iteration by scikit-fem forms and scipy's sparse solver on the same mesh."""
    case = parse_case(CASE.format(columns=columns), "speed")
    sheet = make_sheet(case)
    body, problem = sheet.body, set_up(case.stages[0], 0.28, sheet).problem
    u = np.stack([-0.01 * body.nodes[:, 0], 0.005 * body.nodes[:, 1]], axis=1).ravel()
    old = np.zeros((len(body.elements), 4, 4))
    begin = time.perf_counter()
    force, tangent, _ = reference_system(body, problem.material, u, old)
    middle = time.perf_counter()
    tangent = tangent.tocsc()
    tangent.setdiag(tangent.diagonal() + 1e3)
    spsolve(tangent, force)
    end = time.perf_counter()
    seconds, iterations = RESULTS["draw"]
    ratio = (end - begin) / (seconds / iterations)
    print(
        f"scikit-fem forms {1e3 * (middle - begin):.0f} ms + sparse solve"
        f" {1e3 * (end - middle):.0f} ms: {ratio:.0f} times one whole iteration here"
    )


def run_beside(folder: Path, columns: int) -> None:
    """The other code's draw and the ratio of both times."""
    command = [sys.executable, "chain.py", str(columns), "voce", "draw", "epsN=1e5"]
    for attempt in ("compiling", "timed"):
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
        row = next(line for line in done.stdout.splitlines() if "'stage': 'draw'" in line)
        wall, iterations = (
            float(re.search(rf"'{key}': ([\d.]+)", row).group(1)) for key in ("wall", "iters")
        )
        print(f"the other code, draw ({attempt}): {wall:.2f} s, {iterations:.0f} iterations")
    seconds, own = RESULTS["draw"]
    print(
        f"ratio: {wall / seconds:.2f} in time, {wall / iterations * own / seconds:.2f} an iteration"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--columns", type=int, default=400)
    parser.add_argument("--beside", type=Path)
    options = parser.parse_args()
    begin = time.perf_counter()
    compile_kernels()
    print(f"kernels ready after {time.perf_counter() - begin:.1f} s")
    run_line(options.columns)
    run_forms(options.columns)
    if options.beside:
        run_beside(options.beside, options.columns)


if __name__ == "__main__":
    main()
