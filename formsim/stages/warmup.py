"""Compile the kernels once, so that a run can say so and then time itself fairly.

Half of the time goes into the kernel of the elements, so one process compiles that one while
another begins with the rest.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from skfem import MeshQuad

from formsim.geometry.distance import gaps, least_gap
from formsim.geometry.outline import chain
from formsim.kernels import can_keep, kept_kernel
from formsim.material.flow import Voce
from formsim.material.model import Material
from formsim.solver.balance import contacts, internal_force
from formsim.solver.beyond import pull_lines
from formsim.solver.body import build_body, swept_areas
from formsim.solver.contact import no_grip, tuning
from formsim.solver.depth import shallow_share
from formsim.solver.element import element_forces
from formsim.solver.hourglass import guard_rim
from formsim.solver.march import march
from formsim.solver.newton import System
from formsim.solver.problem import Press, Pressure, Problem, Scales, Tempo, Tool, material_data
from formsim.solver.state import State
from formsim.solver.stepping import Steps
from formsim.solver.tempo import cold
from formsim.solver.window import flowing_columns, touched_columns

_ELEMENTS = "elements"


def is_compiled() -> bool:
    """Whether an earlier run left compiled kernels in the cache, the last one too."""
    return kept_kernel(element_forces) and kept_kernel(pull_lines)


def compile_kernels() -> None:
    """Load the kernels kept by an earlier run; where there are none, child processes make them.

    Code just compiled differs in the last bits from the same code read back, so a run that is to
    be repeated only reads. What the children could not keep is compiled here.
    """
    if can_keep(element_forces) and not is_compiled():
        _compile_in_children()
    _run_all()


def _compile_in_children() -> None:
    """Elements in one child; another waits for them, with all it can do before that done."""
    try:
        elements, rest = _child(_ELEMENTS), _child()
    except OSError:
        return
    elements.wait()
    rest.communicate()


def _child(*asked: str) -> subprocess.Popen[bytes]:
    package = str(Path(__file__).parents[2])
    path = os.pathsep.join(filter(None, (package, os.environ.get("PYTHONPATH"))))
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "formsim.stages.warmup", *asked],
        env={**os.environ, "PYTHONPATH": path},
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def _small_problem() -> Problem:
    """A plate of a few elements between two tools."""
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
    return Problem(
        body=body,
        material=material_data(material),
        scales=Scales(1.0, 200.0),
        contact=tuning(1.0, 200.0),
        pressures=(Pressure("top", 1.0, given=lambda _: 0.0),),
        guard=guard_rim(body, 1, 1.0),
        tools=(
            Tool("plate", plate, "top", 0.1, lambda stroke: 1.0 - stroke),
            Tool("base", base, "bottom", 0.1, lambda _: 0.0),
        ),
    )


def _run_all() -> None:
    """Run every kernel once on a sheet of a few elements."""
    problem = _small_problem()
    _run_elements(problem)
    _run_beside_elements(problem)
    moved, base = problem.tools
    pressed = replace(moved, motion=Press(100.0, lambda stroke: 1.0 - stroke, 1e4))
    for first, tempo in ((moved, None), (pressed, Tempo(1.0))):
        system = System(replace(problem, tools=(first, base), tempo=tempo))
        start = _flat(system)
        for _ in march(system, start, 0.004, Steps(0.002, 0.002, 1e-6)):
            pass
        system.evaluate(start, 0.001, start.u, start.positions, want=True, viscosity=1.0)
    line = np.zeros((1, 6))
    pull_lines(line[0], np.array([0]), line, line, np.zeros((1, 6, 6)), np.zeros(6))


def _run_elements(problem: Problem) -> None:
    start = _flat(System(problem))
    internal_force(problem, start.u, start.plastic, System(problem).scratch)


def _run_beside_elements(problem: Problem) -> None:
    """Kernels that need no forces of elements: solver, contact, windows, distances."""
    system, body = System(problem), problem.body
    start, scratch = _flat(system), system.scratch
    contacts(problem, system.touch, scratch, start, start.u, start.positions, True, 1.0)
    scratch.block[:], scratch.copied[:] = np.eye(16), -1
    for count in (1, 2):
        system.solver.solve(scratch.block, np.zeros((count, body.n_unknowns)))
    gaps(plate := problem.tools[0].outline, body.nodes)
    least_gap(plate.pieces, body.nodes, 0.0, 0.0, 0.0)
    points = np.zeros((1, 1, 3))
    shallow_share(np.zeros((1, 2), np.int64), points, points, points, points, 1.0)
    swept_areas(body.nodes, np.zeros(body.n_unknowns), 2, 8, np.empty(4))
    plastic, busy = np.zeros((8, 4, 4)), np.empty(4, dtype=bool)
    flowing_columns(plastic, plastic, np.zeros(4), busy)
    touched_columns(np.zeros(1, np.int64), 2, np.zeros((1, 1, 3)), np.array([True]), busy)


def _flat(system: System) -> State:
    body = system.problem.body
    return State(
        stroke=0.0,
        u=np.zeros(body.n_unknowns),
        plastic=np.zeros((len(body.elements), 4, 4)),
        positions=np.array([1.0, 0.0, 0.0]),
        grip=no_grip(2, *system.touch.weight.shape),
        damage=np.zeros((len(body.elements), 4, 3)),
        heat=cold(body.volume.shape),
        reached=np.zeros(len(body.elements)),
    )


if __name__ == "__main__":
    if _ELEMENTS in sys.argv:
        _run_elements(_small_problem())
    else:
        _run_beside_elements(_small_problem())
        sys.stdin.read()
        _run_all()
