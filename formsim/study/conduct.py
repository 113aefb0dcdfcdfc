"""Conducts a study: what is solved already stays, the rest is handed to an engine."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from formsim.errors import DiskFullError, StoreError
from formsim.study.engine import BEGUN, ENDED, FULL, Engine, Event
from formsim.study.folder import RULES, Job, StudyFolder, locked, write_job
from formsim.study.handbook import handbook_rows
from formsim.study.plan import Plan
from formsim.study.room import is_scarce, no_room
from formsim.study.table import StudyTable, table_of, write_rows, write_table
from formsim.study.wanted import name_of

TRIES = 2
"""How often a variant is begun before it is told as failed."""

_LEVELS = ("summary", "curves", "history")


@dataclass(frozen=True)
class Standing:
    """How far a study has come, for whoever watches it.

    Attributes
    ----------
    count, done : variants to solve, and those solved, by an earlier call too
    running : being solved now
    troubled : solved ones that did not come to their end
    left : estimated time [s]; None before the first variant
    """

    count: int
    done: int
    running: int
    troubled: int
    left: float | None


Watch = Callable[[Standing], None]


def conduct(
    plan: Plan,
    folder: StudyFolder,
    engine: Engine,
    asked: Mapping[str, Any],
    watch: Watch | None = None,
) -> StudyTable:
    """Solve all variants of a plan that no earlier call has solved; returns the table.

    Parameters
    ----------
    asked : the study file as nested tables, kept in the folder
    watch : called whenever a variant begins or ends

    Raises
    ------
    StoreError : the folder cannot be written, or another call works on it
    DiskFullError : no room is left; what was solved stays
    KeyboardInterrupt : stopped by hand; what was solved stays
    """
    with locked(folder):
        job = Job(plan.folder, plan.study.keep, plan.wanted, plan.study.longest)
        write_job(folder, job, asked, {one.key: one.text for one in plan.variants if one.key})
        write_rows(folder, RULES, handbook_rows(plan.broken))
        folder.drop_said()
        conductor = _Conductor(plan, folder, watch)
        try:
            conductor.solve(engine)
        except BaseException as error:
            conductor.leave()
            if isinstance(error, DiskFullError):
                raise no_room(folder, str(error), conductor.left) from error
            raise
        folder.clear_scratch()
        folder.drop_said(empty_only=True)
        return conductor.write()


def solved_rows(plan: Plan, folder: StudyFolder) -> dict[str, dict[str, Any]]:
    """Rows of those variants that need not be solved again, by key."""
    rows = {key: folder.row(key) for key in plan.keys}
    return {key: row for key, row in rows.items() if row and _suffices(row, plan)}


def _suffices(row: Mapping[str, Any], plan: Plan) -> bool:
    """Whether a row holds what the study wants.

    What failed by itself is tried anew, and what was stopped where it may take longer now.
    """
    if row["status"] == "failed":
        return False
    if "longest" in row:
        return plan.study.longest is not None and row["longest"] >= plan.study.longest
    kept = str(row.get("keep", ""))
    enough = kept in _LEVELS and _LEVELS.index(kept) >= _LEVELS.index(plan.study.keep)
    names = {name_of(one) for one in plan.wanted}
    return enough and (row["status"] != "done" or names <= set(row["measures"]))


class _Conductor:
    """Keeps count of variants while an engine works."""

    def __init__(self, plan: Plan, folder: StudyFolder, watch: Watch | None) -> None:
        self.plan, self.folder, self.watch = plan, folder, watch
        self.rows = solved_rows(plan, folder)
        self.running: set[str] = set()
        self.lost: dict[str, str] = {}
        self.begin, self.solved = time.perf_counter(), 0

    def solve(self, engine: Engine) -> None:
        """Have everything solved that is not, and tell what could not be."""
        self.write()
        for _ in range(TRIES):
            waiting = [key for key in self.plan.keys if key not in self.rows]
            if waiting:
                self._round(engine, waiting)
        for key in self.plan.keys:
            if key not in self.rows:
                reason = f"begun {TRIES} times; {self.lost.get(key, 'no worker answered')}"
                row = {"status": "failed", "reason": reason}
                self.folder.write_row(key, row)
                self.rows[key] = row

    def _round(self, engine: Engine, keys: Sequence[str]) -> None:
        events = engine.solve(self.folder.path, keys)
        try:
            for event in events:
                if event.what == BEGUN:
                    self.running.add(event.key)
                else:
                    self._ended(event)
                self._tell()
        finally:
            close = getattr(events, "close", None)
            if close is not None:
                close()

    def _ended(self, event: Event) -> None:
        key, lost = event.key, event.what != ENDED
        if event.what == FULL or (lost and is_scarce(self.folder)):
            raise DiskFullError(event.why)
        self.running.discard(key)
        row = None if lost else self.folder.row(key)
        if row is None:
            self.lost[key] = event.why or "its worker wrote no row"
            return
        self.rows[key] = row
        self.solved += 1
        self.write()

    @property
    def left(self) -> int:
        """How many variants are not solved."""
        return len(self.plan.keys) - len(self.rows)

    def leave(self) -> None:
        """Leave what was solved, its table and nothing half made; a full disk keeps the old one."""
        self.folder.clear_scratch()
        # A worker may have ended its variant while its engine was being stopped.
        self.rows |= solved_rows(self.plan, self.folder)
        with suppress(StoreError):
            self.running.clear()
            self.write()

    def write(self) -> StudyTable:
        """Write the table as it stands."""
        table = table_of(self.plan, self.rows, frozenset(self.running))
        write_table(self.folder, table)
        return table

    def _tell(self) -> None:
        if self.watch is None:
            return
        count, done = len(self.plan.keys), len(self.rows)
        spent, left = time.perf_counter() - self.begin, None
        if self.solved:
            left = spent / self.solved * max(count - done, 0)
        troubled = sum(row["status"] != "done" for row in self.rows.values())
        self.watch(Standing(count, done, len(self.running), troubled, left))
