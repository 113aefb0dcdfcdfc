"""Small bodies and problems for the tests of the solver."""

from __future__ import annotations

import numpy as np
from skfem import MeshQuad

from formsim.material.flow import Voce
from formsim.material.model import Material
from formsim.solver.body import Body, build_body
from formsim.solver.contact import no_grip, tuning
from formsim.solver.newton import System
from formsim.solver.problem import Problem, Scales, material_data
from formsim.solver.state import State

SHEET = Material("test", 69e3, 0.33, 2720.0, Voce(405.0, 105.0, 18.0), 0.8)


def block_mesh(columns=6, layers=2, inner=10.0, length=6.0, height=2.0, wobble=0.0) -> MeshQuad:
    """Rectangle of quadrilaterals with four named edges, inner nodes shaken by ``wobble``."""
    r = np.linspace(inner, inner + length, columns + 1)
    z = np.linspace(0.0, height, layers + 1)
    mesh = MeshQuad.init_tensor(r, z)
    named = {"centre": (0, r[0]), "rim": (0, r[-1]), "bottom": (1, z[0]), "top": (1, z[-1])}
    mesh = mesh.with_boundaries(
        {name: lambda x, a=a, v=v: np.abs(x[a] - v) < 1e-9 for name, (a, v) in named.items()}
    )
    inside = np.ones(mesh.nvertices, dtype=bool)
    inside[np.unique(mesh.facets[:, mesh.boundary_facets()])] = False
    shake = np.random.default_rng(7).uniform(-wobble, wobble, mesh.p.shape) * inside
    return MeshQuad(mesh.p + shake, mesh.t, mesh.boundaries)


def block(**sizes) -> Body:
    """Body of ``block_mesh``."""
    return build_body(block_mesh(**sizes))


def problem(body: Body, material: Material = SHEET, length: float = 1.0, **acting) -> Problem:
    """Problem of a body, contact settings from ``length`` and the yield stress."""
    stress = material.yield_stress
    settings = acting.pop("contact", tuning(length, stress))
    return Problem(body, material_data(material), Scales(length, stress), settings, **acting)


def at_rest(system: System, positions=()) -> State:
    """Undeformed state with tools and pressures at given positions."""
    task, touch = system.problem, system.touch
    return State(
        stroke=0.0,
        u=np.zeros(task.body.n_unknowns),
        plastic=np.zeros((*task.body.radius.shape, 4)),
        positions=np.asarray(positions, dtype=float),
        grip=no_grip(len(task.tools), *touch.weight.shape),
    )


def rough(body: Body, size: float, seed: int = 3) -> np.ndarray:
    """Random displacement of every unknown [mm]."""
    return np.random.default_rng(seed).uniform(-size, size, body.n_unknowns)


def dense(body: Body, blocks: np.ndarray) -> np.ndarray:
    """Assembled matrix of element blocks."""
    total = np.zeros((body.n_unknowns, body.n_unknowns))
    for unknowns, k in zip(body.unknowns, blocks, strict=True):
        total[np.ix_(unknowns, unknowns)] += k
    return total


def slopes(function, x: np.ndarray, step: float) -> np.ndarray:
    """Jacobian of a function by differences of fourth order, (n_out, n_in)."""
    columns = []
    for k in range(len(x)):
        shift = np.zeros_like(x)
        shift[k] = step
        near = function(x + shift) - function(x - shift)
        far = function(x + 2 * shift) - function(x - 2 * shift)
        columns.append((8 * near - far) / (12 * step))
    return np.stack(columns, axis=1)
