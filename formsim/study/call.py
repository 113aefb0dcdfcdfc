"""One call of a study: plan, folder, engine and what is solved already, brought together."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from formsim.errors import FormsimError
from formsim.study.asked import Asked, check_same, is_same
from formsim.study.conduct import Watch, conduct, solved_rows
from formsim.study.dask import DaskCluster
from formsim.study.engine import Engine
from formsim.study.findings import Findings, findings
from formsim.study.folder import PAGE, SCATTER, SENSITIVITY, StudyFolder, open_study
from formsim.study.foreseen import Foreseen, foresee
from formsim.study.local import LocalWorkers, processors
from formsim.study.plan import Plan, plan_study
from formsim.study.slurm import SlurmArray
from formsim.study.table import StudyTable, write_rows
from formsim.study.words import changed_notes, elsewhere_notes, range_notes

MOST_WORKERS, TASKS = 10_000, 64
"""Most variants at a time, and how many of a scheduler where the call does not say."""


@dataclass(frozen=True)
class Call:
    """A study that is planned and can be conducted.

    Attributes
    ----------
    folder : where it goes, made when it is conducted
    solved : variants an earlier call has solved
    """

    asked: Asked
    plan: Plan
    folder: Path
    engine: Engine
    foreseen: Foreseen
    solved: int

    def conduct(
        self, *, replace: bool = False, watch: Watch | None = None
    ) -> tuple[StudyTable, Findings]:
        """Solve what is not solved yet; returns the table and what it says as a whole."""
        folder = open_study(self.folder)
        check_same(folder, self.asked, replace=replace)
        asked = self.asked.seen_from(self.folder)
        table = conduct(self.plan, folder, self.engine, asked, watch)
        found = findings(self.plan.study, table)
        write_rows(folder, SENSITIVITY, found.sensitivity)
        write_rows(folder, SCATTER, found.scatter)
        return table, found

    def write_page(self) -> str:
        """Write the page of the study; a sentence where that fails, for the numbers are there."""
        try:
            from formsim.study.page.page import write_page

            write_page(self.folder)
        except Exception as error:
            return f"warning: no {PAGE}: {type(error).__name__}: {error}; the numbers are there"
        return ""

    def notes(self) -> list[str]:
        """What to know before anything is solved, in sentences."""
        folder, keys = StudyFolder(self.folder), self.plan.keys
        told = [*range_notes(self.asked.tables), *elsewhere_notes(*folder.solved_by_others(keys))]
        if self.solved < len(keys) and is_same(folder, self.asked):
            told += changed_notes(folder.solved_before(keys), self.asked.case.name)
        return told

    def files(self) -> list[str]:
        """Files and folders of the study that a user may look at."""
        return StudyFolder(self.folder).shown()


def call_of(asked: Asked, into: Path | None, workers: int | None, on: str = "local") -> Call:
    """Plan a study.

    Parameters
    ----------
    into : its folder; None for ``studies/`` and the name of the file
    workers, on : see ``engine_of``

    Raises
    ------
    CaseError : the study cannot be planned
    FormsimError : there is no such engine
    """
    engine = engine_of(on, workers)
    plan = plan_study(asked.study, asked.case, asked.name, asked.lines)
    folder = into or Path("studies") / Path(asked.name).stem
    rows = solved_rows(plan, StudyFolder(folder))
    foreseen = foresee(plan.case, rows.values(), engine.workers)
    return Call(asked, plan, folder, engine, foreseen, len(rows))


def engine_of(on: str, workers: int | None) -> Engine:
    """What solves the variants.

    Parameters
    ----------
    on : ``local`` for this machine, ``slurm`` for a job array, ``tcp://...`` or ``tls://...`` for
        the scheduler of a Dask cluster
    workers : variants at a time; None for as many as there are processors here, 64 tasks of an
        array, or all the cluster has

    Raises
    ------
    FormsimError : there is no such engine, or not so many workers
    """
    if workers is not None and not 1 <= workers <= MOST_WORKERS:
        message = f"--workers {workers}: expected a number from 1 to {MOST_WORKERS}"
        raise FormsimError(message, hint="leave it out for as many as there are processors")
    if on == "local":
        return LocalWorkers(workers or processors())
    if on == "slurm":
        return SlurmArray(workers or TASKS)
    if on.startswith(("tcp://", "tls://")):
        return DaskCluster(on, workers or MOST_WORKERS)
    message = f"--on {on}: expected local, slurm or the address of a Dask scheduler (tcp://...)"
    raise FormsimError(message, hint="leave it out to solve on this machine")
