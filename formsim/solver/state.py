"""State of the body between increments, and what one increment did."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from formsim.arrays import Floats
from formsim.solver.body import Body
from formsim.solver.contact import Grip, no_grip


def _not_followed() -> Floats:
    return np.zeros((0, 0, 3))


def _never() -> Floats:
    return np.zeros(0)


@dataclass(frozen=True)
class State:
    """An accepted equilibrium state; never changed in place.

    Attributes
    ----------
    stroke : stage parameter [mm]
    u : displacement, (n_unknowns) [mm]
    plastic : modal plastic strains and equivalent plastic strain, (n_el, n_q, 4) [-]
    positions : positions of the tools [mm], then pressures [MPa], then forces of ties [N]
    grip : memory of the contact
    peak : largest norm of the internal forces in the stage so far [N]
    damage : integrals over plastic strain, see ``damage.py``, (n_el, n_q, 3) [-]; empty where they
        are not followed
    heat : temperature and factors on the flow stress, see ``tempo.py``, (n_el, n_q, 4); empty
        where they are not followed
    reached : stroke each element was last worked out at, (n_el) [mm]; empty likewise
    """

    stroke: float
    u: Floats
    plastic: Floats
    positions: Floats
    grip: Grip
    peak: float = 0.0
    damage: Floats = field(default_factory=_not_followed)
    heat: Floats = field(default_factory=_not_followed)
    reached: Floats = field(default_factory=_never)

    def places(self, body: Body) -> Floats:
        """Current node positions, (n_nodes, 2) [mm]."""
        return body.nodes + self.u.reshape(-1, 2)

    @property
    def strain(self) -> Floats:
        """Equivalent plastic strain, (n_el, n_q) [-]."""
        return self.plastic[..., 3]


@dataclass(frozen=True)
class Energy:
    """Energies since the begin of the stage [N mm].

    Attributes
    ----------
    external : work of tools, pressures and prescribed displacements
    elastic, plastic : stored and dissipated in the body (elastic and plastic changes)
    friction : dissipated between body and tools
    viscous : dissipated by the help given where the sheet jumps
    guard : dissipated by the resistance to hourglass modes at a free rim
    sinking : work of the tools on their way into the numerical contact, out again negative
    """

    external: float = 0.0
    elastic: float = 0.0
    plastic: float = 0.0
    friction: float = 0.0
    viscous: float = 0.0
    guard: float = 0.0
    sinking: float = 0.0


@dataclass(frozen=True)
class Sync:
    """How well the columns beyond a window had followed when all were solved together again.

    Attributes
    ----------
    columns, increments : of the window
    drift : residual of all columns then, over the internal forces [-]
    jump : change of the force on each tool, (n_tools) [N]
    """

    columns: int
    increments: int
    drift: float
    jump: Floats


@dataclass(frozen=True)
class Increment:
    """One accepted increment.

    Attributes
    ----------
    stroke : stage parameter at its end [mm]
    iterations, residuals : Newton iterations and relative residual of each
    loose : accepted above the tolerance
    cuts : failed trials since the last accepted increment
    forces : axial force of the body on each tool from contact tractions, (n_tools) [N]
    balance_forces : the same from internal forces of the nodes the tool touches, (n_tools) [N]
    radial : radial force sums per full circle, (n_tools) [N]
    positions : tool positions, then pressures [mm], [MPa]
    touching : contact points of each tool, (n_tools)
    mean_gap, rms_gap, deepest : gaps of each tool, pressure-weighted, (n_tools) [mm]
    reaction : axial force of the supports on the body [N]
    energy : energies so far
    sync : where a window of the columns was synchronised, else None
    undone : increments of a window that were undone before
    lost_to_heat : largest share of the flow stress a point lost to heat within it [-]
    unstable : shapes in which it would run away, where the problem is watched, see
        ``stability.py``; none in a stable equilibrium
    """

    stroke: float
    iterations: int
    residuals: tuple[float, ...]
    loose: bool
    cuts: int
    forces: Floats
    balance_forces: Floats
    radial: Floats
    positions: Floats
    touching: Floats
    mean_gap: Floats
    rms_gap: Floats
    deepest: Floats
    reaction: float
    energy: Energy
    sync: Sync | None = None
    undone: int = 0
    lost_to_heat: float = 0.0
    unstable: int = 0


def between_stages(u: Floats, plastic: Floats, damage: Floats, heat: Floats) -> State:
    """State of a body that no tool touches, at the begin of a stage; see ``State``."""
    return State(0.0, u, plastic, np.zeros(0), no_grip(0, 0), damage=damage, heat=heat)


def fresh_state(body: Body, n_tools: int = 0) -> State:
    """Undeformed, unstrained body without tools."""
    n_q = body.shape.shape[0]
    return State(
        stroke=0.0,
        u=np.zeros(body.n_unknowns),
        plastic=np.zeros((len(body.elements), n_q, 4)),
        positions=np.zeros(n_tools),
        grip=no_grip(0, 0),
        damage=np.zeros((len(body.elements), n_q, 3)),
    )
