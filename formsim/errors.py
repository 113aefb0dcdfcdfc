"""Every error formsim raises on purpose: a message for a person, data for a program."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any


class FormsimError(Exception):
    """Base of all errors a user can cause or cure.

    Attributes
    ----------
    hint : what to try next, one sentence; empty when nothing helps
    exit_code : process exit code the command line uses
    """

    exit_code = 1

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint


@dataclass(frozen=True)
class Fault:
    """One fault of a case file.

    Attributes
    ----------
    key : dotted path of the value, such as ``stage[0].punch.diameter``
    value : what the file says, as text
    expected : what was expected, with unit and range
    line : line number in the file, 0 when unknown
    """

    key: str
    value: str
    expected: str
    line: int = 0

    def __str__(self) -> str:
        where = f"line {self.line}: " if self.line else ""
        shown = f" = {self.value}" if self.value else ""
        return f"{where}{self.key}{shown}: {self.expected}"


class MisfitError(ValueError):
    """Values that are each plausible but do not fit together."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__("; ".join(str(fault) for fault in faults))
        self.faults = tuple(faults)


class CaseError(FormsimError):
    """A case file that cannot be run; carries every fault at once."""

    def __init__(self, source: str, faults: list[Fault], *, hint: str = "") -> None:
        self.source = source
        self.faults = tuple(faults)
        lines = "\n".join(f"  - {fault}" for fault in faults)
        count = f"{len(faults)} fault" + ("s" if len(faults) != 1 else "")
        super().__init__(f"{source}: {count}\n{lines}", hint=hint)


class TensileError(CaseError):
    """Test data that gives no material card; carries every fault at once."""


class GeometryError(FormsimError):
    """Tools or blank that do not fit together."""


class RefusedError(GeometryError):
    """A stage that cannot be made of the sheet it is given; what was made before is on disk."""


class DrawingError(GeometryError):
    """A drawing that gives no tool outline.

    Attributes
    ----------
    file, layer : the drawing and the layer that was asked for
    entity : handle of the entity at fault and, in a polyline, its segment; empty for none
    place : where that is in the drawing ``(x, y)``, in the unit of the drawing; None for nowhere
    """

    def __init__(
        self,
        message: str,
        *,
        file: str,
        layer: str = "",
        entity: str = "",
        place: tuple[float, float] | None = None,
        hint: str = "",
    ) -> None:
        where = f"{file}, layer {layer}" if layer else file
        super().__init__(f"{where}: {message}", hint=hint)
        self.file = file
        self.layer = layer
        self.entity = entity
        self.place = place


class MeshError(FormsimError):
    """A mesh that cannot be made or is inverted."""


class ConvergenceError(FormsimError):
    """One increment did not converge.

    Attributes
    ----------
    reason : one word of the solver: ``iterations``, ``material``, ``singular``
    history : relative residuals of the iterations
    facts : what was found at the worst place (node, radius, height, tool, gap)
    """

    exit_code = 2

    def __init__(
        self,
        message: str,
        *,
        reason: str = "iterations",
        history: tuple[float, ...] = (),
        facts: dict[str, Any] | None = None,
        hint: str = "",
    ) -> None:
        super().__init__(message, hint=hint)
        self.reason = reason
        self.history = history
        self.facts = facts or {}


class StepFloorError(ConvergenceError):
    """The increment fell below its floor; the last accepted state is on disk."""


class StoreError(FormsimError):
    """A result folder that cannot be written or read."""


class DiskFullError(StoreError):
    """There is no room left where a result or a study is written."""


class DependencyError(FormsimError):
    """A library of the system is missing; the hint names the command that installs it."""


class TheoryRangeError(FormsimError):
    """A closed-form estimate asked outside its range of validity."""
