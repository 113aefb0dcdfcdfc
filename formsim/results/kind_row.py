"""What a stage row of the summary holds for some kinds of stage only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from formsim.case.stage import Dome, Flange, Iron, Neck, Pressurise, Stage, Stroke, TopLoad
from formsim.errors import FormsimError
from formsim.results import necking, shape
from formsim.results.flanging import edge_strain, flange_size, total_edge_strain
from formsim.results.forces import peak_pressure
from formsim.results.ironing import ring_figures
from formsim.results.record import Line, StageRecord
from formsim.results.strength import load_figures, pressure_figures
from formsim.results.trimming import trim_loss


def kind_row(
    line: Line,
    record: StageRecord,
    stage: Stage,
    before: Sequence[Stage] = (),
    valley: float = 0.0,
) -> dict[str, Any]:
    """Keys that the kind of a stage adds to its row; lengths in mm, forces in N.

    Parameters
    ----------
    before : stages the sheet went through before this one
    valley : of a trim, how far valleys between ears lie below the rim it was given [mm]
    """
    row: dict[str, Any] = {}
    if isinstance(stage, Iron | Stroke):
        row["rings"] = [asdict(figures) for figures in ring_figures(record, stage)]
    if _is_domed((*before, stage)) and not record.specimen:
        row |= dome_row(record)
    if record.kind == "trim":
        loss = trim_loss(line, record)
        row["trim"] = asdict(loss) | {"valley": valley, "clears": loss.clears(valley)}
    if isinstance(stage, Neck):
        row["neck"] = neck_row(record)
    if isinstance(stage, Flange):
        row["flange"] = flange_row(record)
    if isinstance(stage, Pressurise):
        row["pressurise"] = asdict(pressure_figures(record, stage, before))
    if isinstance(stage, TopLoad):
        row["top_load"] = asdict(load_figures(record, stage, before))
    if record.pressures:
        row["peak_pressure"] = peak_pressure(record)
    return row


def dome_row(record: StageRecord) -> dict[str, float]:
    """Depth of the dome and its stand [mm]; nothing of one that is turned inside out."""
    stand = shape.stand_diameter(record.body, record.final)
    widest = 2.0 * float(record.final.places(record.body)[:, 0].max())
    if stand < shape.RING * widest:
        return {}
    return {"dome_depth": shape.dome_depth(record.body, record.final), "stand_diameter": stand}


def _is_domed(stages: Sequence[Stage]) -> bool:
    """Whether one of the stages has pressed a dome."""
    return any(
        isinstance(stage, Dome) or (isinstance(stage, Stroke) and stage.dome is not None)
        for stage in stages
    )


def neck_row(record: StageRecord) -> dict[str, float | None]:
    """Load of a necking step against what the wall bears, and the cylinder it made, if any."""
    row: dict[str, float | None] = {
        "load": float(necking.axial_load(record).max()),
        "crush_load": necking.crush_load(record),
        "buckling_load": necking.buckling_load(record),
        "load_ratio": necking.load_ratio(record),
    }
    try:
        return row | asdict(necking.neck_size(record.body, record.final))
    except FormsimError:
        return row | dict.fromkeys(("diameter", "thickness", "length"))


def flange_row(record: StageRecord) -> dict[str, float]:
    """Size of a flange and how far its edge was stretched, by this stage and by all."""
    return asdict(flange_size(record.body, record.final)) | {
        "edge_hoop_strain": edge_strain(record),
        "total_edge_hoop_strain": total_edge_strain(record),
    }
