"""What the physics tests share: bodies, material shortcuts, runs to given strokes, forces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from skfem import MeshQuad

from formsim.case.load import load_case
from formsim.case.schema import Case
from formsim.case.stage import Draw
from formsim.material.flow import FlowCurve, Voce
from formsim.material.model import Material
from formsim.results import curve
from formsim.results.thickness import column_volumes, volume_ratio
from formsim.solver.body import Body, build_body
from formsim.solver.contact import no_grip, tuning
from formsim.solver.march import march
from formsim.solver.newton import Newton, System
from formsim.solver.problem import Problem, Scales, material_data
from formsim.solver.state import Increment, State, fresh_state
from formsim.solver.stepping import Steps
from formsim.stages.run import Setup, form, set_up, spring_back
from formsim.stages.sheet import make_sheet

CASES = Path(__file__).parents[2] / "cases"
NEVER = Voce(1e9, 0.0, 1.0)
"""Flow curve of a material that stays elastic."""

Shape = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


@dataclass(frozen=True)
class Frame:
    """An accepted state, its increment, and the forces at the fixed unknowns [N]."""

    state: State
    increment: Increment
    held: np.ndarray
    reaction: np.ndarray

    def force(self, unknowns: np.ndarray) -> float:
        """Sum of the support forces at some unknowns [N]."""
        return float(self.reaction[np.isin(self.held, unknowns)].sum())


def strip(along: np.ndarray, across: np.ndarray, shape: Shape | None = None) -> Body:
    """Strip of columns from its edge ``centre`` to its edge ``rim``, ``bottom`` on the right.

    Parameters
    ----------
    along, across : node lines of the corner mesh in two parameters
    shape : r and z [mm] of the parameters; the parameters themselves when left out
    """
    mesh = MeshQuad.init_tensor(np.asarray(along, float), np.asarray(across, float))
    ends = {"centre": (0, along[0]), "rim": (0, along[-1])}
    ends |= {"bottom": (1, across[0]), "top": (1, across[-1])}
    tests = {name: _on(axis, value) for name, (axis, value) in ends.items()}
    mesh = mesh.with_boundaries(tests)
    if shape is not None:
        mesh = replace(mesh, doflocs=np.array(shape(*mesh.p)))
    return build_body(mesh)


def _on(axis: int, value: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda x: np.abs(x[axis] - value) < 1e-9


def radial(body: Body, edge: str) -> np.ndarray:
    """Radial unknowns of an edge."""
    return 2 * body.edge_nodes(edge)


def axial(body: Body, edge: str) -> np.ndarray:
    """Axial unknowns of an edge."""
    return 2 * body.edge_nodes(edge) + 1


def metal(flow: FlowCurve, young: float, poisson: float, r_bar: float = 1.0) -> Material:
    """Material of a test; its density is of no account."""
    return Material("test", young, poisson, 1000.0, flow, r_bar)


def problem(body: Body, material: Material, length: float, **acting: Any) -> Problem:
    """Problem without tools; ``length`` is the thickness or a like size [mm]."""
    stress = min(material.yield_stress, 0.01 * material.young)
    return Problem(
        body,
        material_data(material),
        Scales(length, stress),
        tuning(length, stress),
        **acting,
    )


def run(
    task: Problem,
    strokes: Sequence[float],
    steps: Steps,
    *,
    start: State | None = None,
    method: Newton | None = None,
) -> list[Frame]:
    """All accepted states to the last stroke; every stroke of the list is hit exactly."""
    system = System(task)
    state = start or fresh_state(task.body, len(task.tools) + len(task.pressures))
    if start is None and task.tools:
        places = [tool.start(0.0) for tool in task.tools] + [0.0] * len(task.pressures)
        grip = no_grip(len(task.tools), *system.touch.weight.shape)
        state = replace(state, positions=np.array(places), grip=grip)
    frames = []
    for new, rows in march(
        system, state, strokes[-1], steps, method=method, scheduled=tuple(strokes)
    ):
        balance = system.evaluate(new, new.stroke, new.u, new.positions, False)
        frames.append(Frame(new, rows[-1], task.fixed, balance.reaction))
    return frames


def at(frames: Sequence[Frame], strokes: Sequence[float]) -> list[Frame]:
    """Frames at some strokes."""
    known = {frame.state.stroke: frame for frame in frames}
    return [known[stroke] for stroke in strokes]


@dataclass(frozen=True)
class Formed:
    """A stage that has been run: its set-up, increments, last state and states at marks."""

    body: Body
    setup: Setup
    increments: tuple[Increment, ...]
    last: State
    marked: dict[float, tuple[State, Increment]]
    free: State

    def forces(self, tool: str) -> np.ndarray:
        """Size of the axial force on a tool at all increments [N]."""
        k = [t.name for t in self.setup.plan.tools].index(tool)
        return np.abs([i.forces[k] for i in self.increments])

    @property
    def strokes(self) -> np.ndarray:
        """Strokes of the increments [mm]."""
        return np.array([i.stroke for i in self.increments])


def named_case(name: str) -> Case:
    """A case of the folder ``cases``."""
    return load_case(CASES / f"{name}.toml")


def with_mesh(case: Case, columns: int, layers: int = 2) -> Case:
    """The case on another mesh."""
    mesh = case.mesh.model_copy(update={"columns": columns, "layers": layers})
    return case.model_copy(update={"mesh": mesh})


def with_thickness(case: Case, thickness: float) -> Case:
    """The case with another sheet thickness [mm]."""
    sheet = case.sheet.model_copy(update={"thickness": thickness})
    return case.model_copy(update={"sheet": sheet})


def with_stage(case: Case, **changes: Any) -> Case:
    """The case with its first stage alone, changed."""
    return case.model_copy(update={"stage": (case.stage[0].model_copy(update=changes),)})


def form_first(
    case: Case, marks: tuple[float, ...] = (), *, contact_factor: float = 1.0, free: bool = False
) -> Formed:
    """Run the first stage of a case, its springback only when ``free``."""
    sheet = make_sheet(case)
    setup = set_up(case.stage[0], case.sheet.thickness, sheet, contact_factor)
    increments, marked, last = [], {}, setup.start
    for last, rows in form(setup, marks):
        increments.extend(rows)
        if last.stroke in marks:
            marked[last.stroke] = (last, rows[-1])
    released = [state for state, _ in spring_back(setup, last)] if free else []
    return Formed(sheet.body, setup, tuple(increments), last, marked, [last, *released][-1])


@cache
def canister_draw(contact_factor: float = 1.0) -> Formed:
    """The draw of the invented canister cup, with springback."""
    return form_first(named_case("canister_cup"), contact_factor=contact_factor, free=True)


def metal_volume(body: Body, state: State) -> float:
    """Volume of metal now [mm3]."""
    return float((volume_ratio(body, state) * body.volume).sum())


def first_draw(case: Case) -> Draw:
    """The first stage, which is a draw."""
    stage = case.stage[0]
    assert isinstance(stage, Draw)
    return stage


def middle_strains(body: Body, state: State) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Strains of the middle of a sheet: radius in the blank [mm], meridional, hoop, by column.

    Thinning is their sum, as plastic flow keeps volume.
    """
    columns = body.columns
    assert columns is not None
    lines = columns.stride * np.arange(columns.count + 1) + columns.layers
    old, new = body.nodes[lines], state.places(body)[lines]
    length = [np.hypot(*np.diff(x, axis=0).T) for x in (old, new)]
    radius = [0.5 * (x[1:, 0] + x[:-1, 0]) for x in (old, new)]
    return radius[0], np.log(length[1] / length[0]), np.log(radius[1] / radius[0])


def pole_thinning(body: Body, state: State) -> float:
    """Logarithmic thinning at the axis, positive where the sheet got thinner."""
    pole = body.axis_nodes()
    return float(np.log(np.ptp(body.nodes[pole, 1]) / np.ptp(state.places(body)[pole, 1])))


def scallop(body: Body, state: State, *, low: float, high: float) -> float:
    """Largest difference of thickness on lines and between them, over that by volume [-].

    Parameters
    ----------
    low, high : heights between which the wall is looked at [mm]
    """
    places, columns = state.places(body), curve.strip(body)
    lines = columns.stride * np.arange(columns.count + 1)
    between = lines[:-1] + columns.line_nodes
    step = places[lines + 2 * columns.layers] - places[lines]
    mid_step = places[between + columns.layers] - places[between]
    middle = curve.middle_line(body, places)
    along, across = middle.tangents(), np.diff(middle.knots, axis=0)
    across /= np.hypot(across[:, 0], across[:, 1])[:, None]
    on = np.abs(step[:, 0] * along[:, 1] - step[:, 1] * along[:, 0])
    off = np.abs(mid_step[:, 0] * across[:, 1] - mid_step[:, 1] * across[:, 0])
    wall = (middle.middles[:, 1] > low) & (middle.middles[:, 1] < high)
    thickness = column_volumes(body, state) / middle.areas()
    return float((np.abs(0.5 * (on[1:] + on[:-1]) - off) / thickness)[wall].max())
