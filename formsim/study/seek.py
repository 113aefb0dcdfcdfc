"""A search conducted: rounds of a study, each with the variants that the last one suggests."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from formsim.case.study import build_study, load_study
from formsim.case.toml_text import toml_text
from formsim.case.units import split_text
from formsim.errors import CaseError, FormsimError, StoreError
from formsim.results.kept_drawings import way_to
from formsim.study.asked import Asked
from formsim.study.call import engine_of
from formsim.study.conduct import Watch, conduct, solved_rows
from formsim.study.confirm import Confirmed, check_finer, confirm
from formsim.study.engine import Engine
from formsim.study.folder import FINER_MESH, JOB, SEARCH, STUDY, StudyFolder, open_study
from formsim.study.foreseen import Foreseen, foresee
from formsim.study.plan import Plan, plan_study
from formsim.study.search import next_places, width_of
from formsim.study.sought import Sought, study_tables
from formsim.study.sought_read import sought_of
from formsim.study.table import table_of
from formsim.study.trial import Trial, best_of, trials_of
from formsim.study.words import elsewhere_notes

UNITS = (
    'numbers are in the unit of the key, or write "6:12 kN"; whole numbers need a step:'
    ' "mesh.columns = 80:120:20"'
)


@dataclass(frozen=True)
class Found:
    """What a search has come to.

    Attributes
    ----------
    plan : of all its variants
    trials : in the order they were chosen
    settled : whether it ended by itself and not with its budget
    within : wanted width of what is preferred, as ``Trial.wish`` has it
    earlier : variants that an earlier call had solved
    files : of its folder that a user may look at
    confirmed : the answer on a finer mesh; None where that was not asked for, or there is none
    """

    sought: Sought
    plan: Plan
    trials: tuple[Trial, ...]
    settled: bool
    within: float
    earlier: int
    files: tuple[str, ...]
    confirmed: Confirmed | None = None

    @property
    def best(self) -> Trial | None:
        """The preferred variant of those that fulfil; None where none does."""
        return best_of(self.trials)

    @property
    def holds(self) -> bool:
        """Whether something was found and, where that was tried, holds on a finer mesh too."""
        confirmed = self.confirmed
        return self.best is not None and (confirmed is None or confirmed.trial.fulfils)


@dataclass(frozen=True)
class Preview:
    """What a search would do.

    Attributes
    ----------
    plan : of the variants solved by an earlier call and those tried next
    trials : solved by an earlier call
    first : values tried next; none where the search has settled
    within : wanted width of what is preferred, as ``Trial.wish`` has it
    notes : what to know before
    """

    sought: Sought
    plan: Plan
    trials: tuple[Trial, ...]
    first: tuple[tuple[float, ...], ...]
    within: float
    foreseen: Foreseen
    notes: tuple[str, ...]

    @property
    def seconds(self) -> float:
        """Time the search takes at most: the first together, the others one by one [s]."""
        left = max(self.sought.most - len(self.trials), 0)
        together = min(len(self.first), left)
        rounds = math.ceil(together / self.foreseen.workers) + left - together
        return self.foreseen.total(self.foreseen.workers * rounds)


@dataclass(frozen=True)
class Search:
    """A search that can be conducted.

    Attributes
    ----------
    folder : where its study goes
    confirms : whether the answer is solved once more on a finer mesh
    """

    sought: Sought
    folder: Path
    engine: Engine
    confirms: bool = False

    def preview(self) -> Preview:
        """What would be tried next, and how long the search takes at most; nothing is solved."""
        numbers, solved = self._earlier()
        folder, trials = StudyFolder(self.folder), list[Trial]()
        rows: dict[str, dict[str, Any]] = {}
        new: list[tuple[float, ...]] = []
        if solved:
            plan = self._planned(numbers)[1]
            rows = solved_rows(plan, folder)
            every = trials_of(self.sought, plan, table_of(plan, rows), numbers)
            new = [one.numbers for one in every if one.status == "waiting"]
            trials = [one for one in every if one.status != "waiting"]
        first = new or self._new([one.numbers for one in trials], trials)
        plan = self._planned([*(one.numbers for one in trials), *first])[1]
        self._check(plan)
        elsewhere = elsewhere_notes(*folder.solved_by_others(plan.keys))
        foreseen = foresee(plan.case, rows.values(), self.engine.workers)
        again = ["the answer is then solved once more, on a finer mesh"] if self.confirms else []
        notes = (*self.sought.notes, *elsewhere, *again)
        within = width_of(self.sought, trials)
        return Preview(self.sought, plan, tuple(trials), tuple(first), within, foreseen, notes)

    def _check(self, plan: Plan) -> None:
        if self.confirms:
            check_finer(self.sought, plan.case)

    def notes(self) -> list[str]:
        """What to know before anything is solved, in sentences."""
        return list(self.sought.notes)

    def conduct(self, *, replace: bool = False, watch: Watch | None = None) -> Found:
        """Solve round after round until the search is settled or its budget is spent.

        Raises
        ------
        CaseError : inputs or measures the case does not have, or no variant that can be run
        StoreError : the folder holds something else
        """
        numbers, earlier = self._earlier()
        trials: list[Trial] = []
        plan, new = None, numbers
        while new := new or self._new(numbers, trials):
            numbers = [*numbers, *(one for one in new if one not in numbers)]
            asked, planned = self._planned(numbers)
            if plan is None:
                self._check(planned)
                self._open(replace=replace)
            plan, new = planned, []
            folder, seen = StudyFolder(self.folder), asked.seen_from(self.folder)
            table = conduct(plan, folder, self.engine, seen, watch)
            trials = trials_of(self.sought, plan, table, numbers)
        if plan is None:
            plan = self._planned(numbers)[1]
        settled = not self._new(numbers, trials, most=len(numbers) + 1)
        within = width_of(self.sought, trials)
        best, confirmed = best_of(trials), None
        if self.confirms and best is not None:
            into = self.folder / FINER_MESH
            confirmed = confirm(self.sought, best, plan, into, self.engine, watch)
        files = tuple(StudyFolder(self.folder).shown())
        every = tuple(trials)
        return Found(self.sought, plan, every, settled, within, earlier, files, confirmed)

    def _earlier(self) -> tuple[list[tuple[float, ...]], int]:
        """Values an earlier call of this search has tried, and how many of them are solved.

        None where nothing of them holds any more, as with a changed case.
        """
        if _kept(self.folder) != self._known_by():
            return [], 0
        try:
            study = load_study(self.folder / STUDY)[0]
        except FormsimError:
            return [], 0
        levels = [list(map(_plain, one.levels)) for one in study.vary]
        numbers = list(zip(*levels, strict=True))
        plan = self._planned(numbers)[1]
        solved = len(solved_rows(plan, StudyFolder(self.folder)))
        return (numbers, solved) if solved else ([], 0)

    def _known_by(self) -> dict[str, Any]:
        """What makes a search another one; how close and how many runs does not."""
        return {"case": way_to(self.sought.case, self.folder), **self.sought.tables}

    def _new(
        self, numbers: Sequence[tuple[float, ...]], trials: Sequence[Trial], most: int = 0
    ) -> list[tuple[float, ...]]:
        """Values to try next that were not tried, as many as the budget leaves."""
        places = next_places(self.sought, trials)
        changes = self.sought.changes
        made = [tuple(c.number(x) for c, x in zip(changes, p, strict=True)) for p in places]
        fresh = [one for one in dict.fromkeys(made) if one not in numbers]
        return fresh[: max((most or self.sought.most) - len(numbers), 0)]

    def _planned(self, numbers: Sequence[tuple[float, ...]]) -> tuple[Asked, Plan]:
        """The study of all values so far."""
        tables = study_tables(self.sought, numbers)
        name = "seek"
        study = build_study(tables, name)
        asked = Asked(study, tables, self.sought.case, name)
        try:
            return asked, plan_study(study, self.sought.case, name)
        except CaseError as error:
            raise CaseError(error.source, list(error.faults), hint=error.hint or UNITS) from None

    def _open(self, *, replace: bool) -> None:
        """Make the folder, or go on in that of the same search.

        Raises
        ------
        StoreError : the folder holds another search, another study or something else
        """
        folder = open_study(self.folder)
        asked = self._known_by()
        if (self.folder / JOB).is_file() and not replace and _kept(self.folder) != asked:
            message = f"{self.folder} holds another search or study than this one"
            hint = "choose another folder with --into, or --replace it; what is solved is kept"
            raise StoreError(message, hint=hint)
        folder.write(SEARCH, toml_text(asked))


def _kept(folder: Path) -> dict[str, Any]:
    """The search a folder holds; empty for none that can be read."""
    try:
        return tomllib.loads((folder / SEARCH).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}


def _plain(value: Any) -> float:
    """Number of a value as a search writes it, its unit left out."""
    return split_text(value)[0] if isinstance(value, str) else float(value)


def search_of(options: Mapping[str, Any]) -> Search:
    """The search a call asks for.

    Raises
    ------
    CaseError : with every fault of the options
    FormsimError : there is no such engine
    """
    engine = engine_of(options["on"], options["workers"])
    sought = sought_of(options)
    folder = options["into"] or Path("studies") / f"{sought.case.stem}-seek"
    return Search(sought, folder, engine, options["confirm"])
