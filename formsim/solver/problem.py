"""What is solved: a body, its material, the tools and pressures on it and where it is held."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from formsim.arrays import Floats, Ints
from formsim.geometry.outline import Outline
from formsim.material.anisotropy import hill_weights
from formsim.material.heat import Heating
from formsim.material.model import Material
from formsim.material.table import flow_table
from formsim.solver.beyond import Beyond
from formsim.solver.body import Body
from formsim.solver.contact import Tuning
from formsim.solver.hourglass import Guard
from formsim.solver.rates import NO_RATE

Path = Callable[[float], float]


@dataclass(frozen=True)
class Press:
    """A force that presses a tool on the body through a preloaded spring.

    The spring's seat moves along its path; once the tool meets the body the force rises with the
    spring and stays at ``force`` from then on. So a tool closes gently and then holds its force.

    Attributes
    ----------
    force : axial force of the body on the tool, upwards positive, never zero [N]
    seat : position of the tool without contact, over the stroke [mm]
    stiffness : of the spring [N/mm]
    stop : lowest position the tool may take, over the stroke [mm]
    """

    force: float
    seat: Path
    stiffness: float
    stop: Path | None = None


@dataclass(frozen=True)
class Tool:
    """A rigid ring of revolution that moves along the axis.

    Attributes
    ----------
    name : unique name
    outline : its surface at axial position 0
    edge : named edge of the body it may touch
    friction : Coulomb number [-]
    motion : axial position over the stroke [mm], or the press that makes it an unknown
    """

    name: str
    outline: Outline
    edge: str
    friction: float
    motion: Path | Press

    def start(self, stroke: float) -> float:
        """Position at the begin of a stage [mm]."""
        if isinstance(self.motion, Press):
            return self.motion.seat(stroke)
        return self.motion(stroke)


@dataclass(frozen=True)
class Pressure:
    """A fluid pressure on one edge: given, as large as a displacement asks for, or along the path.

    Attributes
    ----------
    edge : named edge; the pressure acts from the left of the walk from ``centre`` to ``rim``
        when ``side`` is +1, from the right when it is -1
    given : pressure over the stroke [MPa]
    control : an unknown of the body whose displacement is prescribed instead
    target : that displacement over the stroke [mm]
    unit : pressure that counts as much as a displacement of a thickness, where the stroke is the
        length of way along the path of the body instead, see ``arc.py`` [MPa]
    most : pressure along the path at which an increment ends, however short its way is [MPa]
    """

    edge: str
    side: float
    given: Path | None = None
    control: int = -1
    target: Path | None = None
    unit: float | None = None
    most: float = math.inf

    @property
    def unknown(self) -> bool:
        """Whether the pressure is found along with the displacements."""
        return self.given is None


@dataclass(frozen=True)
class Support:
    """Unknowns of the body with prescribed displacement.

    Attributes
    ----------
    unknowns : (n)
    value : displacement over the stroke, (n) or a number [mm]; None holds them where they are
    """

    unknowns: Ints
    value: Callable[[float], Floats | float] | None = None


@dataclass(frozen=True)
class Tie:
    """A mean displacement that is prescribed, by an unknown force spread in the same pattern.

    A held edge that may still turn and thin, where a support of single nodes would dig in.

    Attributes
    ----------
    pattern : weights of the unknowns, summing to one, (n_unknowns)
    target : mean displacement over the stroke [mm]
    """

    pattern: Floats
    target: Path


@dataclass(frozen=True)
class NodalLoad:
    """Dead forces on the nodes.

    Attributes
    ----------
    force : (n_unknowns) [N]
    factor : multiplier over the stroke
    """

    force: Floats
    factor: Path


@dataclass(frozen=True)
class Scales:
    """Sizes that make every tolerance independent of units and size.

    Attributes
    ----------
    length : sheet thickness or a like length [mm]
    stress : first yield stress or a like stress [MPa]
    """

    length: float
    stress: float

    @property
    def force(self) -> float:
        """Force below which residuals are not measured relatively [N]."""
        return 4.0 * self.stress * self.length**2


@dataclass(frozen=True)
class MaterialData:
    """Material as the kernels want it, see ``stress.respond``."""

    constants: Floats
    table: Floats
    plastic_work: Floats


def material_data(material: Material) -> MaterialData:
    """Kernel form of a material, with its plastic work per volume over the table's strains."""
    table = flow_table(material.flow)
    step = float(np.sqrt(10.0) / (len(table) - 1))
    bulk = material.young / (3 * (1 - 2 * material.poisson))
    shear = material.young / (2 * (1 + material.poisson))
    rate = NO_RATE if material.rate_law is None else material.rate_law.constants
    constants = np.array([3 * bulk, 2 * shear, *hill_weights(material.r_bar), step, *rate])
    strain = (step * np.arange(len(table))) ** 2
    rise = 0.5 * (table[1:, 0] + table[:-1, 0]) * np.diff(strain)
    return MaterialData(constants, table, np.concatenate([[0.0], np.cumsum(rise)]))


@dataclass(frozen=True)
class Tempo:
    """How fast a stage is made, and what its plastic work does; see ``tempo.py``.

    Attributes
    ----------
    speed : of the stage parameter, 0 where rates are too low to count [mm/s]
    heating : by plastic work; None for none
    """

    speed: float = 0.0
    heating: Heating | None = None


@dataclass(frozen=True)
class Problem:
    """One stage as the solver sees it.

    Attributes
    ----------
    body, material : the solid
    scales : for tolerances and first steps
    contact : contact settings
    tools, pressures, supports, ties, loads : what acts on the body; nodes on the axis are held
        radially anyway
    guard : elements at a free rim whose hourglass modes are resisted
    beyond : what the rest of the strip does to the body, when it is a part of one
    tempo : where rate or temperature change the flow stress
    watched : whether every increment tells if its equilibrium is stable, and the first that is
        not is looked for closely
    """

    body: Body
    material: MaterialData
    scales: Scales
    contact: Tuning
    tools: tuple[Tool, ...] = ()
    pressures: tuple[Pressure, ...] = ()
    supports: tuple[Support, ...] = ()
    ties: tuple[Tie, ...] = ()
    loads: NodalLoad | None = None
    guard: Guard | None = None
    beyond: Beyond | None = None
    tempo: Tempo | None = None
    watched: bool = False
    fixed: Ints = field(init=False)

    def __post_init__(self) -> None:
        held = [2 * self.body.axis_nodes(), *(s.unknowns for s in self.supports)]
        object.__setattr__(self, "fixed", np.unique(np.concatenate(held)).astype(np.int64))
