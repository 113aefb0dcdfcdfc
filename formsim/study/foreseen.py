"""How long a study will take and how much memory it needs, before anything is solved."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from formsim.case.schema import Case
from formsim.stages.grading import grade
from formsim.stages.warmup import is_compiled

MILLISECONDS: Mapping[str, float] = MappingProxyType(
    {
        "draw": 3.5,
        "redraw": 4.0,
        "iron": 12.0,
        "stroke": 25.0,
        "dome": 1.5,
        "trim": 0.2,
        "bake": 0.2,
        "neck": 2.0,
        "flange": 1.5,
        "stretch": 1.5,
        "bulge": 10.0,
    }
)
"""Time of a stage per element, by kind: rounded over the shipped cases, one thread [ms]."""

OTHER = 8.0
"""The same of a kind that is not listed, guessed [ms]."""

BEHIND, START, COMPILING = 0.25, 3.0, 20.0
"""Time of a variant beside its stages: reading, judging, writing; time a worker starts in; time in
which kernels are compiled, once on a machine [s]."""

WORKER, ELEMENT = 0.28, 3.0e-5
"""Memory of a worker, and of an element with the states that are kept of it [GB]."""


@dataclass(frozen=True)
class Foreseen:
    """Time and memory of a study.

    Attributes
    ----------
    seconds : of one variant [s]
    source : where that comes from, in words
    workers : at a time
    memory : of all workers together [GB]
    compiling : time before the first variant, where the kernels are not compiled yet [s]
    """

    seconds: float
    source: str
    workers: int
    memory: float
    compiling: float = 0.0

    def total(self, variants: int) -> float:
        """Time of so many variants, workers started and kernels compiled [s]."""
        return self.compiling + START + self.seconds * math.ceil(variants / self.workers)


def foresee(case: Case, rows: Iterable[Mapping[str, Any]], workers: int) -> Foreseen:
    """Time and memory of variants like a case.

    Parameters
    ----------
    rows : of variants that are solved already, whose mean time is taken
    """
    mesh = grade(case)
    elements = mesh.columns * mesh.layers
    known = [float(row["seconds"]) for row in rows if row.get("status") == "done"]
    compiling = 0.0 if is_compiled() else COMPILING
    memory = workers * (WORKER + ELEMENT * elements)
    if known:
        source = f"the mean of {len(known)} solved"
        return Foreseen(sum(known) / len(known), source, workers, memory, compiling)
    stages = sum(MILLISECONDS.get(stage.kind, OTHER) for stage in case.stages)
    source = "a rough rule (half to three times as long is possible)"
    return Foreseen(BEHIND + 1e-3 * elements * stages, source, workers, memory, compiling)
