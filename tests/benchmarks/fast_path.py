"""All figures of the fast path in one table, beside another code where there is one.

Usage: python tests/benchmarks/fast_path.py [--beside DIR] [--quick]

``--beside`` names a folder with another code for the same line, ``chain2.py``, and its settings in
``E.opts``; both run in the same session, one after the other, twice, and the better run counts.
``--quick`` leaves out the line on 800 columns. Times are of one thread, compilation excluded unless
it says so.
"""

from __future__ import annotations

import argparse
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
from scipy.sparse.linalg import spsolve

from formsim.case.load import load_case
from formsim.case.schema import Case
from formsim.solver.newton import System
from formsim.solver.problem import Problem
from formsim.solver.reference import reference_system
from formsim.solver.state import State
from formsim.stages.prepare import prepare
from formsim.stages.run import form, set_up, spring_back
from formsim.stages.sheet import Sheet, make_sheet
from formsim.stages.warmup import compile_kernels

LINE = Path(__file__).parents[2] / "cases" / "canister_line.toml"
CUP = Path(__file__).parents[2] / "cases" / "canister_cup.toml"
SHARED = ("draw", "redraw", "iron-1", "iron-2", "iron-3", "dome")
TIMES = 2


class Spent(NamedTuple):
    """A stage: its time with springback, and the Newton iterations."""

    seconds: float
    iterations: int


def on_columns(path: Path, columns: int) -> Case:
    """A case on so many columns of two layers."""
    case = load_case(path)
    mesh = case.mesh.model_copy(update={"columns": columns, "layers": 2})
    return case.model_copy(update={"mesh": mesh})


def run_stages(case: Case, names: tuple[str, ...] = ()) -> dict[str, Spent]:
    """Stages of a case, one after the other, up to the last one that is named."""
    sheet, spent = make_sheet(case), {}
    for stage in case.stages:
        if names and stage.name not in names:
            break
        begin, iterations = time.perf_counter(), 0
        sheet = prepare(stage, sheet, case.sheet.material)
        setup = set_up(stage, case.sheet.thickness, sheet)
        for states in (form(setup), None):
            for state, rows in spring_back(setup, sheet.state) if states is None else states:
                sheet = Sheet(sheet.body, sheet.material, state)
                iterations += sum(row.iterations for row in rows)
        spent[stage.name] = Spent(time.perf_counter() - begin, iterations)
    return spent


def best_of(case: Case, names: tuple[str, ...] = ()) -> dict[str, Spent]:
    """The stages a few times over; of each the shortest time."""
    runs = [run_stages(case, names) for _ in range(TIMES)]
    return {name: min(run[name] for run in runs) for name in runs[0]}


def full_iteration(case: Case) -> tuple[float, float]:
    """One iteration of all columns, none at rest, and one by scikit-fem forms [ms]."""
    sheet, stage = make_sheet(case), case.stages[0]
    setup = set_up(stage, case.sheet.thickness, sheet)
    last, _ = next(pair for pair in form(setup) if pair[0].stroke > 10.0)
    system, times = System(setup.problem), []
    for _ in range(100):
        begin = time.perf_counter()
        system.scratch.rest.restful[:] = 0
        balance = system.evaluate(last, last.stroke, last.u, last.positions, True)
        if balance is not None:
            system.correction(balance)
        times.append(time.perf_counter() - begin)
    forms = min(_by_forms(sheet, setup.problem, last) for _ in range(3))
    return 1e3 * float(np.median(times)), 1e3 * forms


def _by_forms(sheet: Sheet, problem: Problem, state: State) -> float:
    """Seconds of one iteration by scikit-fem forms and scipy's sparse solver."""
    begin = time.perf_counter()
    force, tangent, _ = reference_system(sheet.body, problem.material, state.u, state.plastic)
    tangent = tangent.tocsc()
    tangent.setdiag(tangent.diagonal() + 1e3)
    spsolve(tangent, force)
    return time.perf_counter() - begin


def run_beside(folder: Path) -> dict[str, float]:
    """Seconds of the other code by stage, springback included."""
    names = dict(zip(("draw", "redraw", "iron0.25", "iron0.17", "iron0.115"), SHARED, strict=False))
    names["dome+clamp"] = "dome"
    options = (folder / "E.opts").read_text(encoding="utf-8").strip()
    found = {**os.environ, "PYTHONPATH": f"{folder}{os.pathsep}{folder.parent}"}
    runs: list[dict[str, float]] = []
    for _ in range(TIMES):
        command = [sys.executable, "chain2.py", options]
        done = subprocess.run(
            command, cwd=folder, capture_output=True, text=True, check=True, env=found
        )
        spent: dict[str, float] = {}
        last = ""
        for stage, wall in re.findall(r"'stage': '([^']+)'.*?'wall': ([\d.]+)", done.stdout):
            last = names.get(stage, last)
            spent[last] = spent.get(last, 0.0) + float(wall)
        runs.append(spent)
    return {name: min(run[name] for run in runs) for name in runs[0]}


def seconds_of(code: list[str], **environment: str) -> float:
    """Wall time of a process of its own, the better of three."""
    times = []
    for _ in range(3):
        begin = time.perf_counter()
        subprocess.run(code, check=True, capture_output=True, env={**os.environ, **environment})
        times.append(time.perf_counter() - begin)
    return min(times)


def first_run() -> float:
    """Seconds until kernels that no run has left behind are compiled."""
    code = [sys.executable, "-c", "from formsim.stages.warmup import compile_kernels as c; c()"]
    with tempfile.TemporaryDirectory() as folder:
        begin = time.perf_counter()
        subprocess.run(code, check=True, env={**os.environ, "XDG_CACHE_HOME": folder})
        return time.perf_counter() - begin


def row(what: str, figure: str, goal: str) -> None:
    """One line of the table."""
    print(f"{what:58s} {figure:>26s}   goal {goal}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--beside", type=Path)
    parser.add_argument("--quick", action="store_true")
    options = parser.parse_args()
    compile_kernels()
    case = on_columns(LINE, 400)
    spent = best_of(case)
    whole = sum(spent[name].seconds for name in SHARED)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told = ", ".join(f"{name} {stage.seconds:.2f}" for name, stage in spent.items())
    print(f"400 x 2 columns: {told}; all {sum(s.seconds for s in spent.values()):.1f} s")
    if options.beside:
        other = run_beside(options.beside)
        told = ", ".join(f"{name} {seconds:.2f}" for name, seconds in other.items())
        print(f"the other code: {told} s")
        all_other = sum(other.values())
        row(
            "whole line, draw to dome, over the other code",
            f"{whole:.1f} / {all_other:.1f} s = {whole / all_other:.2f}",
            "0.8",
        )
        draw = spent["draw"].seconds
        row("draw alone", f"{draw:.2f} / {other['draw']:.2f} s = {draw / other['draw']:.2f}", "0.8")
    else:
        row("whole line, draw to dome", f"{whole:.1f} s", "-")
    iteration, forms = full_iteration(case)
    row("full iteration, 6410 unknowns, nothing at rest", f"{iteration:.2f} ms", "1.2 ms")
    if not options.quick:
        double = sum(s.seconds for s in run_stages(on_columns(LINE, 800), SHARED).values())
        row("800 over 400 columns", f"{double:.1f} s, {double / whole:.2f} times", "2.1")
    small = best_of(on_columns(CUP, 200), ("draw", "dome"))
    row("200 x 2 draw and dome", f"{sum(s.seconds for s in small.values()):.2f} s", "2 s")
    iterations = sum(spent[name].iterations for name in SHARED)
    slow = 1e-3 * forms * iterations
    row("scikit-fem forms and scipy, as many iterations", f"{slow / whole:.0f} times", "80 times")
    row("peak memory of the line", f"{peak:.0f} MB", "500 MB")
    python = sys.executable
    row("import formsim", f"{seconds_of([python, '-c', 'import formsim']):.2f} s", "0.4 s")
    row("formsim --help", f"{seconds_of([python, '-m', 'formsim', '--help']):.2f} s", "0.5 s")
    row("first run, kernels compiled", f"{first_run():.1f} s", "20 s")


if __name__ == "__main__":
    main()
