"""What an engineer should know about finished stages beside their numbers."""

from __future__ import annotations

from formsim.case.schema import Case
from formsim.case.stage import Flange, Neck, Pressurise, Stage, TopLoad
from formsim.results.flanging import flange_notes
from formsim.results.necking import neck_notes
from formsim.results.record import Line, StageRecord
from formsim.results.strength import load_notes, pressure_notes


def line_notes(case: Case, line: Line) -> list[str]:
    """Notes on all finished stages, each with the name of its stage."""
    return [
        f"{record.name}: {note}"
        for record, stage in zip(line.stages, case.stages, strict=False)
        if record.complete
        for note in _notes(record, stage)
    ]


def _notes(record: StageRecord, stage: Stage) -> tuple[str, ...]:
    match stage:
        case Neck():
            return neck_notes(record, stage)
        case Flange():
            return flange_notes(record, stage)
        case Pressurise():
            return pressure_notes(record, stage)
        case TopLoad():
            return load_notes(record)
        case _:
            return ()
