"""Compile the kernels once, so that a run can say so and then time itself fairly."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from skfem import MeshQuad

from formsim.geometry.distance import gaps
from formsim.geometry.outline import chain
from formsim.kernels import can_keep, kept_kernel
from formsim.material.flow import Voce
from formsim.material.model import Material
from formsim.solver.beyond import pull_lines
from formsim.solver.body import build_body, swept_areas
from formsim.solver.contact import no_grip, tuning
from formsim.solver.element import element_forces
from formsim.solver.hourglass import guard_rim
from formsim.solver.march import march
from formsim.solver.newton import System
from formsim.solver.problem import Press, Pressure, Problem, Scales, Tempo, Tool, material_data
from formsim.solver.state import State
from formsim.solver.stepping import Steps
from formsim.solver.tempo import cold
from formsim.solver.window import flowing_columns, touched_columns


def is_compiled() -> bool:
    """Whether an earlier run left compiled kernels in the cache."""
    return kept_kernel(element_forces)


def compile_kernels() -> None:
    """Load the kernels kept by an earlier run; where there are none, a child process makes them.

    Code just compiled differs in the last bits from the same code read back, so a run that is to
    be repeated only reads. What the child could not keep is compiled here.
    """
    if can_keep(element_forces) and not is_compiled():
        _compile_in_a_child()
    _run_all()


def _compile_in_a_child() -> None:
    package = str(Path(__file__).parents[2])
    path = os.pathsep.join(filter(None, (package, os.environ.get("PYTHONPATH"))))
    with contextlib.suppress(OSError):
        subprocess.run(
            [sys.executable, "-P", "-m", "formsim.stages.warmup"],
            env={**os.environ, "PYTHONPATH": path},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
        )


def _run_all() -> None:
    """Run every kernel once on a sheet of a few elements."""
    mesh = MeshQuad.init_tensor(np.linspace(0.0, 4.0, 5), np.linspace(0.0, 1.0, 3))
    edges = {
        "centre": lambda x: x[0] < 1e-9,
        "rim": lambda x: x[0] > 4.0 - 1e-9,
        "bottom": lambda x: x[1] < 1e-9,
        "top": lambda x: x[1] > 1.0 - 1e-9,
    }
    body = build_body(mesh.with_boundaries(edges))
    material = Material("warm-up", 7e4, 0.3, 2700.0, Voce(300.0, 100.0, 10.0, 0.0))
    plate = chain([(9.0, 0.0), (-1.0, 0.0)], [])
    base = chain([(-1.0, 0.0), (9.0, 0.0)], [])
    moved = Tool("plate", plate, "top", 0.1, lambda stroke: 1.0 - stroke)
    pressed = replace(moved, motion=Press(100.0, lambda stroke: 1.0 - stroke, 1e4))
    support = Tool("base", base, "bottom", 0.1, lambda _: 0.0)
    problem = Problem(
        body=body,
        material=material_data(material),
        scales=Scales(1.0, 200.0),
        contact=tuning(1.0, 200.0),
        pressures=(Pressure("top", 1.0, given=lambda _: 0.0),),
        guard=guard_rim(body, 1, 1.0),
    )
    for first, tempo in ((moved, None), (pressed, Tempo(1.0))):
        _press_flat(System(replace(problem, tools=(first, support), tempo=tempo)))
    line = np.zeros((1, 6))
    gaps(plate, body.nodes)
    swept_areas(body.nodes, np.zeros(body.n_unknowns), 2, 8, np.empty(4))
    plastic, busy = np.zeros((8, 4, 4)), np.empty(4, dtype=bool)
    flowing_columns(plastic, plastic, np.zeros(4), busy)
    touched_columns(np.zeros(1, np.int64), 2, np.zeros((1, 1, 3)), np.array([True]), busy)
    pull_lines(line[0], np.array([0]), line, line, np.zeros((1, 6, 6)), np.zeros(6))


def _press_flat(system: System) -> None:
    body = system.problem.body
    start = State(
        stroke=0.0,
        u=np.zeros(body.n_unknowns),
        plastic=np.zeros((len(body.elements), 4, 4)),
        positions=np.array([1.0, 0.0, 0.0]),
        grip=no_grip(2, *system.touch.weight.shape),
        damage=np.zeros((len(body.elements), 4, 3)),
        heat=cold(body.volume.shape),
        reached=np.zeros(len(body.elements)),
    )
    for _ in march(system, start, 0.004, Steps(0.002, 0.002, 1e-6)):
        pass


if __name__ == "__main__":
    _run_all()
