"""Why a run ended before its last stage, in words that name the stage and what to try."""

from __future__ import annotations

from formsim.case.stage import Iron, Stage, Stroke
from formsim.errors import ConvergenceError, FormsimError, RefusedError
from formsim.pipeline.making import Maker
from formsim.results import store
from formsim.results.endings import ENDINGS
from formsim.results.ironing import last_stress_ratio
from formsim.results.record import StageRecord
from formsim.results.summary import Stop
from formsim.results.zones import Thinnest, thinnest
from formsim.stages.pressurise import BURST

TORN = 30.0
"""Thinning beyond which a stage that finds no equilibrium is called torn [%]."""

LESS_STRAIN = "smaller blank, larger radii, less holder force or friction"


def interrupted(stage: Stage, maker: Maker) -> str:
    """Where a run was stopped by hand."""
    where = f'interrupted in stage "{stage.name}"'
    if not maker.rows:
        return f"{where} before its first increment"
    during = " during springback, after" if maker.free else " at"
    return f"{where}{during} stroke {maker.rows[-1].stroke:.3f} mm"


def refused(error: FormsimError, stage: Stage) -> tuple[Stop, RefusedError]:
    """The same error as that of a stage that cannot be made, naming its stage."""
    text = f'stage "{stage.name}": {error}'
    located = RefusedError(text, hint=error.hint)
    located.__cause__ = error
    return Stop("refused", text, error.hint), located


def given_up(
    error: ConvergenceError, maker: Maker, folder: store.Folder | None
) -> tuple[Stop, ConvergenceError]:
    """The same error, naming its stage, a torn sheet, and where the last state lies."""
    stage, before = maker.case.stages[maker.number], maker.case.made_before(maker.number)
    kept = f"; the last accepted state is {folder.path / store.LAST_STATE}" if folder else ""
    hint, place = error.hint, thinnest(maker.sheet.body, maker.sheet.state, stage, before)
    text = f'stage "{stage.name}"{":" if error.reason == BURST else ""} {error}'
    if error.reason == "torn":
        hint, text = LESS_STRAIN, _torn_text(error, stage, place)
        text += _stress_text(stage, maker.record)
    elif error.reason == "broken":
        by_volume = f"thickness by volume; {_least_text(place)}{_stress_text(stage, maker.record)}"
        text = f'stage "{stage.name}": {error} ({by_volume})'
    elif error.reason not in ENDINGS and place.thinning_percent > TORN:
        hint = (
            f"the sheet has thinned by {place.thinning_percent:.0f} % in the {place.zone}"
            f" (R = {place.original_radius:.1f} mm of the blank) and tears there: {LESS_STRAIN}"
        )
    located = type(error)(
        text + kept,
        reason=error.reason,
        history=error.history,
        facts={**error.facts, "stage": stage.name},
        hint=hint,
    )
    located.__cause__ = error
    ended = error.reason if error.reason in ENDINGS else "no equilibrium"
    return Stop(ended, str(located), hint), located


def _torn_text(error: ConvergenceError, stage: Stage, place: Thinnest) -> str:
    """Where the sheet has torn, by the column that tore and by the thinnest place of the table."""
    facts = error.facts
    return (
        f'stage "{stage.name}": the sheet has torn in the {place.zone},'
        f" stroke {facts['stroke']:.4f} mm; the column that tore, at R = {facts['radius']:.1f} mm"
        f" of the blank, has {100.0 * facts['left']:.0f} % of the thickness it had before the"
        " stage, mean by volume; of the thinnest line of the table, which may lie beside it,"
        f" {_least_text(place)}"
    )


def _least_text(place: Thinnest) -> str:
    """The thinnest place, as the table tells it."""
    measured = "by volume, as the sheet is kinked there," if place.kinked else "along the normal"
    return (
        f"{measured} the least is {place.thickness:.4f} mm at R = {place.original_radius:.1f}"
        f" mm, {place.thinning_percent:.0f} % thinner than the sheet at first"
    )


def _stress_text(stage: Stage, record: StageRecord | None) -> str:
    """Stress of the wall behind the most loaded ring, where rings broke the wall."""
    if record is None or not isinstance(stage, Iron | Stroke):
        return ""
    found = last_stress_ratio(record, stage)
    if found is None:
        return ""
    return f"; axial stress of the wall behind {found[0]} at last {found[1]:.2f} of its strength"
