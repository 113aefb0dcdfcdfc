"""What a run leaves behind: states and increments of every stage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from formsim.arrays import Floats
from formsim.material.model import Material
from formsim.results.curve import start_way, starts_flat
from formsim.results.endings import ENDINGS
from formsim.results.history import History
from formsim.solver.body import Body
from formsim.solver.problem import Pressure, Tool
from formsim.solver.state import Increment, State, fresh_state
from formsim.stages.plan import Lid


@dataclass(frozen=True)
class Frame:
    """One kept state.

    Attributes
    ----------
    stage : name of the stage
    phase : ``start``, ``forming`` or ``springback``
    stroke : stage parameter [mm]; during springback the share of the load taken away [-]
    state : the state
    positions : axial position of each tool by name [mm]; empty once the tools have left
    """

    stage: str
    phase: str
    stroke: float
    state: State
    positions: dict[str, float]


@dataclass(frozen=True)
class StageRecord:
    """One stage, finished or stopped.

    Attributes
    ----------
    name, kind : of the stage
    body, material : the sheet as this stage leaves it, trimmed or softened
    frame_tool : tool at rest in the press; travel and work are told relative to it
    tools, pressures : what acted on the sheet, in the order of the increments' arrays
    increments, release : accepted increments under load and during springback; a trim or bake has
        none under load
    frames : kept states in their order, the first one before any contact
    formed, final : last state under load (as cut or baked, held) and state after springback
    seconds : time spent [s]
    specimen : tested until it gave way; the line goes on with a body like it before the test
    gauges : what was read off before the load and at every increment, by name
    lid : what acted for a lid, the ``support`` or the first ``tie``; empty without one
    worst : of a body under test, its state at the largest load; None for other stages
    passed : strokes at which damage passed its limit, see ``Passing``; None where there is none
    spoilt : stage and load at which the body had given way before this one; empty for a sound one
    complete : made to its end, springback included
    ended : reason why it was given up, such as ``torn``; empty where there is none
    """

    name: str
    kind: str
    body: Body
    material: Material
    frame_tool: str
    tools: tuple[Tool, ...]
    pressures: tuple[Pressure, ...]
    increments: tuple[Increment, ...]
    release: tuple[Increment, ...]
    frames: tuple[Frame, ...]
    formed: State
    final: State
    seconds: float
    complete: bool = True
    ended: str = ""
    specimen: bool = False
    gauges: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    lid: Lid = ""
    worst: State | None = None
    passed: Floats | None = None
    spoilt: str = ""

    @property
    def ending(self) -> str:
        """How a stage that was not made to its end did end, for a figure."""
        return ENDINGS.get(self.ended, "aborted")

    @property
    def passed_on(self) -> State:
        """State the next stage receives."""
        return self.frames[0].state if self.specimen else self.final

    @property
    def stroke(self) -> float:
        """Last stroke under load, that of the first frame where there was none [mm]."""
        return self.increments[-1].stroke if self.increments else self.frames[0].stroke

    @property
    def loaded(self) -> str:
        """What ``formed`` shows, in words."""
        made = {"trim": "as cut, held in shape", "bake": "as baked, held in shape"}
        return "under load" if self.increments else made.get(self.kind, "before any load")

    @property
    def condition(self) -> str:
        """What ``final`` shows, in words."""
        if self.specimen and self.complete:
            return f"{self.name}, after it gave way"
        if self.complete:
            return f"{self.name}, {'after springback' if self.release else self.loaded}"
        where = f"at stroke {self.stroke:.3f} mm" if self.increments else "during springback"
        back = ", partly sprung back" if self.release else ""
        return f"{self.name}, stopped {where} ({self.ending}){back}"


@dataclass(frozen=True)
class Line:
    """One sheet and the stages it went through.

    Attributes
    ----------
    blank : the meshed sheet before the first stage of this run
    material : its metal then
    thickness, blank_radius : of the flat blank [mm]; of a tube or cup the radius of a disc of the
        same area
    stages : in their order
    state : of that sheet; None where it is fresh
    blank_volume : of the metal before any stage; None where that is the metal of ``blank`` [mm3]
    before : what stages of earlier results did to the sheet, tests up to a limit left out
    """

    blank: Body
    material: Material
    thickness: float
    blank_radius: float
    stages: tuple[StageRecord, ...]
    state: State | None = None
    blank_volume: float | None = None
    before: tuple[History, ...] = ()

    @property
    def length(self) -> float:
        """Radius of the flat blank, or the length of a tube or cup along its section [mm]."""
        return self.blank_radius if starts_flat(self.blank) else float(start_way(self.blank)[-1])

    @property
    def body(self) -> Body:
        """The sheet as it is now."""
        return self.stages[-1].body if self.stages else self.blank

    def after(self, stages: tuple[StageRecord, ...]) -> Line:
        """The same line with these stages made."""
        return replace(self, stages=stages)

    @property
    def begin(self) -> State:
        """State of the sheet before the first stage of this run."""
        return fresh_state(self.blank) if self.state is None else self.state

    @property
    def metal(self) -> float:
        """Volume of the metal before any stage [mm3]."""
        return float(self.blank.volume.sum()) if self.blank_volume is None else self.blank_volume
