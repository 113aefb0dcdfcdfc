"""Increments in which only the busy columns were solved, and how well that went."""

from __future__ import annotations

from typing import Any

import numpy as np

from formsim.results.record import StageRecord
from formsim.solver.ledger import jump_share
from formsim.solver.state import Sync


def synchronisations(record: StageRecord) -> list[Sync]:
    """Ends of the windows of a stage, in their order."""
    return [row.sync for row in record.increments if row.sync is not None]


def largest_jump(record: StageRecord) -> float:
    """Largest change of a tool force by a synchronisation, over the peak of that tool [-]."""
    syncs = synchronisations(record)
    if not syncs:
        return 0.0
    peaks = np.max([np.abs(row.forces) for row in record.increments], axis=0)
    return jump_share(np.max([sync.jump for sync in syncs], axis=0), peaks)


def window_row(record: StageRecord) -> dict[str, Any]:
    """What ``summary.json`` tells of the windows of a stage."""
    syncs = synchronisations(record)
    increments = sum(sync.increments for sync in syncs)
    columns = sum(sync.columns * sync.increments for sync in syncs) / max(1, increments)
    return {
        "count": len(syncs),
        "increments": increments,
        "undone": sum(row.undone for row in record.increments),
        "mean_columns": columns,
        "largest_jump": largest_jump(record),
    }
