"""A round proportional bar of a card's metal, pulled through its largest force into a neck.

The solver knows nothing of bars: it is given a solid whose end is drawn away from its middle. The
bar is isotropic, since a solid of revolution has no direction in its section.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.geometry.strip import strip_of
from formsim.material.model import Material
from formsim.solver.body import Body, build_body
from formsim.solver.contact import tuning
from formsim.solver.damage import MEAN, TENSION
from formsim.solver.march import march
from formsim.solver.newton import System
from formsim.solver.problem import Problem, Scales, Support, material_data
from formsim.solver.state import State, fresh_state
from formsim.solver.stepping import Steps

DIAMETER = 10.0
"""First diameter [mm]; nothing hangs on it, as neither rate nor grain has a size."""

PROPORTION = 5.65
"""Gauge length over the root of the first section of a proportional bar, ISO 6892-1."""

PARALLEL = 55.0
"""Parallel length, the gauge length and half a diameter: the least of ISO 6892-1 [mm]."""

FLAW = 0.004
"""Share by which the middle is thinner, which places the neck: what ISO 6892-1 allows between the
diameters of a machined bar of 10 mm (memory)."""

REACH = 10.0
"""Way from the middle over which the flaw fades, by a cosine [mm]."""

COLUMNS, LAYERS, GRADING = 60, 8, 1.8
"""Mesh of half the bar: columns along it, shorter towards the middle, and layers across. With half
as many the damage at a strain of the area of 1.5 differs by 1.3 %, with 90 and 12 by 0.2 %."""

STEP, FLOOR, FARTHEST = 0.02, 1e-5, 60.0
"""Longest and shortest increment of half the elongation, and where the pull ends anyhow [mm]."""


@dataclass(frozen=True)
class Pull:
    """What a pulled bar shows in every increment, the first before any force.

    Attributes
    ----------
    young : Young's modulus [MPa]
    lines : first distances of the node lines from the middle, (n_lines) [mm]
    moved : way of the node lines, (m, n_lines) [mm]
    force : (m) [N]
    outline : radius and height of the surface, (m, n_nodes, 2) [mm]
    tension, mean, strain : damage integrals in the middle of the bar: largest principal and mean
        stress over the equivalent one, and the equivalent plastic strain itself, (m) [-]
    uniform : elongation it is taken to have at its largest force [-]; None for its own, which the
        flaw keeps below that of the metal: beside the neck the bar has flowed less by then. Up to
        there it then grows as its middle does, by constant volume
    """

    young: float
    lines: Floats
    moved: Floats
    force: Floats
    outline: Floats
    tension: Floats
    mean: Floats
    strain: Floats
    uniform: float | None = None

    @cached_property
    def radius(self) -> Floats:
        """Radius of the neck, (m) [mm]."""
        radius: Floats = self.outline[:, :, 0].min(axis=1)
        return radius

    @property
    def area_strain(self) -> Floats:
        """Logarithm of the first over the present area of the neck, (m) [-]."""
        narrowed: Floats = 2.0 * np.log(self.radius[0] / self.radius)
        return narrowed

    @property
    def stress(self) -> Floats:
        """Force over the first section of the bar beside the flaw, (m) [MPa]."""
        stress: Floats = self.force / (0.25 * np.pi * DIAMETER**2)
        return stress

    def extension(self, proportion: float = PROPORTION) -> Floats:
        """Extension of a gauge length over it, (m) [-]; see ``uniform``.

        Parameters
        ----------
        proportion : gauge length over the root of the first section [-]; a gauge longer than the
            bar is taken to go on as its end does
        """
        half = 0.25 * proportion * np.sqrt(np.pi) * DIAMETER
        end, before = self.lines[-1], self.lines[-2]
        rate = (self.moved[:, -1] - self.moved[:, -2]) / (end - before)
        inside = np.array([np.interp(half, self.lines, row) for row in self.moved])
        grown: Floats = (inside + rate * max(half - end, 0.0)) / half
        top = int(self.force.argmax())
        if self.uniform is not None and top < len(grown) - 1:
            reached = self.uniform + self.stress[top] / self.young
            even = np.minimum(np.maximum(grown, np.expm1(self.area_strain)), reached)
            necked = np.arange(len(grown)) > top
            grown = np.where(necked, grown + reached - grown[top], even)
        return grown

    def elongation(self, proportion: float = PROPORTION) -> Floats:
        """Extension that would stay after a break in each increment, (m) [-].

        Source: ISO 6892-1, elongation after fracture: the extension less stress over the elastic
        slope.
        """
        return self.extension(proportion) - self.stress / self.young

    def shape(self, area_strain: float) -> Floats:
        """Radius and height of the surface of half the bar, from its middle, (n_nodes, 2) [mm]."""
        area = self.area_strain
        after = int(np.clip(np.searchsorted(area, area_strain), 1, len(area) - 1))
        share = (area_strain - area[after - 1]) / (area[after] - area[after - 1])
        shape: Floats = (1.0 - share) * self.outline[after - 1] + share * self.outline[after]
        return shape

    @property
    def triaxiality(self) -> Floats:
        """Mean over equivalent stress in the middle of the bar, (m) [-]; 1/3 before it flows."""
        flowed = np.diff(self.strain)
        ratio = np.diff(self.mean) / np.where(flowed > 0.0, flowed, 1.0)
        return np.concatenate([[1.0 / 3.0], np.where(flowed > 0.0, ratio, 1.0 / 3.0)])


def pull_bar(
    material: Material,
    area_strain: float,
    *,
    flaw: float = FLAW,
    mesh: tuple[int, int] = (COLUMNS, LAYERS),
    step: float = STEP,
) -> Pull:
    """Pull a bar until its neck has narrowed so far.

    Parameters
    ----------
    material : its anisotropy, rate and heat are left out
    area_strain : logarithm of the first over the last area of the neck [-]
    flaw : share by which the middle is thinner [-]
    mesh : columns of half the bar and layers
    step : longest increment of half the elongation [mm]

    Raises
    ------
    StepFloorError : an increment does not converge
    """
    body = _half_bar(flaw, *mesh)
    end = 2 * body.edge_nodes("rim") + 1
    supports = (Support(2 * body.edge_nodes("centre") + 1), Support(end, lambda s: s))
    metal = replace(material, r_bar=1.0, rate_law=None, heating=None)
    stress = min(metal.yield_stress, 0.01 * metal.young)
    problem = Problem(
        body,
        material_data(metal),
        Scales(1.0, stress),
        tuning(1.0, stress),
        supports=supports,
    )
    system, start = System(problem), fresh_state(body)
    states, forces = [start], [0.0]
    first = _neck_radius(body, start)

    def done(state: State, _: object) -> bool:
        return bool(2.0 * np.log(first / _neck_radius(body, state)) > area_strain)

    steps = Steps(0.1 * step, step, FLOOR)
    for state, _ in march(system, start, FARTHEST, steps, done=done):
        states.append(state)
        forces.append(_force(system, state, end))
    return _seen(body, material.young, states, np.array(forces))


def _half_bar(flaw: float, columns: int, layers: int) -> Body:
    """Half a bar, its middle at height 0; the surface is the edge ``bottom``, the axis ``top``."""
    height = 0.5 * PARALLEL * np.linspace(0.0, 1.0, columns + 1) ** GRADING
    dip = np.where(height < REACH, 0.5 + 0.5 * np.cos(np.pi * height / REACH), 0.0)
    radius = 0.5 * DIAMETER * (1.0 - flaw * dip)
    across = np.linspace(1.0, 0.0, layers + 1)
    radial = radius[:, None] * across
    return build_body(strip_of(np.stack([radial, height[:, None] + 0.0 * radial], axis=2)))


def _neck_radius(body: Body, state: State) -> float:
    return float(state.places(body)[body.edge_nodes("centre"), 0].max())


def _force(system: System, state: State, end: Ints) -> float:
    """Force that holds the end [N]."""
    balance = system.evaluate(state, state.stroke, state.u, state.positions, want=False)
    if balance is None:
        return float("nan")
    return float(balance.reaction[np.isin(system.problem.fixed, end)].sum())


def _seen(body: Body, young: float, states: list[State], forces: Floats) -> Pull:
    """What the states show."""
    columns = body.columns
    if columns is None:
        message = "the bar is a strip of columns"
        raise TypeError(message)
    surface = body.edge_nodes("bottom")
    axis = columns.stride * np.arange(columns.count + 1) + 2 * columns.layers
    middle = columns.layers - 1
    places = [state.places(body) for state in states]
    taken = np.array([state.damage[middle].mean(axis=0) for state in states])
    return Pull(
        young=young,
        lines=body.nodes[axis, 1],
        moved=np.array([at[axis, 1] - body.nodes[axis, 1] for at in places]),
        force=forces,
        outline=np.array([at[surface] for at in places]),
        tension=taken[:, TENSION],
        mean=taken[:, MEAN],
        strain=np.array([float(state.strain[middle].mean()) for state in states]),
    )
